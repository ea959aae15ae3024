"""The command line: every command in a module of its own, loaded when it is called."""

from __future__ import annotations

import contextlib
import importlib
import io
import keyword
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import click

from benchtemp import __version__
from benchtemp.errors import BenchtempError

_COMMANDS = (
    "analyse",
    "boil",
    "case",
    "check-probe",
    "demo",
    "demo-logbook",
    "exercise",
    "import",
    "logbook",
    "picture",
    "plan",
    "ports",
    "practise",
    "record",
    "replay",
    "report",
    "scores",
    "simulate",
    "study",
)


_LONGEST_SENTENCE = 1000
"""Characters; a longer one quotes something of endless length."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What every command may use: how to open the window, without knowing Qt."""

    open_window: Callable[..., int]


class _Commands(click.Group):
    """A group whose commands are imported when they are first needed."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  (click's signature)
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in _COMMANDS:
            return None
        name = f"{cmd_name}_" if keyword.iskeyword(cmd_name) else cmd_name.replace("-", "_")
        command = getattr(importlib.import_module(f"benchtemp.cli.{name}"), name)
        assert isinstance(command, click.Command)
        return command


@click.group(
    cls=_Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, prog_name="benchtemp")
@click.option("--logbook", type=click.Path(), help="Folder of the logbook to open in the window.")
@click.pass_context
def benchtemp(ctx: click.Context, logbook: str | None) -> int:
    """Measure what an espresso machine really brews at.

    Without a command the window opens.

    \b
    Examples:
      benchtemp                              open the window
      benchtemp demo --no-window             see the whole job in this terminal
      benchtemp record --port /dev/ttyUSB0   capture without a window
    """
    if ctx.invoked_subcommand is not None:
        return 0
    from pathlib import Path

    desk = ctx.obj
    assert isinstance(desk, Desk)
    return desk.open_window(logbook=Path(logbook) if logbook else None)


def run(arguments: Sequence[str], *, open_window: Callable[..., int]) -> int:
    """Run one command line and return its exit code: 0 done, 1 the user can mend it, 2 wrong usage.

    Data goes to stdout, messages to stderr; an error is one sentence.
    """
    _let_any_name_be_shown()
    try:
        # Not click's `main`: it calls a reader of our output that has gone a failure.
        with benchtemp.make_context("benchtemp", list(arguments), obj=Desk(open_window)) as context:
            outcome = benchtemp.invoke(context)
        if sys.stdout is not None:
            sys.stdout.flush()
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except BenchtempError as error:
        click.echo(_sentence(str(error)), err=True)
        return error.exit_code
    except click.ClickException as error:
        told = error.format_message()
        if "\n" not in told and told != _sentence(told):
            error = click.UsageError(_sentence(told), getattr(error, "ctx", None))
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt, EOFError):
        click.echo("\nStopped.", err=True)
        return 130
    except BrokenPipeError:
        # The reader of our output has gone (`| head`): nothing is wrong, and nothing more may be written.
        _write_no_more()
        return 0
    except OSError as error:
        click.echo(_refused(error), err=True)
        return 1
    return outcome if isinstance(outcome, int) else 0


def _let_any_name_be_shown() -> None:
    r"""Write what standard output cannot encode as `\udce9`, which is how JSON writes it too.

    A file's name may be no text, and a terminal's encoding may know few signs.
    """
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")


def _sentence(text: str) -> str:
    """Return a message as it can be shown: whatever was typed may be quoted in it."""
    if len(text) > _LONGEST_SENTENCE:
        text = f"{text[:200]}…{text[-200:]}"
    return "".join(char if char.isprintable() or char == "\n" else "?" for char in text)


def _write_no_more() -> None:
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _refused(error: OSError) -> str:
    """Return a sentence about what the system refuses that no command foresaw."""
    from benchtemp.logbook.regular_file import shown, why

    if error.filename is not None:
        return f"{shown(os.fsdecode(error.filename))} cannot be used ({why(error)}); name another one."
    try:
        sys.stdout.flush()
    except OSError:
        _write_no_more()
    return f"The output cannot be written ({why(error)}); send it elsewhere."
