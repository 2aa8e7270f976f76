"""The door of every command: its failures become one line on stderr and an exit code.

Exit codes: 0 answered; 2 wrong use or bad input; 3 data or network missing, or no room; 70 a
fault of this program (EX_SOFTWARE of sysexits.h); 130 interrupted.
"""

from __future__ import annotations

import errno
import functools
import os
import re
import sys
from collections.abc import Callable, Sequence
from typing import Any, ClassVar

import click

from forecaster.cli.command import EXAMPLES, Asked
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

    command_class = Asked

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

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command called; of one that is not there the nearest is named."""
        known = self.list_commands(ctx)
        if args and args[0] not in known and not args[0].startswith("-"):
            near = _nearest(args[0], known)
            raise click.UsageError(
                f"there is no command {args[0]!r}"
                + (f"; did you mean {near}?" if near else f"; expected one of {', '.join(known)}."),
                ctx,
            )
        return super().resolve_command(ctx, args)

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
    """Return what was wrong in a call, what is nearest to it, and a call that works."""
    words = error.format_message()
    if not isinstance(error, click.UsageError) or error.ctx is None:
        return words
    if isinstance(error, click.BadParameter) and error.param is not None:
        words = f"{words}{_near_choice(words, error.param)}"
    path = error.ctx.command_path
    example = EXAMPLES.get(" ".join(path.split()[1:]))
    words += f" For example: {example}." if example else ""
    return f"{words} See {path} --help."


def _near_choice(words: str, param: click.Parameter) -> str:
    """Return the choice nearest to what was written, where there are choices."""
    found = re.search(r"'([^']*)' is not one of", words)
    if found is None or not isinstance(param.type, click.Choice):
        return ""
    near = _nearest(found[1], [str(choice) for choice in param.type.choices])
    return f" Did you mean {near}?" if near else ""


def _nearest(word: str, known: Sequence[str]) -> str:
    """Return the known word that is most like another; empty where none is."""
    from difflib import get_close_matches

    return next(iter(get_close_matches(word.lower(), known, n=1)), "")


def _say_wrong(words: str, code: int) -> int:
    line = " ".join(words.split())
    if len(line) > LONGEST_LINE:
        line = f"{line[: LONGEST_LINE - 200]} … {line[-200:]}"
    click.echo(f"crossday: {line}", err=True)
    return code
