"""What a trainee's shots and probe checks show of a case, and which faults they leave possible.

Everything is held against what the brief says of a sound machine. The limits are our own: each lies between
what a sound machine and a faulty one show on the model, wide of both.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, sqrt

import msgspec
import numpy as np

from benchtemp.probes.check import Check
from benchtemp.readings.reading import FloatArray
from benchtemp.shots.shot import Shot
from benchtemp.teaching.cases.case import Brief
from benchtemp.teaching.cases.fault import Fault
from benchtemp.units import MINUS, TempUnit, delta_to

LEVEL_K = 0.45
"""Shots that lie further from the display, in the mean, do not agree with it."""
SCATTER_K = 0.25
"""Shots that scatter more than this differ with the moment (a sound machine: below 0.1)."""
RISE_K = 0.7
STEP_BACK_K = 0.2
"""A machine that warms through brews hotter from shot to shot: so much in all, hardly ever a step back."""
PROBE_K = 0.5
"""A probe that reads so much below the boil reads low."""
FLOW_SHARE = 0.75
"""Less than this share of a sound machine's flow is too slow."""
SOUND_FLOW_G_PER_S = 2.4
SOUND_FILL_S = 9.2
"""A sound machine's cup: so much a second, beginning so long after pump on (found on the model)."""
LEAST_RUN_S = 12.0
SHOTS_FOR_LEVEL = 3
SHOTS_FOR_SCATTER = 6
SHOTS_FOR_RISE = 5
UNEVEN_SHARE = 0.15
"""Intervals that differ by less than this share may keep step with a heater."""
SOON_S = 300.0
"""A first shot later than this after the sitting's beginning may find a cold group warmed through."""


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that shots or checks show.

    Attributes:
        name: `level`, `scatter`, `warming`, `flow` or `probe`.
        value: In `unit`; None where the trainee's tests do not tell it.
        uncertainty: Standard uncertainty, same unit.
        unit: `K` or `share`.
        sentence: In words.
    """

    name: str
    value: float | None
    uncertainty: float = 0.0
    unit: str = "K"
    sentence: str = ""


class Evidence(msgspec.Struct, frozen=True, kw_only=True):
    """What all tests of a trainee show together.

    Attributes:
        shots: How many shots were used.
        checks: How many times the probe was checked.
        findings: One for each thing looked at.
        candidates: The faults these findings leave possible.
    """

    shots: int
    checks: int
    findings: tuple[Finding, ...]
    candidates: tuple[Fault, ...]

    def finding(self, name: str) -> Finding:
        """Return a finding by its name."""
        return next(found for found in self.findings if found.name == name)


def evidence_from(
    brief: Brief, shots: Sequence[Shot], checks: Sequence[Check] = (), *, unit: TempUnit = TempUnit.DEGC
) -> Evidence:
    """Return what shots and probe checks of a case show.

    Args:
        brief: Of the case.
        shots: In the order pulled, from one or several sittings; flushes are passed over. A correction that
            was applied to them is taken back: the probe is under test as well.
        checks: Of the case's probe.
        unit: Of the temperatures in the sentences.
    """
    pulled = [shot for shot in shots if not shot.is_flush]
    looked = _Looked(brief, pulled, checks, unit)
    findings = (looked.level(), looked.scatter(), looked.warming(), looked.flow(), looked.probe())
    return Evidence(shots=len(pulled), checks=len(checks), findings=findings, candidates=looked.candidates())


class _Looked:
    """Shots and checks of a case being looked at."""

    def __init__(self, brief: Brief, shots: Sequence[Shot], checks: Sequence[Check], unit: TempUnit) -> None:
        self._brief = brief
        self._shots = shots
        self._checks = checks
        self._unit = unit
        self._sittings = [self._beside_display(sitting) for sitting in _sittings(shots)]
        self._off_k = np.concatenate(self._sittings) if self._sittings else np.empty(0)

    def _beside_display(self, shots: Sequence[Shot]) -> FloatArray:
        """Return by how much each shot with a brew temperature lies above the display, as the probe reads."""
        return np.array(
            [
                shot.correction.reported(shot.result.brew_temp_degc) - self._brief.display_degc
                for shot in shots
                if shot.result.brew_temp_degc is not None
            ]
        )

    def _k(self, delta_k: float, *, signed: bool = False) -> str:
        shown = delta_to(delta_k, self._unit)
        written = f"{shown:+.2f}" if signed else f"{shown:.2f}"
        return f"{written} {self._unit.symbol}".replace("-", MINUS)

    # -- what is seen

    @property
    def _rises(self) -> bool:
        """Tell whether the shots grow hotter one after another, as those of a machine warming through do."""
        several = [off_k for off_k in self._sittings if len(off_k) > 1]
        steady = all(float(np.diff(off_k).min()) > -STEP_BACK_K for off_k in several)
        return steady and any(off_k[-1] - off_k[0] > RISE_K and off_k[1] > off_k[0] for off_k in several)

    @property
    def _scatter_k(self) -> float | None:
        return float(self._off_k.std(ddof=1)) if len(self._off_k) > 1 else None

    @property
    def _flow_share(self) -> float | None:
        shares = []
        for shot in self._shots:
            ran_s = shot.result.shot_time_s
            if ran_s is not None and ran_s >= LEAST_RUN_S and shot.yield_g is not None:
                shares.append(shot.yield_g / (SOUND_FLOW_G_PER_S * (ran_s - SOUND_FILL_S)))
        return float(np.median(shares)) if shares else None

    @property
    def _probe_error(self) -> tuple[float, float] | None:
        """Return the probe's error and its standard uncertainty, by the mean of all points of all checks."""
        points = [point for check in self._checks for point in check.points]
        if not points:
            return None
        return (
            float(np.mean([point.error_k for point in points])),
            float(np.mean([point.uncertainty_k for point in points])),
        )

    @property
    def _uneven(self) -> bool:
        """Tell whether the times between shots differ, so that no heater's cycle kept step with them."""
        gaps_s = np.concatenate(
            [np.diff([shot.result.pump_on_s for shot in sitting]) for sitting in _sittings(self._shots)]
        )
        return len(gaps_s) > 2 and float(gaps_s.std() / gaps_s.mean()) >= UNEVEN_SHARE / 2.0

    @property
    def _began_soon(self) -> bool:
        return bool(self._shots) and self._shots[0].result.pump_on_s < SOON_S

    # -- in words

    def level(self) -> Finding:
        off_k, display = self._off_k, f"the display's {self._shown(self._brief.display_degc)}"
        if not len(off_k):
            return Finding(name="level", value=None, sentence="No shot with a brew temperature was pulled.")
        mean_k = float(off_k.mean())
        uncertainty_k = (self._scatter_k or 0.1) / sqrt(len(off_k))
        error = self._probe_error
        told = f"The shots' mean, as the probe reads, lies {self._k(mean_k, signed=True)} from {display}"
        if error is not None:
            true_k = mean_k - error[0]
            uncertainty_k = hypot(uncertainty_k, error[1])
            told += f"; with the probe's error taken away {self._k(true_k, signed=True)}"
            mean_k = true_k
        return Finding(name="level", value=mean_k, uncertainty=uncertainty_k, sentence=f"{told}.")

    def _shown(self, temp_degc: float) -> str:
        degc = temp_degc if self._unit is TempUnit.DEGC else temp_degc * 1.8 + 32.0
        return f"{degc:.1f} {self._unit.symbol}"

    def scatter(self) -> Finding:
        scatter_k = self._scatter_k
        if scatter_k is None:
            return Finding(name="scatter", value=None, sentence="One shot alone says nothing about scatter.")
        count = len(self._off_k)
        spread = self._k(float(self._off_k.max() - self._off_k.min()))
        return Finding(
            name="scatter",
            value=scatter_k,
            uncertainty=scatter_k / sqrt(2.0 * (count - 1)),
            sentence=f"{count} shots scatter with a standard deviation of {self._k(scatter_k)}, {spread} "
            "from the coldest to the hottest.",
        )

    def warming(self) -> Finding:
        off_k = self._off_k
        if len(off_k) < 2:
            return Finding(
                name="warming", value=None, sentence="It takes two shots to see whether they warm."
            )
        rise_k = max(
            (float(one[-1] - one[0]) for one in self._sittings if len(one) > 1), key=abs, default=0.0
        )
        shape = "each hotter than the one before" if self._rises else "not in one direction"
        return Finding(
            name="warming",
            value=rise_k,
            uncertainty=0.1,
            sentence=f"From first shot to last a sitting goes {self._k(rise_k, signed=True)}, {shape}.",
        )

    def flow(self) -> Finding:
        share = self._flow_share
        if share is None:
            return Finding(
                name="flow",
                value=None,
                unit="share",
                sentence="No shot was both weighed and timed, so nothing is known of the flow.",
            )
        shot = next(one for one in self._shots if one.yield_g is not None and one.result.shot_time_s)
        return Finding(
            name="flow",
            value=share,
            uncertainty=0.1,
            unit="share",
            sentence=f"Water comes at {100.0 * share:.0f} % of a sound machine's flow (the first weighed "
            f"shot: {shot.yield_g:.1f} g in {shot.result.shot_time_s:.1f} s).",
        )

    def probe(self) -> Finding:
        error = self._probe_error
        if error is None:
            return Finding(name="probe", value=None, sentence="The probe was not checked.")
        return Finding(
            name="probe",
            value=error[0],
            uncertainty=error[1],
            sentence=f"Checked, the probe reads {self._k(error[0], signed=True)} beside the truth, within "
            f"{self._k(2.0 * error[1])}.",
        )

    # -- what is left

    def candidates(self) -> tuple[Fault, ...]:
        """Return the faults that the tests leave possible; one machine has one fault at most."""
        left = set(Fault)
        error, share = self._probe_error, self._flow_share
        if error is not None:
            left = {Fault.PROBE_LOW} if error[0] < -PROBE_K else left - {Fault.PROBE_LOW}
        if share is not None:
            left = left & {Fault.SLOW_FLOW} if share < FLOW_SHARE else left - {Fault.SLOW_FLOW}
        if len(self._off_k) >= SHOTS_FOR_LEVEL and (share is None or share >= FLOW_SHARE):
            left &= self._by_temperatures()
        return tuple(fault for fault in Fault if fault in left)

    def _by_temperatures(self) -> set[Fault]:
        count, scatter_k = len(self._off_k), self._scatter_k or 0.0
        if self._rises:
            certain = count >= SHOTS_FOR_RISE
            return {Fault.COLD_GROUP} if certain else {Fault.COLD_GROUP, Fault.THERMOSTAT}
        if scatter_k > SCATTER_K:
            return {Fault.THERMOSTAT}
        # Steady: what stays open is what the way of testing could not have shown.
        found = {Fault.SLOW_FLOW} if self._flow_share is None else set()
        if count < SHOTS_FOR_SCATTER or not self._uneven:
            found.add(Fault.THERMOSTAT)
        if not self._began_soon:
            found.add(Fault.COLD_GROUP)
        mean_k = float(self._off_k.mean())
        if abs(mean_k) > LEVEL_K:
            found.add(Fault.OFFSET)
            if mean_k < 0.0 and abs(mean_k + 0.8) < LEVEL_K:
                found.add(Fault.PROBE_LOW)
        else:
            found.add(Fault.NONE)
        return found


def _sittings(shots: Sequence[Shot]) -> list[list[Shot]]:
    """Part shots into sittings: in each the machine begins as its owner left it."""
    parted: list[list[Shot]] = []
    for shot in shots:
        last = parted[-1][-1] if parted else None
        same = last is not None and last.recording == shot.recording and _later(last, shot)
        if same:
            parted[-1].append(shot)
        else:
            parted.append([shot])
    return parted


def _later(first: Shot, second: Shot) -> bool:
    """Tell whether a shot can have come after another on one clock."""
    ended_s = first.result.pump_off_s
    return second.result.pump_on_s > (first.result.pump_on_s if ended_s is None else ended_s)
