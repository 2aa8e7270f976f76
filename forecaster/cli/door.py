"""The door of every command: its failures become one line on stderr and an exit code.

Exit codes: 0 answered; 2 wrong use or bad input; 3 data or network missing, or no room; 70 a
fault of this program (EX_SOFTWARE of sysexits.h); 130 interrupted.
"""

from __future__ import annotations

import errno
import functools
import os
import sys
from collections.abc import Callable
from typing import Any, ClassVar

import click

from forecaster.cli.screen import give_up_stdout, screen

ANSWERED, WRONG_USE, DATA_MISSING, FAULT, INTERRUPTED = 0, 2, 3, 70, 130
_UNWRITTEN = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EBADF, errno.ENXIO)
STRAY = "a fault of this program, not of yours"
REPORT = (
    "Please report it with what you typed, and with what the same prints after "
    "CROSSDAY_TRACEBACK=1 is set."
)
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
            give_up_stdout()
            return ANSWERED
        return found

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """Run a command; with `standalone_mode` end the program with its exit code."""
        run = functools.partial(super().main, *args, standalone_mode=False, **extra)
        if not standalone_mode:
            return run()
        with screen():
            code = _answer(run)
        return sys.exit(code)


def _answer(run: Callable[[], Any]) -> int:
    """Run a command and return the exit code; whatever fails is said in one line."""
    from forecaster.ground.errors import ForecasterError

    try:
        code = run()
    except click.ClickException as error:
        return _say_wrong(_usage_words(error), WRONG_USE)
    except (click.Abort, KeyboardInterrupt):
        return INTERRUPTED
    except ForecasterError as error:
        world = isinstance(error, RuntimeError) and not isinstance(error, ValueError)
        return _say_wrong(str(error), DATA_MISSING if world else WRONG_USE)
    except Exception as error:  # noqa: BLE001 - the last place where it can be said
        return _say_stray(error)
    return code if isinstance(code, int) else ANSWERED


def _say_stray(error: Exception) -> int:
    """Say in one line what nobody foresaw; `CROSSDAY_TRACEBACK` set to 1 shows the way to it."""
    if isinstance(error, OSError) and error.filename is None and error.errno in _UNWRITTEN:
        give_up_stdout()
        return _say_wrong(f"the answer could not be written: {error.strerror}.", DATA_MISSING)
    if isinstance(error, OSError) and isinstance(error.filename, str) and error.strerror:
        return _say_wrong(f"{error.filename}: {error.strerror}.", DATA_MISSING)
    if isinstance(error, MemoryError):
        return _say_wrong("not enough memory for this; ask for less at once.", DATA_MISSING)
    if os.environ.get("CROSSDAY_TRACEBACK") == "1":
        import traceback

        click.echo("".join(traceback.format_exception(error)), err=True)
    return _say_wrong(f"{STRAY} ({type(error).__name__}: {str(error)[:200]}). {REPORT}", FAULT)


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
