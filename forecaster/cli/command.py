"""How every command is called: options under headings, what matters first; nothing lost unsaid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import click

FIRST: dict[str, tuple[str, ...]] = {
    "when": ("beds", "lat", "readings", "crop", "full"),
    "chart": ("bed", "lat", "readings", "depth", "out"),
    "check": ("bed", "lat", "readings", "seasons", "out"),
    "week": ("beds", "weeks", "today", "ics", "own_hours"),
    "plan": ("beds", "every", "lat", "crop", "area"),
    "report": ("beds", "every", "lat", "crop", "out"),
}
"""By command the options that matter, by parameter name."""
HEADINGS: dict[str, tuple[str, ...]] = {
    "What is asked": (
        "crop", "crop_class", "season", "threshold", "direction", "today", "seasons", "leads_days",
    ),
    "The place": ("bed", "beds", "every", "book", "path", "lat", "lon", "depth", "soil", "cover"),
    "The files": (
        "readings", "outlook", "columns", "probe", "units", "readings_units", "day_first", "clock",
        "obs_hour",
    ),
    "With --crop": ("begun", "sown", "risk", "bed_offset", "source", "crops"),
    "The bed": (
        "name", "area", "outline", "spacing", "pattern", "planted", "rest", "no_turf",
        "late_weight", "colours", "seed",
    ),
    "What to buy": (
        "flat", "price", "currency", "spare", "sow_weeks", "depth_of_renewal", "ratio", "bag",
        "load", "payload", "fertilizer", "nitrogen", "flow",
    ),
    "The answer": (
        "brief", "full", "check", "show", "as_json", "as_csv", "ics", "layout", "since", "out",
        "force",
    ),
}  # fmt: skip
"""Headings of help and the parameters under them, where a command has options in `FIRST`."""
EXAMPLES: dict[str, str] = {
    "when": "crossday when air.csv --lat 39.1N --readings log.csv",
    "chart": "crossday chart air.csv --lat 39.1N --out soil.png",
    "check": "crossday check air.csv --lat 39.1N",
    "plan": "crossday plan air.csv --lat 39.1N --area 100ft2",
    "report": "crossday report air.csv --lat 39.1N --out garden.html",
    "crops": "crossday crops tomato",
    "week": "crossday week --weeks 8",
    "done": "crossday done order --bed north",
    "book read": "crossday book read 61.5F --bed north",
    "book start": "crossday book start --lat 39.1N --lon 96.6W --air air.csv",
    "air near": "crossday air near --lat 39.1N --lon 96.6W",
}
"""A call that works, by the command's words; it stands behind an error in how it was called."""
ARGS = "forecaster.args"
"""Key of `Context.meta` under which the words of the call stand."""


class Asked(click.Command):
    """A command whose help has headings and which says what it does not use of a call."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Take the words apart; of an option given twice the last counts, and that is said."""
        ctx.meta[ARGS] = tuple(args)
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        for param, times in Counter(order).items():
            single = isinstance(param, click.Option) and not (param.multiple or param.is_flag)
            if single and times > 1 and not ctx.resilient_parsing:
                click.echo(f"{param.opts[-1]} was given {times} times: the last counts.", err=True)
        return super().parse_args(ctx, args)

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options: those that matter first, then by heading."""
        first = FIRST.get(self.name or "")
        rows = {
            param.name: row
            for param in self.get_params(ctx)
            if isinstance(param, click.Option) and (row := param.get_help_record(ctx)) is not None
        }
        if first is None:
            _section(formatter, "Options", list(rows.values()))
            return
        _section(formatter, "What matters most", _taken(rows, first))
        for heading, names in HEADINGS.items():
            _section(formatter, heading, _taken(rows, names))
        _section(formatter, "More", list(rows.values()))


def _taken(rows: dict[Any, tuple[str, str]], names: tuple[str, ...]) -> list[tuple[str, str]]:
    """Take the rows so named out of those that are left."""
    return [rows.pop(name) for name in names if name in rows]


def _section(formatter: click.HelpFormatter, heading: str, rows: list[tuple[str, str]]) -> None:
    if rows:
        with formatter.section(heading):
            formatter.write_dl(rows)


def command(name: str | None = None) -> Callable[[Callable[..., Any]], Asked]:
    """Return a decorator that makes a command of this kind."""
    return click.command(name, cls=Asked)
