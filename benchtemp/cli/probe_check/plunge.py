"""A plunge from a terminal: the probe's time constant."""

from __future__ import annotations

import json
from math import nan
from typing import TYPE_CHECKING

import click
import msgspec

from benchtemp.cli.keys import single_keys
from benchtemp.cli.probe_check.bath import moment_now
from benchtemp.cli.probe_check.keeping import keep_time_constant, known_probe, refuse_a_closed_logbook
from benchtemp.cli.probe_check.reading import Bathing, Looked, reading_words
from benchtemp.probes.plunge import HOW_TO, PlungeWatch
from benchtemp.probes.response import CAUTIONS
from benchtemp.reports.check import time_constant_lines
from benchtemp.units import temp_text

if TYPE_CHECKING:
    from benchtemp.cli.probe_check.wishes import Wishes
    from benchtemp.logbook.folder import Logbook

_LONGEST_S = 300.0


def run_plunge(book: Logbook, wishes: Wishes) -> int:
    """Measure a probe's time constant and keep it if the user says yes.

    Raises:
        BenchtempError: There was no plunge, or it cannot be read or kept.
    """
    ((channel, name),) = wishes.channels.items()
    index = int(channel[1:]) - 1
    if wishes.names:
        known_probe(book, name)
        refuse_a_closed_logbook(book)
    source = wishes.source()
    watch = PlungeWatch(measured=moment_now(), longest_s=wishes.longest_s or _LONGEST_S)

    def step(t_s: float, reported_degc: tuple[float, ...]) -> None:
        watch.step(t_s, reported_degc[index] if index < len(reported_degc) else nan)

    def look() -> Looked:
        text = f"{watch.state}  {temp_text(watch.temp_degc, wishes.unit, 2)}"
        return Looked(str(watch.state), text, over=watch.result is not None)

    with single_keys():
        lines = ["Mind:", *(f"  {line}" for line in CAUTIONS)]
        lines += ["How to go about it:", *(f"  {line}" for line in HOW_TO), reading_words()]
        click.echo("\n".join(lines), err=True)
        came_to_an_end = Bathing(source).run(step, look)
    if not came_to_an_end:
        raise click.Abort
    measured = watch.result
    assert measured is not None
    if not wishes.as_json:
        click.echo("\n".join(time_constant_lines(measured, wishes.unit)))
    saved = keep_time_constant(book, name, measured, wishes)
    if wishes.as_json:
        told = {
            "probe": name,
            "time_constant": msgspec.to_builtins(measured),
            "saved": saved is not None,
            "file": None if saved is None else str(saved),
        }
        click.echo(json.dumps(told, ensure_ascii=False, allow_nan=False))
    return 0
