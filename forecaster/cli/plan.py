"""`crossday plan`: what a changeover asks, by when, and what to buy for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecaster.cli.command import command
from forecaster.cli.options import (
    BED,
    DIRECTIONS,
    LEVEL,
    PLACE,
    SEVERAL,
    declare,
    level_of,
    takes,
)
from forecaster.cli.output import FORCE, calendar_target, check_picture, drawn, inputs
from forecaster.cli.place import opened, read_place, thresholds_asked
from forecaster.cli.several import (
    Planned,
    planned,
    refuse_for_several,
    say_plans,
    write_calendar,
)
from forecaster.cli.wanted import colours_of, flats_of, pair_of, weeks_of

if TYPE_CHECKING:
    from forecaster.answers.crops import Crop, Wish
    from forecaster.answers.record import Record
    from forecaster.answers.window import Threshold
    from forecaster.plan import Bed, Changeover, Plan, Wants, WholePlan
    from forecaster.plan.week import Due
    from forecaster.words.phrases import Level

Command = TypeVar("Command", bound=Callable[..., Any])

PLAN_WIDTH = 72


@command()
@takes(PLACE, without=("bed",))
@declare(*SEVERAL)
@takes(BED)
@declare(*LEVEL)
@click.option("--json", "as_json", is_flag=True, help="Answer for a program.")
@click.option("--csv", "as_csv", is_flag=True, help="The tasks as a table.")
@click.option("--ics", metavar="OUT", help="Write the tasks as a calendar file, ending in .ics.")
@click.option("--since", metavar="JSON", help="An earlier answer of --json: say what moved.")
@click.option(
    "--layout", metavar="PICTURE",
    help="With an outline and colours: where each plant goes, .png or .svg; .pdf to plant from.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(min=0), default=0, help="Another seed, another scatter."
)
@FORCE
def plan(
    files: tuple[str, ...],
    *,
    beds: tuple[str, ...],
    every: bool,
    as_json: bool,
    as_csv: bool,
    ics: str | None,
    since: str | None,
    layout: str | None,
    seed: int,
    force: bool,
    **options: Any,
) -> None:
    """Plan a bed's changeover: what to do by when, and what to buy.

    FILE is a daily air-temperature record: a file, several, or a folder of one station.
    Without FILE, the garden book answers for a bed, for several, or with --all for every one.
    """
    level = level_of(options)
    if as_json and as_csv:
        raise click.UsageError("--json and --csv are two answers; ask for one of them.")
    how: Any = {"read": inputs({**options, "since": since}, files), "force": force}
    calendar = None if ics is None else calendar_target(ics, **how)
    if every or len(beds) > 1:
        if level != "default":
            raise click.UsageError("--brief and --full are said of one bed; ask for one.")
        told = {**options, "since": since, "layout": layout}
        say_plans(plan_several(files, beds, told), calendar, as_json=as_json, as_csv=as_csv)
        return
    options["bed"] = beds[0] if beds else None
    if layout is not None:
        _check_layout(layout, options, booked=not files, **how)
    before = None if since is None else _earlier(since)
    whole = work_out(files, **options)
    from forecaster.plan import changes

    made = whole.plan
    moved = None if before is None else changes(before, made)
    ends = []
    if calendar is not None:
        ends.append(write_calendar(dues_of(whole), whole.record.asked_on, calendar))
    if layout is not None:
        ends.append(_lay_out(made, layout, seed, **how))
    _say(whole, moved, ends, as_json=as_json, as_csv=as_csv, level=level)


def work_out(
    files: Sequence[str],
    named: Sequence[Crop] | None = None,
    wish: Wish | None = None,
    **options: Any,
) -> WholePlan:
    """Return the plan that the options ask for, as `PLACE` and `BED` name them.

    `named` and `wish` stand for the crops named and what is wanted of them.
    """
    asked = asking(options, named, wish)
    place = {
        name: options[name]
        for name in (
            "bed", "book", "lat", "lon", "depth", "readings", "soil", "cover", "units",
            "readings_units", "clock", "columns", "probe", "obs_hour", "day_first", "today",
            "outlook",
        )
    }  # fmt: skip
    record = read_place(files, **place)
    from forecaster.plan import plan_changeover

    return plan_changeover(record, asked(record))


def asking(
    options: dict[str, Any], named: Sequence[Crop] | None = None, wish: Wish | None = None
) -> Callable[[Record], Changeover]:
    """Return what the options ask of the bed of a record; wrong ones are refused at once."""
    thresholds = tuple(_thresholds(options))

    def asked(record: Record) -> Changeover:
        from forecaster.answers.crops import Wish, find_crop
        from forecaster.plan import Changeover

        crops = [find_crop(name) for name in options["crop"]] if named is None else named
        bed = _bed(options, record)
        if options["colours"] is not None and bed.area_m2 is None:
            raise click.UsageError("--colours needs --outline or --area: how large is the bed?")
        return Changeover(
            bed=bed,
            wants=_wants(options),
            thresholds=thresholds,
            crops=tuple(dict.fromkeys(crops)),
            wish=wish or Wish(),
            season=options["season"],
        )

    return asked


def plan_several(
    files: Sequence[str],
    beds: Sequence[str],
    options: dict[str, Any],
    named: Sequence[Crop] | None = None,
    wish: Wish | None = None,
) -> Planned:
    """Return the plans of several beds of the book, or of all, as the options ask."""
    refuse_for_several(files, options)
    return planned(
        beds, options["book"], asking(options, named, wish), options["today"], options["outlook"]
    )


def dues_of(whole: WholePlan) -> list[Due]:
    """Return the tasks of one bed's plan on their due days, what the book has ticked left out."""
    from forecaster.book import done_tasks, moved_tasks
    from forecaster.plan.week import dues, last_read

    held = whole.record.held
    how: dict[str, Any] = {"now": whole.record.asked_on, "last_read": last_read(whole.record)}
    if held is None:
        return dues(whole.plan, place=whole.record.title, **how)
    with opened(str(held.path)) as book:
        how["ticked"], how["moved"] = (
            done_tasks(book, held.bed.name),
            moved_tasks(book, held.bed.name),
        )
    return dues(whole.plan, place=held.place.name, **how)


