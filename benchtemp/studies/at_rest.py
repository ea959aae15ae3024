"""Heating cycles of a machine at rest: unbroken runs of them, their period, and moments to count from."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from benchtemp.readings.reading import FloatArray, MarkKind, Stream
from benchtemp.studies.evidence.channel import Channel
from benchtemp.studies.evidence.cycles import Cycle
from benchtemp.studies.statistics.period import Period, mean_period

HEATER_OFF = re.compile(r"\bheater\b.*\boff\b", re.IGNORECASE)
TRACE_POINTS = 1500


@dataclass(frozen=True, slots=True)
class Run:
    """Cycles of one recording that follow each other without a break, none of them soon after water."""

    recording: str
    cycles: tuple[Cycle, ...]


def unbroken_runs(cycles: Mapping[str, Sequence[Cycle]], rest_s: float) -> list[Run]:
    """Return the unbroken runs of cycles at rest.

    Args:
        cycles: By recording, in order.
        rest_s: So long after the last use of water a cycle is one of a machine at rest.
    """
    runs: list[Run] = []
    for name, found in cycles.items():
        run: list[Cycle] = []
        for cycle in found:
            rested = cycle.rest_s > rest_s
            if run and (not rested or abs(cycle.valley_s - run[-1].next_valley_s) > 1e-6):
                runs.append(Run(name, tuple(run)))
                run = []
            if rested:
                run.append(cycle)
        if run:
            runs.append(Run(name, tuple(run)))
    return runs


def period_of(runs: Sequence[Run], level: float) -> Period:
    """Return the mean period, by the moments at which the sharper edge of the cycles begins.

    A thermostat switches at a temperature: where the line through a rise starts from the usual valley, or
    that through a fall from the usual peak. Counted from there, whatever makes one cycle longer than another,
    in its heating or in its cooling, falls into that one period; counted from the middle of a rise, what
    happens in the heating would belong half to the period before.
    """
    every = [cycle for run in runs for cycle in run.cycles]
    if not every:
        return mean_period([], 1.0, level)
    valley_degc = float(np.median([cycle.valley_degc for cycle in every]))
    peak_degc = float(np.median([cycle.peak_degc for cycle in every]))
    rises = [[cycle.rising.passes(valley_degc) for cycle in run.cycles] for run in runs]
    falls = [[cycle.falling.passes(peak_degc) for cycle in run.cycles] for run in runs]
    timing_s, sharper = min(
        (float(np.median([uncertainty_s for run in edges for _, uncertainty_s in run])), place)
        for place, edges in enumerate((rises, falls))
    )
    begins_s = [np.array([at_s for at_s, _ in run]) for run in (rises, falls)[sharper]]
    return mean_period(begins_s, timing_s, level)


def stretch(watched: Channel, cycles: Sequence[Cycle]) -> tuple[FloatArray, FloatArray]:
    """Return a channel from the first to the last of some cycles, thinned for drawing: s and °C."""
    low, high = np.searchsorted(watched.t_s, (cycles[0].valley_s, cycles[-1].next_valley_s))
    thin = slice(low, high + 1, max(1, (high - low) // TRACE_POINTS))
    return watched.t_s[thin], watched.degc[thin]


def moments_of(
    streams: Mapping[str, Stream], cycles: Mapping[str, Sequence[Cycle]], height_k: float
) -> tuple[dict[str, list[float]], bool]:
    """Return the moments phases count from, by recording, and whether they are noted ones.

    Notes such as `heater off` go before peaks; a peak much higher or lower than usual is water's doing.
    """
    noted = {
        name: [
            mark.t_s for mark in stream.marks if mark.kind is MarkKind.NOTE and HEATER_OFF.search(mark.text)
        ]
        for name, stream in streams.items()
    }
    if any(noted.values()):
        return noted, True
    peaks = {
        name: [cycle.peak_s for cycle in found if 0.5 * height_k <= cycle.height_k <= 1.5 * height_k]
        for name, found in cycles.items()
    }
    return peaks, False
