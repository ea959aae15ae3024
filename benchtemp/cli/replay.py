"""`benchtemp replay`: live a recording again."""

from __future__ import annotations

from math import inf
from pathlib import Path

import click

from benchtemp.cli.options import recipe_from, recipe_options, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit


def _speed(_ctx: click.Context, _param: click.Parameter, value: str) -> float:
    if value.strip().lower() == "max":
        return inf
    try:
        return float(value.lower().rstrip("x×"))
    except ValueError:
        raise BadInput(f"'{value}' is no speed; give a number from 0.25 to 64, or max.") from None


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--speed", default="1", callback=_speed, help="0.25 to 64 times, or max; usually 1.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line.")
@recipe_options
@unit_option
def replay(file: Path, *, speed: float, as_json: bool, unit: TempUnit, **recipe: float | None) -> int:
    """Live a recording again: stage changes and results come as they came then.

    With --json each stage change is an object with `t_s` (when it was known), `since_s` (when it
    happened) and `stage`. A few seconds after each shot, when the cup is full, comes the object that
    `analyse --json` holds in `shots`; if the operator entered something later, it comes again with
    `revised` set.

    \b
    Examples:
      benchtemp replay demo_streams/steady.ecsv --speed 8
      benchtemp replay --speed max --json recording.ecsv
    """
    from benchtemp.bench.live import LiveBench
    from benchtemp.bench.replaying import bench_for_replay
    from benchtemp.cli.telling import teller
    from benchtemp.cli.watching import watch
    from benchtemp.logbook.ecsv import read_stream
    from benchtemp.readings.replay import ReplaySource

    stream = read_stream(file)
    for warning in stream.warnings:
        click.echo(f"{file}: {warning}", err=True)
    bench = bench_for_replay(stream, recipe_from(recipe))

    tell = teller(as_json=as_json, unit=unit)
    if speed == inf:
        # Nothing to wait for: no thread, no clock.
        for item in stream.items():
            for event in bench.take(item):
                tell(event)
        for event in bench.finish():
            tell(event)
        return 0
    live = LiveBench(ReplaySource(stream, file.name, speed=speed), lambda _source: bench)
    return watch(live, tell, unit=unit, keys=False)
