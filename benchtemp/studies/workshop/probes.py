"""The workshop's probes: checked before and after the week, long ago, only afterwards, and never.

Everything is invented: dates, pressures and readings. What follows from them is worked out as for real ones.
"""

from __future__ import annotations

from typing import NamedTuple

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import save_probe
from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import Check, make_check
from benchtemp.probes.ice import ice_reference
from benchtemp.probes.probe import Probe
from benchtemp.probes.reference import Reference
from benchtemp.probes.response import TimeConstant
from benchtemp.probes.tolerance import ToleranceClass

_READINGS = 184
_BUBBLING_K = 0.11
_QUIET_K = 0.03


class _Boil(NamedTuple):
    """A day on which a probe hung in boiling water, and perhaps in ice.

    Attributes:
        checked: When.
        operator: Who.
        pressure_hpa: Of the air that day.
        error_k: By how much the probe read wrong in boiling water.
        ice_error_k: And in ice, None where it was not tried.
    """

    checked: str
    operator: str
    pressure_hpa: float
    error_k: float
    ice_error_k: float | None = None


_EVERY_SIX_WEEKS = (
    _Boil("2030-09-05T16:55:00+00:00", "Wren", 1009.4, -0.19),
    _Boil("2030-10-17T17:10:00+00:00", "Wren", 998.1, -0.20),
    _Boil("2030-11-28T16:30:00+00:00", "Osk", 987.6, -0.25),
    _Boil("2031-01-16T17:05:00+00:00", "Wren", 1013.8, -0.26),
    _Boil("2031-02-27T16:40:00+00:00", "Ilva", 1001.5, -0.30),
    _Boil("2031-03-08T11:10:00+00:00", "Ilva", 1008.2, -0.31),
)
_LONG_AGO = (
    _Boil("2030-03-12T10:20:00+00:00", "Osk", 1004.2, 0.42, 0.12),
    _Boil("2030-06-04T15:45:00+00:00", "Wren", 1011.0, 0.49, 0.15),
    _Boil("2030-08-20T09:15:00+00:00", "Wren", 1006.7, 0.58, 0.14),
)
_AFTERWARDS = (_Boil("2031-03-08T11:25:00+00:00", "Ilva", 1008.2, 0.64),)


def _point(reference: Reference, error_k: float, sd_k: float) -> CheckPoint:
    level_degc = round(reference.temp_degc + error_k, 3)
    return CheckPoint(
        reported_degc=level_degc,
        # Bubbles and stirring come in puffs: some ten readings are worth one.
        reported_uncertainty_k=round(sd_k * (10.0 / _READINGS) ** 0.5, 4),
        reported_dof=_READINGS / 10.0 - 1.0,
        reference_degc=reference.temp_degc,
        reference_uncertainty_k=reference.uncertainty_k,
        kind=reference.kind,
        readings=_READINGS,
        sd_k=sd_k,
        lowest_degc=round(level_degc - 2.6 * sd_k, 1),
        highest_degc=round(level_degc + 2.6 * sd_k, 1),
    )


def _check(probe: str, day: _Boil) -> Check:
    boiling = boiling_reference(pressure_hpa=day.pressure_hpa, depth_cm=5.0)
    references = [boiling]
    points = [_point(boiling, day.error_k, _BUBBLING_K)]
    if day.ice_error_k is not None:
        ice = ice_reference()
        references.append(ice)
        points.append(_point(ice, day.ice_error_k, _QUIET_K))
    return make_check(
        points,
        probe=probe,
        checked=day.checked,
        operator=day.operator,
        limit_k=0.5,
        references=references,
    )


CHECKED = Probe(
    name="K-07",
    serial="07",
    notes="In the drilled basket that goes from machine to machine, junction in the middle.",
    tolerance_class=ToleranceClass.IEC_1,
    time_constant=TimeConstant(
        tau_s=0.46,
        uncertainty_s=0.02,
        crossing_s=0.47,
        plunge_s=12.3,
        start_degc=22.4,
        end_degc=94.1,
        scatter_k=0.09,
        measured="2031-02-27T17:20:00+00:00",
    ),
    checks=tuple(_check("K-07", day) for day in _EVERY_SIX_WEEKS),
)
"""Checked four days before the week and the day after it; it moves a little from check to check."""
OLD = Probe(
    name="K-03",
    serial="03",
    notes="In the single boiler's own basket. Boil and ice twice a year, if somebody thinks of it.",
    checks=tuple(_check("K-03", day) for day in _LONG_AGO),
)
"""Last checked half a year before, and drifting; its last check failed its limit."""
AFTERWARDS = Probe(
    name="K-11",
    serial="11",
    notes="Used fresh from its packet, and boiled only the Saturday after.",
    checks=tuple(_check("K-11", day) for day in _AFTERWARDS),
)
"""Never checked when it was used; it read wrong all the while, as its first check shows."""
UNCHECKED = Probe(name="K-12", serial="12", notes="Spare, still in its packet.")


def keep_probes(logbook: Logbook) -> None:
    """Put the workshop's probes into a logbook.

    Raises:
        StorageError: The disk does not take it.
    """
    for probe in (CHECKED, OLD, AFTERWARDS, UNCHECKED):
        save_probe(logbook, probe)
