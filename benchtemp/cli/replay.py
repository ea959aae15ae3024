"""`benchtemp replay`: live a recording again."""

from __future__ import annotations

import json
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import recipe_from, recipe_options, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.bench import Event


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
    happened) and `stage`; each shot is the object that `analyse --json` holds in `shots`, and an object
    with the same `number` that follows replaces it.

    \b
    Examples:
      benchtemp replay demo_streams/steady.ecsv --speed 8
      benchtemp replay --speed max --json recording.ecsv
    """
    from benchtemp.bench.live import LiveBench
    from benchtemp.bench.replaying import bench_for_replay
    from benchtemp.cli.watching import watch
    from benchtemp.logbook.ecsv import read_stream
    from benchtemp.readings.replay import ReplaySource

    stream = read_stream(file)
    for warning in stream.warnings:
        click.echo(f"{file}: {warning}", err=True)
    bench = bench_for_replay(stream, recipe_from(recipe))

    def tell(event: Event) -> None:
        for line in event_json(event) if as_json else event_text(event, unit):
            click.echo(line)

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


def event_json(event: Event) -> list[str]:
    """Return an event as JSON lines: stage changes, and pulls with their kind; nothing for the rest."""
    from benchtemp.bench import ShotEnded, ShotRevised, StageChanged

    found: dict[str, Any]
    if isinstance(event, StageChanged):
        change = event.change
        found = {"t_s": change.t_s, "stage": str(change.stage), "since_s": change.since_s}
        if change.reason:
            found["reason"] = change.reason
    elif isinstance(event, ShotEnded | ShotRevised):
        found = {"kind": str(event.shot.result.kind), **event.shot.as_json()}
    else:
        return []
    return [json.dumps(found, ensure_ascii=False, allow_nan=False)]


def event_text(event: Event, unit: TempUnit) -> list[str]:
    """Return an event as lines for a person."""
    from benchtemp.reports.terminal import event_lines

    return event_lines(event, unit)
