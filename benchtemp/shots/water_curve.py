"""The water's temperature behind a lagging probe, as a second curve beside a recording's own.

It is an estimate to look at. Brew temperatures are never read from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any, NamedTuple

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.probes.correction import Correction
from benchtemp.probes.lag import remove_lag
from benchtemp.readings.reading import FloatArray, Stream
from benchtemp.shots.shot import stored_correction


class WaterCurve(NamedTuple):
    """Both curves of one channel.

    Attributes:
        channel: Its name.
        t_s: Times, shape (n,).
        probe_degc: Corrected readings, shape (n,), NaN where there is none.
        water_degc: The estimated water temperature, shape (n,), NaN where there is no reading.
        tau_s: Time constant it was worked out with.
        noise_gain: How many times noisier a point of it is than a reading; below 1 it is smoother.
        label: What to call it.
    """

    channel: str
    t_s: FloatArray
    probe_degc: FloatArray
    water_degc: FloatArray
    tau_s: float
    noise_gain: float
    label: str

    def as_stream(self, origin: str = "") -> Stream:
        """Return both curves as a stream to keep: the channel, corrected, and a second one beside it.

        Args:
            origin: Name of the file they come from.
        """
        second = f"{self.channel}_lag_removed"
        return Stream(
            channels=(self.channel, second),
            t_s=self.t_s,
            temps_degc=np.column_stack((self.probe_degc, self.water_degc)),
            meta={
                "kind": "curves",
                "from": origin,
                "basket_channel": self.channel,
                "channels": [
                    {"name": self.channel, "label": "probe, corrected"},
                    {
                        "name": second,
                        "label": self.label,
                        "time_constant_s": self.tau_s,
                        "noise_gain": self.noise_gain,
                    },
                ],
            },
        )


def stored_time_constant_s(meta: Mapping[str, Any], channel: str) -> float | None:
    """Return the time constant a header holds for a channel's probe, None where it holds none."""
    channels = meta.get("channels")
    for described in channels if isinstance(channels, list) else []:
        if isinstance(described, dict) and described.get("name") == channel:
            written = described.get("time_constant_s")
            if isinstance(written, int | float) and isfinite(written) and 0.0 < written <= 120.0:
                return float(written)
    return None


def water_curve(
    stream: Stream,
    *,
    tau_s: float | None = None,
    correction: Correction | None = None,
    start_s: float = -np.inf,
    end_s: float = np.inf,
) -> WaterCurve:
    """Return the water temperature estimated from the basket probe of a stream.

    Args:
        stream: A recording, a shot, or any stream of temperatures.
        tau_s: The probe's time constant; the one in the header where not given.
        correction: Applied instead of the one in the header.
        start_s: Where the stretch wanted begins.
        end_s: Where it ends.

    Raises:
        BadInput: The time constant is not known or cannot be, or there are too few readings.
    """
    named = str(stream.meta.get("basket_channel", stream.channels[0]))
    basket = stream.channels.index(named) if named in stream.channels else 0
    channel = stream.channels[basket]
    tau_s = stored_time_constant_s(stream.meta, channel) if tau_s is None else tau_s
    if tau_s is None:
        raise BadInput(
            f"The time constant of the probe on {channel} is not known; measure it with 'benchtemp "
            "check-probe --method plunge', or give it in seconds."
        )
    used = stored_correction(stream.meta, channel) if correction is None else correction
    reported = stream.temps_degc[:, basket]
    wanted = (stream.t_s >= start_s) & (stream.t_s <= end_s)
    if stream.weight_g is not None:
        # An instant that belongs to the scale alone is no reading missed by the probe.
        wanted &= ~np.isfinite(stream.weight_g) | np.isfinite(stream.temps_degc).any(axis=1)
    t_s, probe_degc = stream.t_s[wanted], used.apply(reported[wanted])
    removed = remove_lag(t_s, probe_degc, tau_s)
    return WaterCurve(
        channel, t_s, probe_degc, removed.temp_degc, removed.tau_s, removed.noise_gain, removed.label
    )
