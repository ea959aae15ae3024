"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.shots.entries import Entries
    from benchtemp.shots.recipe import Recipe

Command = TypeVar("Command", bound=Callable[..., Any])


def _unit(_ctx: click.Context, _param: click.Parameter, value: str) -> TempUnit:
    return TempUnit.DEGF if value.upper() == "F" else TempUnit.DEGC


unit_option = click.option(
    "--unit",
    type=click.Choice(["C", "F"], case_sensitive=False),
    default="C",
    callback=_unit,
    help="Show °C (usual) or °F; files and JSON always hold °C.",
)

logbook_option = click.option(
    "--logbook",
    type=click.Path(path_type=Path),
    help="Folder of the logbook; your usual one where not given.",
)


def recipe_options(command: Command) -> Command:
    """Add the options that describe a recipe."""
    for option in reversed(
        [
            click.option("--dose", "dose_g", type=float, help="Dry coffee in the basket, g."),
            click.option("--ratio", "brew_ratio", type=float, help="Target yield over dose; usually 2."),
            click.option("--ratio-tolerance", "brew_ratio_tolerance", type=float, help="Usually 0.1."),
            click.option("--time-low", "time_low_s", type=float, help="Shortest shot time, s; usually 22."),
            click.option("--time-high", "time_high_s", type=float, help="Longest shot time, s; usually 28."),
            click.option(
                "--band-low", "band_low_degc", type=float, help="Target band from, °C; usually 90.5."
            ),
            click.option("--band-high", "band_high_degc", type=float, help="Target band to, °C; usually 96."),
            click.option(
                "--plateau-min", "plateau_min_s", type=float, help="Shortest plateau, s; usually 8."
            ),
        ]
    ):
        command = option(command)
    return command


def recipe_from(options: Mapping[str, float | None]) -> Recipe | None:
    """Return the recipe the options describe, None where none of them was given."""
    from benchtemp.shots.recipe import Recipe

    given = {name: value for name, value in options.items() if value is not None}
    return Recipe(**given) if given else None


def entries_from(recipe: Recipe | None, tags: tuple[str, ...]) -> Entries:
    """Return recipe and tags to begin with.

    Raises:
        BadInput: A tag is not NAME=VALUE.
    """
    from benchtemp.shots.entries import Entries

    entries = Entries() if recipe is None else Entries(recipe=recipe)
    for tag in tags:
        name, equals, value = tag.partition("=")
        if not equals or not name.strip():
            raise BadInput(f"'{tag}' is no tag; write --tag NAME=VALUE, such as --tag coffee='house blend'.")
        entries = entries.taking(f"tag.{name.strip()}={value.strip()}")
    return entries


def open_logbook(folder: Path | None) -> Logbook:
    """Return the logbook a command works in: the one named, the one preferred, or the usual place."""
    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.preferences import load_preferences
    from benchtemp.places import default_logbook_dir

    if folder is None:
        preferred, _ = load_preferences()
        folder = Path(preferred.logbook) if preferred.logbook else default_logbook_dir()
    return Logbook(folder)
