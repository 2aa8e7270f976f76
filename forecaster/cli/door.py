"""The door of every command: its failures become one line on stderr and an exit code.

Exit codes: 0 answered; 2 wrong use or bad input; 3 data or network missing; 130 interrupted.
"""

from __future__ import annotations

import functools
import io
import os
import sys
from collections.abc import Callable
from typing import Any, ClassVar

import click

ANSWERED, WRONG_USE, DATA_MISSING, INTERRUPTED = 0, 2, 3, 130
LONGEST_LINE = 800  # of an error; a word of ten thousand letters is cut


class Door(click.Group):
    """A group of commands whose every failure is one line on stderr and an exit code."""

    elsewhere: ClassVar[dict[str, str]] = {}
    """Commands that live in modules of their own, imported when called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """List the commands in the order in which they are declared."""
        del ctx
        return [*self.commands, *(name for name in self.elsewhere if name not in self.commands)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, from its own module if it has one."""
        if cmd_name not in self.elsewhere:
            return super().get_command(ctx, cmd_name)
        from importlib import import_module

        found: click.Command = getattr(import_module(self.elsewhere[cmd_name]), cmd_name)
        return found

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; a reader of ours that has enough is no error."""
        try:
            found = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            # Keep Python's own last flush quiet too.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return ANSWERED
        return found

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """Run a command; with `standalone_mode` end the program with its exit code."""
        if isinstance(sys.stdout, io.TextIOWrapper):
            # A sign that the terminal has no letter for, or a name that is no text, is no error.
            sys.stdout.reconfigure(errors="replace")
        run = functools.partial(super().main, *args, standalone_mode=False, **extra)
        return sys.exit(_answer(run)) if standalone_mode else run()


def _answer(run: Callable[[], Any]) -> int:
    """Run a command and return the exit code; whatever fails is said in one line."""
    from forecaster.errors import ForecasterError

    try:
        code = run()
    except click.ClickException as error:
        return _say_wrong(_usage_words(error), WRONG_USE)
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except ForecasterError as error:
        world = isinstance(error, RuntimeError) and not isinstance(error, ValueError)
        return _say_wrong(str(error), DATA_MISSING if world else WRONG_USE)
    return code if isinstance(code, int) else ANSWERED


def _usage_words(error: click.ClickException) -> str:
    words = error.format_message()
    if isinstance(error, click.UsageError) and error.ctx is not None:
        words += f" See {error.ctx.command_path} --help."
    return words


def _say_wrong(words: str, code: int) -> int:
    line = " ".join(words.split())
    if len(line) > LONGEST_LINE:
        line = f"{line[: LONGEST_LINE - 200]} … {line[-200:]}"
    click.echo(f"crossday: {line}", err=True)
    return code
