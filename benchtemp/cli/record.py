"""`benchtemp record`: capture without a window."""

from __future__ import annotations

from pathlib import Path

import click

from benchtemp.cli.options import (
    entries_from,
    layout_from,
    logbook_option,
    open_logbook,
    probes_from,
    recipe_from,
    recipe_options,
    unit_option,
)
from benchtemp.units import TempUnit


@click.command()
@click.option(
    "--port", required=True, help="Port of the thermocouple interface, as 'benchtemp ports' names it."
)
@click.option(
    "--layout",
    "layout_name",
    default="guess",
    metavar="FILE|NAME|guess",
    help="How its lines read: a file, the name of a layout that ships, or guess (usual).",
)
@click.option("--scale-port", help="Port of a scale, for the yield.")
@click.option("--scale-layout", default="scale", metavar="FILE|NAME", help="How the scale's lines read.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the recording to this file.")
@logbook_option
@click.option("--machine", default="", help="Name of the machine under test.")
@click.option("--tag", "tags", multiple=True, metavar="NAME=VALUE", help="Tag every shot; may be repeated.")
@click.option(
    "--basket", "basket_channel", metavar="T1…T8", help="Channel of the probe in the basket; usually T1."
)
@click.option(
    "--probe",
    "probes",
    multiple=True,
    metavar="T1=NAME",
    help="Which probe is on a channel, so that its correction is applied; may be repeated.",
)
@click.option("--duration", "duration_s", type=click.FloatRange(min=0.1), help="Stop after so many seconds.")
@click.option("--json", "as_json", is_flag=True, help="Print stage changes and shots as JSON, one a line.")
@recipe_options
@unit_option
def record(
    *,
    port: str,
    layout_name: str,
    scale_port: str | None,
    scale_layout: str,
    out: Path | None,
    logbook: Path | None,
    machine: str,
    tags: tuple[str, ...],
    basket_channel: str | None,
    probes: tuple[str, ...],
    duration_s: float | None,
    as_json: bool,
    unit: TempUnit,
    **recipe: float | None,
) -> int:
    """Record a thermocouple interface and keep the shots, without a window.

    In a terminal: Space marks pump on and pump off, u takes a wrong mark back, n notes, t tares,
    q ends. Without a keyboard shots are found by the trace alone; Ctrl+C or --duration ends.

    Mind: water, steam and metal are hot enough to scald, and mains is near water. Test shots are not for
    drinking.

    \b
    Examples:
      benchtemp record --port /dev/ttyUSB0
      benchtemp record --port COM5 --layout labelled-four-channels --dose 18 --machine "bench two"
    """
    from benchtemp.bench.plugged import probe_choice
    from benchtemp.bench.sitting import start_sitting
    from benchtemp.cli.telling import teller
    from benchtemp.cli.watching import watch
    from benchtemp.logbook.preferences import load_preferences
    from benchtemp.logbook.probe_file import load_probe
    from benchtemp.probes.type_k import measured_degc
    from benchtemp.readings.opening import open_source

    entries = entries_from(recipe_from(recipe), tags)
    book = open_logbook(logbook)
    plugged = probes_from(probes)
    for name in plugged.values():
        load_probe(book, name)  # a name nobody knows is told before the port is opened
    source = open_source(port, layout_from(layout_name, port), emf_to_degc=measured_degc)
    scale = open_source(scale_port, layout_from(scale_layout, scale_port)) if scale_port else None
    live = start_sitting(
        source,
        logbook=book,
        entries=entries,
        machine=machine,
        probes=probe_choice(load_preferences()[0], plugged),
        basket_channel=basket_channel,
        scale=scale,
        recording_path=out,
    )

    code = watch(live, teller(as_json=as_json, unit=unit), unit=unit, duration_s=duration_s)
    last = live.snapshot
    if last is not None and last.recording is not None:
        click.echo(f"Recording: {last.recording}", err=True)
        for shot in last.shots:
            click.echo(f"{'Flush' if shot.is_flush else f'Shot {shot.number}'}: {shot.path}", err=True)
        if last.trouble:
            click.echo(last.trouble, err=True)
            return 1
    return code
