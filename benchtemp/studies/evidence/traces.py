"""Traces of shots laid over each other: time counts from pump on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np

from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import read_stream
from benchtemp.readings.reading import FloatArray, Stream
from benchtemp.studies.evidence.channel import channel_of
from benchtemp.studies.evidence.shot_record import ShotRecord

GRID_S = np.arange(-5.0, 45.01, 0.5)
"""Seconds since pump on at which traces are compared."""
LONGEST_GAP_S = 2.0
"""No value is put where there was no reading for longer than this."""


def aligned_trace(stream: Stream, pump_on_s: float) -> FloatArray:
    """Return the basket's corrected temperature at `GRID_S` after pump on, NaN where there is none.

    Raises:
        BenchtempError: The stream has no usable basket channel.
    """
    watched = channel_of(stream, str(stream.meta.get("basket_channel") or stream.channels[0]))
    at_s = GRID_S + pump_on_s
    degc = np.interp(at_s, watched.t_s, watched.degc, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(watched.t_s, at_s), 1, len(watched.t_s) - 1)
    degc[watched.t_s[after] - watched.t_s[after - 1] > LONGEST_GAP_S] = np.nan
    return degc


def aligned_traces(
    shots: Iterable[ShotRecord], recordings: Mapping[str, Stream] | None = None
) -> dict[str, FloatArray]:
    """Return the traces of shots by their paths; a shot whose file cannot be read is missing.

    Args:
        shots: Read from their files.
        recordings: By file name, for shots that have no file of their own.
    """
    found: dict[str, FloatArray] = {}
    for shot in shots:
        try:
            if recordings and shot.recording in recordings:
                found[shot.path] = aligned_trace(recordings[shot.recording], shot.pump_on_s)
            elif shot.path:
                found[shot.path] = aligned_trace(read_stream(Path(shot.path)), shot.pump_on_s)
        except BenchtempError:
            continue
    return found
