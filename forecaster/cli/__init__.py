"""The command line: asks the layers below, prints, and turns errors into exit codes.

Everything heavier than click is imported inside the commands, so that help stays quick. Only
these rooms read the clock.
"""

from __future__ import annotations

from typing import ClassVar

import click

from forecaster.cli.door import Door


class House(Door):
    """All commands, each in a module of its own."""

    elsewhere: ClassVar[dict[str, str]] = {
        "when": "forecaster.cli.when",
        "chart": "forecaster.cli.when",
        "demo": "forecaster.cli.when",
        "check": "forecaster.cli.check",
        "air": "forecaster.cli.air",
        "book": "forecaster.cli.book",
        "crops": "forecaster.cli.crops",
        "plan": "forecaster.cli.plan",
        "order": "forecaster.cli.order",
        "week": "forecaster.cli.week",
        "done": "forecaster.cli.week",
        "report": "forecaster.cli.report",
        "open": "forecaster.cli.open",
        "region": "forecaster.cli.region",
    }


@click.group(
    cls=House,
    no_args_is_help=False,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(package_name="crossday", prog_name="crossday", message="%(prog)s %(version)s")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Say when the soil here will be right to plant, and how sure that is.

    Reads a daily air-temperature record and, if you have one, a log of your own soil
    thermometer. Start with: crossday demo
    """
    if ctx.invoked_subcommand is None:
        from forecaster.cli.here import say_here

        say_here()
