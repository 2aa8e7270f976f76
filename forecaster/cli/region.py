"""`crossday region`: the same question asked of many places, as a table and a map."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Self, TextIO

import click

from forecaster.cli.check import LEADS
from forecaster.cli.command import command
from forecaster.cli.crops import take_crops
from forecaster.cli.door import ANSWERED, INTERRUPTED
from forecaster.cli.kinds import DATE
from forecaster.cli.options import CROPS, PLACE, takes
from forecaster.cli.output import FORCE, check_picture, drawn, target
from forecaster.cli.place import thresholds_asked
from forecaster.cli.screen import uncleaned

if TYPE_CHECKING:
    from forecaster.ground.files import Target
    from forecaster.region import Question, RegionPlace
    from forecaster.region.run import Run

FEW_PLACES = 12
"""So few are asked sooner in this process than workers start."""
EXTRA = "crossday region needs more packages; install them with: pip install 'crossday[region]'"
SAID_HERE = (
    "files", "bed", "lat", "lon", "readings", "readings_units", "clock", "columns", "probe",
    "outlook",
)  # fmt: skip
"""Rows of PLACE that belong to one place."""


@command()
@click.argument("places", required=False, metavar="[PLACES]")
@takes(PLACE, without=SAID_HERE)
@takes(CROPS, without=("sown",))
@click.option(
    "--by", type=DATE, metavar="YYYY-MM-DD", help="Also give the chance by the end of this day."
)
@click.option(
    "--out", default="region.csv", show_default=True, metavar="FILE",
    help="The table: .csv, .json or .parquet.",
)  # fmt: skip
@click.option(
    "--map", "picture", metavar="PICTURE",
    help="Draw a map: .png or .svg; a description goes beside it as .txt.",
)  # fmt: skip
@click.option(
    "--colour", type=click.Choice(["date", "usual"]), default="date", show_default=True,
    help="What the map's places are coloured by: their date, or days against their usual.",
)  # fmt: skip
@click.option(
    "--check", is_flag=True, help="Forecast past seasons of every place and sum the scores."
)
@click.option(
    "--seasons", type=click.IntRange(min=1), metavar="N", help="With --check: the latest N only."
)
@LEADS
@click.option(
    "--workers", type=click.IntRange(0, 4096), metavar="N",
    help="Processes on this computer; 0 for none but this. Default: as cores and memory allow.",
)  # fmt: skip
@click.option(
    "--cluster",
    metavar="WHERE",
    help="A Dask cluster that runs: its scheduler's address, as tcp://10.0.0.5:8786, or file.",
)
@click.option(
    "--limit", type=click.FloatRange(min=1.0), default=120.0, show_default=True,
    metavar="SECONDS", help="Longest that one place may take.",
)  # fmt: skip
@click.option("--resume", is_flag=True, help="Go on with a run that was stopped.")
@click.option("--anew", is_flag=True, help="Forget a run that was stopped.")
@click.option("--json", "as_json", is_flag=True, help="Answer for a program, besides the table.")
@FORCE
def region(
    places: str | None,
    *,
    out: str,
    picture: str | None,
    colour: str,
    workers: int | None,
    cluster: str | None,
    limit: float,
    resume: bool,
    anew: bool,
    as_json: bool,
    force: bool,
    **options: Any,
) -> int:
    """Ask many places at once when the soil crosses a threshold, or when a crop can go in.

    PLACES is a folder of station files, a file or folder each, or a CSV table of places with
    the columns name and file (or station: a file's name beside the table), and if you like
    latitude, longitude, depth, soil, cover, readings, region. Without PLACES, the beds of the
    garden book. The answers are those of "crossday when", place by place.

    Ctrl-C keeps what is done; --resume goes on. Many places are asked by a process for each
    core, or by the workers of a Dask cluster.
    """
    from pathlib import Path

    _needs_extra()
    if workers is not None and cluster is not None:
        raise click.UsageError("--workers are of this computer, --cluster has its own; give one.")
    check, show, book = options["check"], options["show"].upper(), options.pop("book")
    question = _question(options)
    found = _places(places, book)
    read = _read(found, places, book)
    for option, path in (("--out", out), ("--map", picture)):
        _not_among(places, path, option)
    table = _table_target(out, read, force=force)
    if picture is not None:
        if check or len(question.thresholds or question.crops) != 1:
            raise click.UsageError(
                "--map shows the dates of one question; name one --threshold or one --crop."
            )
        check_picture(picture, option="--map", read=read, force=force)
    from forecaster.region.run import begin

    run = begin(Path(out), found, question, resume=resume, anew=anew)
    _go(run, workers, cluster, limit)
    _say(run, table, show=show, as_json=as_json)
    if picture is not None:
        from forecaster.charts.region_map import draw_region

        beside = draw_region(
            run.table(),
            picture,
            by=colour,  # type: ignore[arg-type]
            show=show,
            inputs=read,
            force=force,
        )
        click.echo(drawn(picture, beside), err=as_json)
    if run.complete:
        run.parts.remove()
        return ANSWERED
    left = len(run.places) - run.done
    click.echo(f"Stopped: {run.done:,} done, {left:,} left; go on with --resume.", err=True)
    return INTERRUPTED


def _needs_extra() -> None:
    from importlib.util import find_spec

    if any(find_spec(name) is None for name in ("dask", "distributed", "pyarrow")):
        raise click.UsageError(EXTRA)


def _question(options: dict[str, Any]) -> Question:
    """Return what is asked of every place."""
    from datetime import date

    from forecaster.ground.units import parse_length
    from forecaster.region import Question

    own = options.get("crops")
    told = {name: options.pop(name) for name in ("seasons", "check", "leads_days", "by", "today")}
    del options["show"]
    _, asked = take_crops((), options)
    named = {name: options.pop(name) for name in ("crop_class", "threshold", "direction")}
    depth = options.pop("depth")
    for name in ("by", "today"):
        told[name] = told[name].date() if told[name] else None
    crops: dict[str, Any] = {}
    if asked is not None:
        crops = {
            "crops": tuple(crop.name for crop in asked.crops), "wish": asked.wish,
            "own_crops": own or "",
        }  # fmt: skip
    return Question(
        thresholds=() if asked is not None else tuple(thresholds_asked(**named)),
        now=date.today(),
        depth_m=parse_length(depth) if depth else None,
        **crops,
        **told,
        **options,
    )


def _places(places: str | None, book: str | None) -> list[RegionPlace]:
    from forecaster.region import places_at, places_of_book

    if places is not None and book is not None:
        raise click.UsageError("give PLACES, or a garden book with --book; not both.")
    if places is not None:
        return places_at(places)
    from forecaster.book import default_path

    if book is None and not default_path().exists():
        raise click.UsageError("name PLACES: a folder of station files, or a table of places.")
    found = places_of_book(book)
    if not found:
        raise click.UsageError("the garden book has no bed yet: crossday book bed NAME")
    return found


def _read(found: Sequence[RegionPlace], places: str | None, book: str | None) -> list[str]:
    """Return the files that are read and must stay."""
    from pathlib import Path

    from forecaster.region.places import table_in

    files = {path for one in found for path in (one.air, one.readings) if path}
    named = [Path(path) for path in (places, book) if path is not None]
    tables = [table_in(path) if path.is_dir() else path for path in named]
    return [*files, *(str(path) for path in tables if path is not None)]


def _not_among(places: str | None, path: str | None, option: str) -> None:
    """Refuse a file in a plain folder of stations: it would be read as one the next time."""
    from pathlib import Path

    from forecaster.region.places import table_in

    if places is None or path is None or not Path(places).is_dir() or table_in(Path(places)):
        return
    if Path(path).resolve().parent == Path(places).resolve():
        raise click.UsageError(
            f"{option} {path!r} would lie among the stations of {places!r} and be read as one; "
            "name another folder, as ../region.csv."
        )


def _table_target(out: str, read: Sequence[str], *, force: bool) -> Target:
    from pathlib import Path

    from forecaster.ground import files

    marks = {".csv": files.TABLE, ".json": files.ANSWER, ".parquet": files.PARQUET}
    mark = marks.get(Path(out).suffix.lower())
    if mark is None:
        raise click.UsageError(f"--out {out!r}: expected a name in .csv, .json or .parquet.")
    return target(out, mark, read=read, force=force)


def _go(run: Run, workers: int | None, cluster: str | None, limit: float) -> None:
    """Ask the places that are left; Ctrl-C ends it early."""
    with Progress(uncleaned(sys.stderr), run.done) as progress:
        try:
            with _client(len(run.left), workers, cluster) as client:
                run.go(client, limit_s=limit, progress=progress)
        except KeyboardInterrupt:
            return


@contextmanager
def _client(places: int, workers: int | None, cluster: str | None) -> Iterator[Any]:
    """Bring workers, where they are worth it."""
    from forecaster.region import local_cluster, running_cluster

    if cluster is not None:
        with running_cluster(cluster) as client:
            yield client
    elif workers == 0 or (workers is None and places <= FEW_PLACES):
        yield None
    else:
        with local_cluster(workers) as client:
            yield client


def _say(run: Run, out: Target, *, show: str, as_json: bool) -> None:
    """Write the table, and say what it comes to."""
    import shutil

    from forecaster.ground import files
    from forecaster.region.parts import parquet_bytes
    from forecaster.words import region as words

    table, ending = run.table(), out.path.suffix.lower()
    content = parquet_bytes(table) if ending == ".parquet" else words.table_bytes(table, ending)
    files.write([(out, content)])
    scores = None
    if run.question.check:
        from forecaster.region.scores import summed

        scores = summed(table.to_pandas())
    if as_json:
        from forecaster.words.as_json import json_text

        click.echo(json_text(words.region_json(table, scores)))
        return
    width = shutil.get_terminal_size().columns
    if scores is None:
        click.echo(words.region_text(table, show, width))  # type: ignore[arg-type]
    else:
        click.echo(words.scores_text(table, scores, width))
    click.echo(f"Table: {out.path}")


class Progress:
    """Says how far a run has come: a bar on a terminal, else a line at each tenth."""

    def __init__(self, out: TextIO, done: int = 0) -> None:
        self.out, self.tenth, self.begun, self.bar = out, -1, done, None
        if out.isatty():
            from rich.console import Console
            from rich.progress import Progress as Bar

            self.bar = Bar(console=Console(file=out), transient=True)

    def __enter__(self) -> Self:
        """Show the bar."""
        if self.bar is not None:
            self.bar.start()
            self.bar.add_task("places", total=None)
        return self

    def __exit__(self, *_: object) -> None:
        """Take the bar away, also after Ctrl-C."""
        if self.bar is not None:
            self.bar.stop()

    def __call__(self, done: int, failed: int, left: int) -> None:
        """Say so if there is something new to say."""
        words = f"{done:,} places done, {failed:,} without an answer, {left:,} left"
        if self.bar is not None:
            self.bar.update(
                self.bar.task_ids[0], completed=done, total=done + left, description=words
            )
            return
        share = 10 * done // (done + left)
        if done + left > FEW_PLACES and share > max(self.tenth, self.begun * 10 // (done + left)):
            self.tenth = share
            self.out.write(f"{words}\n")
            self.out.flush()