def _thresholds(options: dict[str, Any]) -> list[Threshold]:
    """Return the thresholds asked about; they must be of the season asked for."""
    season, way = options["season"], options["direction"]
    if season is not None and way not in (None, DIRECTIONS[season]):
        raise click.UsageError(f"--season {season} means a {DIRECTIONS[season]} soil.")
    of_class = {"cool": "falling", "warm": "rising"}.get(options["crop_class"] or "")
    if season is not None and of_class not in (None, DIRECTIONS[season]):
        raise click.UsageError(
            f"--crop-class {options['crop_class']} is not planted in {season}; "
            "leave one of them out."
        )
    if options["threshold"] is not None and way is None and options["crop_class"] is None:
        if season is None:
            raise click.UsageError("--threshold needs --season: autumn or spring.")
        way = DIRECTIONS[season]
    return thresholds_asked(options["crop_class"], options["threshold"], way)


def _bed(options: dict[str, Any], record: Record) -> Bed:
    """Return the bed as told, else as the book has it."""
    from forecaster.plan import Bed, outline_of_bed, read_outline

    held = None if record.held is None else record.held.bed
    outline = None if options["outline"] is None else read_outline(options["outline"])
    area = options["area"]
    if held is not None and outline is None and area is None:
        outline = outline_of_bed(held)
        area = held.area_m2 if outline is None else None
    return Bed(
        name=options["name"] or ("Bed" if held is None else held.name),
        area_m2=area,
        outline=outline,
        soil=record.site.soil,
        meets_turf=not options["no_turf"],
        replanted=not options["rest"],
    )


