"""What goes into the beds each season, said on the page; and the order for all beds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.wrappers import Response as Answer

from forecaster import book as kept
from forecaster.ground.errors import InputError
from forecaster.page.views.common import Here, bed_named, garden
from forecaster.page.views.week import plan_of

if TYPE_CHECKING:
    from forecaster.book.wants import Season
    from forecaster.plan.order import Order

views = Blueprint("goes", __name__)
LONGEST_NUMBER = 6  # digits


def lines_of(book: kept.Book, here: Here) -> list[tuple[kept.Want, str]]:
    """Return what goes into a bed, each with its words."""
    from forecaster.words.season import want_line

    held = kept.wants(book, here.bed.name)
    return [(one, want_line(one).partition(", ")[2]) for one in held]


@views.post("/goes")
def add() -> Answer:
    """Write down what goes into a bed in a season."""
    from urllib.parse import quote

    form = request.form
    with garden().open() as book:
        here = bed_named(book, form.get("bed"))
        what, variety = form.get("what", "").strip(), form.get("variety", "").strip()
        season: Season = "spring" if form.get("season") == "spring" else "autumn"
        with book.batch("want", what or "nothing") as batch:
            if form.get("drop") == "yes":
                kept.drop_want(batch, here.bed.name, season, what, variety)
            else:
                one = kept.Want(
                    bed=here.bed.name, season=season, what=what, variety=variety,
                    plants=_many(form.get("plants", "").strip()),
                )  # fmt: skip
                kept.add_want(batch, one)
    return redirect(f"/materials?bed={quote(here.bed.name, safe='')}&season={season}", 303)


def _many(text: str) -> int | None:
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or len(text) > LONGEST_NUMBER:
        raise InputError(f"{text!r:.20} is no number of plants; write 48, or leave it empty")
    return int(text)


@views.get("/order")
def order() -> str:
    """Show what to order for all beds, in one list."""
    from forecaster.words.orders import order_text

    made, heres = _order()
    today = heres[0].now.date() if heres else garden().now().date()
    return render_template("order.html", text=order_text(made, today, 40), here="materials")


@views.get("/order.csv")
def table() -> Response:
    """Give the same as a table."""
    from forecaster.words.orders import order_csv

    named = {"Content-Disposition": 'attachment; filename="order.csv"'}
    return Response(order_csv(_order()[0]), mimetype="text/csv", headers=named)


def _order() -> tuple[Order, list[Here]]:
    from forecaster.plan.order import order_for

    with garden().open() as book:
        heres = [bed_named(book, bed.name) for bed in kept.beds(book)]
        return order_for([plan_of(book, here) for here in heres]), heres
