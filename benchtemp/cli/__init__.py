"""The command line: every command in a module of its own, loaded when it is called."""

from __future__ import annotations

import contextlib
import importlib
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
    try:
        outcome = benchtemp.main(
            args=list(arguments), prog_name="benchtemp", standalone_mode=False, obj=Desk(open_window)
        )
        sys.stdout.flush()
    except BenchtempError as error:
        click.echo(str(error), err=True)
        return error.exit_code
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        return 130
    except BrokenPipeError:
        # The reader of our output has gone (`| head`): nothing is wrong, and nothing more may be written.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return outcome if isinstance(outcome, int) else 0