def _wants(options: dict[str, Any]) -> Wants:
    """Return what is wanted."""
    from forecaster.ground.units import (
        KILOGRAMS_PER_POUND,
        SQUARE_METRES_PER_SQUARE_FOOT,
    )
    from forecaster.plan import Wants
    from forecaster.plan.supplies.quantities import nitrogen_share

    sizes, prices = flats_of(options["flat"], options["price"])
    colours, ratio = options["colours"], options["ratio"]
    nitrogen = options["nitrogen"]
    bag = options["bag"]
    planted = options["planted"]
    if options["fertilizer"] is not None:
        nitrogen_share(options["fertilizer"])
    return Wants(
        spacing_m=options["spacing"],
        pattern=options["pattern"],
        flat_sizes=sizes,
        prices=prices,
        renewal_depth_m=options["depth_of_renewal"],
        parts=None if ratio is None else pair_of(ratio, ":", "--ratio", "2:1"),
        bags_m3=None if bag is None else (bag, bag),
        load_volume_m3=options["load"],
        load_mass_kg=options["payload"],
        fertilizer=options["fertilizer"],
        nitrogen_kg_m2=None
        if nitrogen is None
        else nitrogen * KILOGRAMS_PER_POUND / (100.0 * SQUARE_METRES_PER_SQUARE_FOOT),
        flow_m3_s=options["flow"],
        sow_weeks=None if options["sow_weeks"] is None else weeks_of(options["sow_weeks"]),
        pull_late_weight=options["late_weight"],
        planted=None if planted is None else planted.date(),
        colours=() if colours is None else colours_of(colours),
        spare_share=options["spare"] or 0.0,
        currency=options["currency"],
    )


def _check_layout(layout: str, options: dict[str, Any], *, booked: bool, **how: Any) -> None:
    """Refuse a sheet that cannot be drawn before the long work begins."""
    check_picture(layout, option="--layout", paper=True, **how)
    for name, why in (("outline", "an area alone has no places"), ("colours", "as yellow,white")):
        if options[name] is None and not booked:
            raise click.UsageError(f"--layout needs --{name}: {why}.")


def _earlier(path: str) -> Any:
    """Return the tasks of an earlier plan."""
    from pathlib import Path

    from forecaster.words.plan_forms import tasks_of_json

    try:
        if Path(path).exists() and not Path(path).is_file():
            raise click.UsageError(f"--since {path!r} is not a file.")
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "it is no text"
        raise click.UsageError(f"--since {path!r}: {why}.") from error
    return tasks_of_json(text, path)


def _lay_out(made: Plan, layout: str, seed: int, *, read: Sequence[str], force: bool) -> str:
    """Draw where each plant goes and say where the picture is."""
    from forecaster.charts.scatter import draw_scatter
    from forecaster.charts.sheet import draw_sheet
    from forecaster.plan import scattered

    found = scattered(made.bed, made.shopping, seed)
    draw = draw_sheet if layout.lower().endswith(".pdf") else draw_scatter
    return drawn(layout, draw(found, layout, made.bed.name, inputs=read, force=force))


def _say(
    whole: WholePlan,
    moved: Any,
    ends: Sequence[str],
    *,
    as_json: bool,
    as_csv: bool,
    level: Level,
) -> None:
    """Print the plan in the form asked for."""
    made, notes = whole.plan, whole.notes
    if as_json:
        from forecaster.words.as_json import json_text
        from forecaster.words.plan_forms import moved_json, plan_json

        answer = plan_json(made) | {"about_the_record": list(notes)}
        if moved is not None:
            answer["moved"] = moved_json(moved)
        click.echo(json_text(answer))
    elif as_csv:
        from forecaster.words.week_forms import tasks_csv

        click.echo(tasks_csv(dues_of(whole)), nl=False)
    else:
        import shutil

        from forecaster.words.plan_short import plan_answer

        width = min(shutil.get_terminal_size().columns, PLAN_WIDTH)
        click.echo(plan_answer(made, width, moved, notes, level=level), nl=False)
    for end in ends:
        click.echo(end, err=as_json or as_csv)
