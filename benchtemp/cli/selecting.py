"""Which shots of files or a logbook a command line means."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from benchtemp.studies.evidence.shot_set import Selection

Command = TypeVar("Command", bound=Callable[..., Any])


def selection_options(command: Command) -> Command:
    """Add the options that narrow down which shots are meant."""
    for option in reversed(
        [
            click.option("--machine", "machines", multiple=True, help="Only of this machine; repeatable."),
            click.option("--tag", "tags", multiple=True, help="Only with this tag, NAME=VALUE; repeatable."),
            click.option("--plan", default="", help="Only shots pulled for this test plan."),
            click.option("--since", default="", help="Only from this day on, such as 2025-11-20."),
            click.option("--until", default="", help="Only up to this day, it included."),
            click.option("--recording", "recordings", multiple=True, help="Only of this recording (file)."),
            click.option("--even-not-counting", is_flag=True, help="Take shots that do not count as well."),
        ]
    ):
        command = option(command)
    return command


def selection_from(options: Mapping[str, Any]) -> Selection:
    """Return the shots meant by the options of `selection_options`.

    Raises:
        BadInput: A tag is not NAME=VALUE, or a day is none.
    """
    from benchtemp.studies.evidence.shot_set import Selection

    tags: dict[str, str] = {}
    for written in options["tags"]:
        name, equals, value = written.partition("=")
        if not equals or not name.strip():
            raise BadInput(
                f"'{written}' is no tag; write --tag NAME=VALUE, such as --tag coffee='house blend'."
            )
        tags[name.strip()] = value.strip()
    return Selection(
        machines=tuple(options["machines"]),
        tags=tags,
        since=options["since"],
        until=options["until"],
        recordings=tuple(options["recordings"]),
        plan=options["plan"],
        even_not_counting=options["even_not_counting"],
    )
