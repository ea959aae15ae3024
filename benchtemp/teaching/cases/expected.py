"""What a machine of the cases' build does by its physics: worked out on the model, once, when it is needed.

Nothing here knows a case. A change of the build changes all of it by itself.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.readings.virtual import pouring, simulate
from benchtemp.readings.virtual.parameters import Machine
from benchtemp.readings.virtual.pouring import CupCurve
from benchtemp.readings.virtual.script import AnyStep, KnockOut, LockIn, Shot, Wait
from benchtemp.teaching.cases.sealed import COLD_FOR_S, WORN_ABOVE_K, WORN_BELOW_K, machine_of_build

_WORN_GAPS_S = (131.0, 227.0, 163.0, 259.0, 147.0, 211.0, 179.0, 241.0)
_COLD_AT_S = (30.0, 300.0, 600.0, 1200.0)
_DISPLAY_DEGC = 93.0


@lru_cache(maxsize=512)
def cup_curve(dose_g: float, resistance_share: float, free_flow_kg_per_s: float | None) -> CupCurve:
    """Return what a bed gives.

    Args:
        dose_g: Dry coffee.
        resistance_share: How much such a bed resists beside a right one: the grind.
        free_flow_kg_per_s: What the pump delivers at most, None for a sound one.
    """
    part = machine_of_build(
        resistance_share=resistance_share, free_flow_kg_per_s=free_flow_kg_per_s, spread_share=0.0
    )
    return pouring.cup_curve(part, dose_g)


@lru_cache(maxsize=1)
def sound_level_k() -> float:
    """Return by how much a sound machine's shots lie above its display, in the mean, K."""
    part = machine_of_build(display_degc=_DISPLAY_DEGC)
    brews_degc = _brews_degc(part, (180.0,) * 2, warm=True, standing_s=COLD_FOR_S[0])
    return float(np.mean(brews_degc)) - _DISPLAY_DEGC


@lru_cache(maxsize=1)
def worn_scatter_k() -> float:
    """Return how much shots at uneven intervals scatter where the thermostat is worn as little as it may be.

    Returns: their standard deviation, K.
    """
    part = machine_of_build(band_k=(WORN_BELOW_K[0], WORN_ABOVE_K[0]))
    brews = _brews_degc(part, _WORN_GAPS_S, warm=True, standing_s=COLD_FOR_S[0])
    return float(np.std(brews, ddof=1))


@lru_cache(maxsize=1)
def _cold_deficits() -> tuple[FloatArray, FloatArray]:
    """Return by how much a first shot is colder than later ones, by its time; on the least cold machine."""
    part = machine_of_build()
    deficits = []
    for at_s in _COLD_AT_S:
        first, *_, last = _brews_degc(part, (180.0,) * 3, warm=False, standing_s=COLD_FOR_S[1] + at_s)
        deficits.append(last - first)
    return np.array(_COLD_AT_S), np.array(deficits)


def cold_rise_k(first_s: float) -> float:
    """Return by how much four shots would have risen, had the group been cold, by when the first was pulled.

    Args:
        first_s: Pump on of the first shot, s since the sitting began.
    """
    at_s, rise_k = _cold_deficits()
    return float(np.interp(first_s, at_s, rise_k))


def _brews_degc(part: Machine, gaps_s: tuple[float, ...], *, warm: bool, standing_s: float) -> list[float]:

    steps: list[AnyStep] = [LockIn(), Wait(seconds=20.0), Shot(seconds=25.0)]
    for gap_s in gaps_s:
        steps += [
            Wait(seconds=2.0),
            KnockOut(),
            Wait(seconds=8.0),
            LockIn(dose_g=0.0),
            Wait(seconds=gap_s - 72.0),
            KnockOut(),
            Wait(seconds=10.0),
            LockIn(),
            Wait(seconds=20.0),
            Shot(seconds=25.0),
        ]
    stream = simulate(
        part,
        (*steps, Wait(seconds=1.0)),
        rate_hz=1.0,
        warm=warm,
        before=(Wait(seconds=standing_s - 20.0),),
    )
    return [float(shot["brew_temp_degc"]) for shot in stream.meta["truth"]]
