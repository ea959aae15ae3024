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
    from benchtemp.readings.layout import Layout
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


def layout_from(name: str, port: str) -> Layout:
    """Return a layout by file, by the name of one that ships, or guessed from what the port says."""
    from benchtemp.readings.guess import guess_port
    from benchtemp.readings.layout import load_layout, shipped_layout

    if name == "guess":
        guess = guess_port(port)
        click.echo(f"Layout guessed: {guess.layout.description}", err=True)
        for remark in guess.remarks:
            click.echo(f"  {remark}", err=True)
        return guess.layout
    if Path(name).suffix == ".toml" or Path(name).exists():
        return load_layout(Path(name))
    return shipped_layout(name)


def probes_from(named: tuple[str, ...]) -> dict[str, str]:
    """Return names of probes by channel from what was typed: `T2=basket 1`, or `basket 1` for T1.

    Raises:
        BadInput: No name stands behind the channel, or a channel or a probe is named twice.
    """
    import re

    found: dict[str, str] = {}
    for written in named:
        typed = re.fullmatch(r"\s*([Tt][1-9])\s*=(.*)", written, re.DOTALL)
        channel, name = (typed[1].upper(), typed[2].strip()) if typed else ("T1", written.strip())
        if not name:
            raise BadInput(f"'{written}' names no probe; write --probe T1=NAME, such as --probe T1=basket.")
        if channel in found:
            raise BadInput(f"Two probes were named for {channel}; a channel has only one.")
        found[channel] = name
    if len({name.casefold() for name in found.values()}) < len(found):
        raise BadInput("One probe was named for two channels; it can only be plugged into one.")
    return found
