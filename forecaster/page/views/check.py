"""How good here: past seasons forecast again, with what was known then, in the background."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.page.views.beds import PICTURE_RULES
from forecaster.page.views.common import bed_named, garden
from forecaster.page.work import Work

if TYPE_CHECKING:
    from forecaster.answers.record import Record
    from forecaster.words import Checked
    from forecaster.words.phrases import Show

views = Blueprint("check", __name__)
SEASONS = 10


_works: dict[tuple[str, str], tuple[Hashable, Work[Checked]]] = {}
"""By book and bed: what the book said of the bed when it began, and the check."""


def _work_of(book: kept.Book, bed: str) -> Work[Checked] | None:
    """Return the check of a bed that runs, or is done and still of what the book says."""
    state, work = _works.get((str(book.path), bed), (None, None))
    if work is None or work.running or state == garden().touched.state(book, bed):
        return work
    return None


@views.get("/check")
def check() -> str:
    """Show the check of a bed: not begun, how far it is, or what it found."""
    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        beds = kept.beds(book)
        work = _work_of(book, here.bed.name)
    running = work is not None and work.running  # as it stood just now: it may be over soon
    found = None if work is None or running else work.found
    verdict, truth, table = _told(found, here.show) if found else ("", "", "")
    part = request.headers.get("HX-Request") == "true"
    return render_template(
        "checking.html" if part else "check.html",
        at=here, beds=beds, work=work, running=running, verdict=verdict, truth=truth, table=table,
        here="check",
    )  # fmt: skip


def _told(found: Checked, show: Show) -> tuple[str, str, str]:
    """Return the verdict on the first threshold, where the true dates come from, and all of it."""
    from forecaster.words.check import checked_text, first_sentence, truth_words, verdict_words

    done = found.hindcast
    cells = [one for one in done.cells if one.threshold == done.cells[0].threshold]
    verdict = f"{verdict_words(cells)} {first_sentence(done)}" if cells else first_sentence(done)
    return verdict, truth_words(done), checked_text(found, 78, show)


@views.post("/check")
def begin() -> Answer:
    """Begin a check, or stop the one that runs."""
    with garden().open() as book:
        here = bed_named(book, request.form.get("bed"))
        work = _work_of(book, here.bed.name)
        if work is not None and work.running:
            if request.form.get("stop") == "yes":
                work.leave()
        else:
            record = garden().record(book, here.bed.name)
            begun = Work["Checked"]()
            state = garden().touched.state(book, here.bed.name)
            _works[str(book.path), here.bed.name] = state, begun
            begun.begin(lambda: _checked(begun, record))
    return redirect(f"/check?bed={_quoted(here.bed.name)}", 303)


def _quoted(name: str) -> str:
    from urllib.parse import quote

    return quote(name, safe="")


def _checked(work: Work[Checked], record: Record) -> Checked:
    """Forecast the past seasons; stopped, those that are done count."""
    from forecaster.answers.check import hindcast
    from forecaster.words import Checked

    found = hindcast(*record.known(), seasons=SEASONS, progress=work.step)
    return Checked(found, record.site, record.accounts, record.notes)


@views.get("/check/picture")
def picture() -> Response:
    """Give the check as a picture."""
    from forecaster.charts.check import build_check, describe_check
    from forecaster.charts.save import svg

    with garden().open() as book:
        here = bed_named(book, request.args.get("bed"))
        work = _work_of(book, here.bed.name)
    if work is None or work.found is None or not work.found.hindcast.cells:
        raise InputError("there is no finished check of this bed")
    with garden().lock:
        drawn = svg(build_check(work.found), "How good here", describe_check(work.found))
    rules = {"Content-Security-Policy": PICTURE_RULES}
    return Response(drawn, mimetype="image/svg+xml", headers=rules)
