"""One channel of a recording, watched all the time: boiler, group, or whatever else a probe sits at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray, Stream
from benchtemp.shots.shot import stored_correction
from benchtemp.shots.trace import clean


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """A channel's corrected readings, spikes and gaps left out.

    Attributes:
        name: Such as T2.
        t_s: Strictly increasing times on the recording's clock, shape (n,).
        degc: Corrected temperatures, shape (n,).
        noise_k: Standard deviation of one reading.
    """

    name: str
    t_s: FloatArray
    degc: FloatArray
    noise_k: float


def channel_of(stream: Stream, name: str) -> Channel:
    """Return a channel of a recording.

    Raises:
        BadInput: There is no such channel, or there is nothing in it.
    """
    if name not in stream.channels:
        raise BadInput(f"There is no channel {name}; this recording has {', '.join(stream.channels)}.")
    reported = stream.temps_degc[:, stream.channels.index(name)]
    trace = clean(stream.t_s, stored_correction(stream.meta, name).apply(reported))
    if not len(trace):
        raise BadInput(f"Channel {name} holds no readings; choose another channel.")
    return Channel(name, trace.t_s, np.asarray(trace.temp_degc), float(trace.noise_k))
