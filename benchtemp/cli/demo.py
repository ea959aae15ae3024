"""`benchtemp demo`: the whole job, with nothing plugged in."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from benchtemp.cli.options import logbook_option, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.bench import LiveBench, Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.source import Source

_FIRST_PUMP_S = 8.0
_REST_S = 35.0
_DRIPS_G = 6.0
"""What still falls into the cup once the pump has stopped; who weighs stops so much early."""


def _display_there() -> bool:
    if sys.platform in {"win32", "darwin"}:
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


class _Operator:
    """Presses the pump key as somebody would who pulls a series of shots and watches the scale."""

    def __init__(self, live: LiveBench, shots: int) -> None:
        self._live = live
        self._left = shots
        self._next_s = _FIRST_PUMP_S
        self._pump_on_s: float | None = None
        self._empty_g = 0.0

    def __call__(self, snapshot: Snapshot) -> bool:
        """Act on what the bench shows; return True once all is done."""
        if self._pump_on_s is None:
            if snapshot.now_s < self._next_s:
                return False
            if not self._left:
                return True
            self._pump_on_s, self._empty_g = snapshot.now_s, snapshot.weight_g
            self._live.press()
            return False
        runs_s = snapshot.now_s - self._pump_on_s
        recipe = snapshot.recipe
        if self._in_the_cup(snapshot) or runs_s >= recipe.time_high_s - 1.0:
            self._live.press()
            self._pump_on_s = None
            self._left -= 1
            self._next_s = snapshot.now_s + _REST_S
        return False

    def _in_the_cup(self, snapshot: Snapshot) -> bool:
        target_g = snapshot.recipe.target_yield_g
        return target_g is not None and snapshot.weight_g - self._empty_g >= target_g - _DRIPS_G


@click.command()
@click.option("--no-window", is_flag=True, help="Stay in the terminal even where there is a display.")
@click.option(
    "--machine", default="", help="Virtual machine to pull on; 'benchtemp simulate --list' names them."
)
@click.option("--stream", "stream_file", type=click.Path(path_type=Path), help="Replay this stream instead.")
@click.option("--shots", type=click.IntRange(1, 50), default=3, help="Shots to pull; usually 3.")
@click.option(
    "--speed", type=click.FloatRange(0.25, 64), help="Times real speed; usually 16 in the terminal."
)
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, help="Of the virtual machine's noise.")
@logbook_option
@unit_option
@click.pass_context
def demo(
    ctx: click.Context,
    *,
    no_window: bool,
    machine: str,
    stream_file: Path | None,
    shots: int,
    speed: float | None,
    seed: int,
    logbook: Path | None,
    unit: TempUnit,
) -> int:
    """Do the main job end to end on a virtual machine or a demo stream, with nothing plugged in.

    In a window you pull the shots yourself: Space is the pump. In the terminal they are pulled for
    you, faster than life, and their results and files are listed at the end.

    \b
    Examples:
      benchtemp demo
      benchtemp demo --no-window --shots 2
      benchtemp demo --no-window --stream demo_streams/four_channels.ecsv
    """
    from benchtemp.logbook.folder import Logbook
    from benchtemp.places import default_logbook_dir

    folder = logbook or default_logbook_dir().with_name("benchtemp demo")
    windowed = _display_there() and not no_window
    chosen_speed = speed or (1.0 if windowed else 16.0)
    source = _replayed(stream_file, chosen_speed) if stream_file else _virtual(machine, seed, chosen_speed)
    if windowed:
        return int(ctx.obj.open_window(source=source, logbook=folder))
    return _in_terminal(source, Logbook(folder), shots=0 if stream_file else shots, unit=unit)


def _virtual(machine: str, seed: int, speed: float) -> Source:
    from benchtemp.readings.virtual import VirtualSource, virtual_machines

    machines = virtual_machines()
    key = machine or next(iter(machines))
    if key not in machines:
        raise BadInput(f"There is no virtual machine '{machine}'; there are {', '.join(machines)}.")
    return VirtualSource(machines[key], seed=seed, speed=speed)


def _replayed(file: Path, speed: float) -> Source:
    from benchtemp.logbook.ecsv import read_stream
    from benchtemp.places import demo_streams_dir
    from benchtemp.readings.replay import ReplaySource

    if not file.exists() and (demo_streams_dir() / file.name).exists():
        file = demo_streams_dir() / file.name
    return ReplaySource(read_stream(file), file.name, speed=speed)


def _in_terminal(source: Source, logbook: Logbook, *, shots: int, unit: TempUnit) -> int:
    from benchtemp.bench.sitting import start_sitting
    from benchtemp.cli.telling import teller
    from benchtemp.cli.watching import watch
    from benchtemp.reports.terminal import shots_table
    from benchtemp.shots.entries import Entries
    from benchtemp.shots.recipe import Recipe

    entries = Entries(recipe=Recipe(dose_g=18.0), tags={"machine": source.name}) if shots else None
    live = start_sitting(source, logbook=logbook, entries=entries, machine=source.name)

    click.echo(f"Pulling on: {source.name}")
    operator = _Operator(live, shots) if shots else None
    code = watch(live, teller(as_json=False, unit=unit), unit=unit, keys=False, every_tick=operator)
    last = live.snapshot
    if last is None:
        return code
    click.echo("")
    for line in shots_table(last.shots, unit):
        click.echo(line)
    click.echo("")
    if last.recording is not None:
        click.echo(f"Recording: {last.recording}")
    for shot in last.shots:
        if shot.path:
            click.echo(f"Shot {shot.number}: {shot.path}")
    if not last.shots:
        click.echo("No shot was found.", err=True)
        return 1
    return code
