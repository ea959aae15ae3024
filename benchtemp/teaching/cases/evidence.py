"""What a trainee's shots and probe checks show of a case, in words, and which faults they leave possible.

Everything is held against what the brief says of a sound machine, and what the model says of a faulty one
(`judging`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import hypot, sqrt

import msgspec
import numpy as np

from benchtemp.probes.check import Check
from benchtemp.readings.reading import FloatArray
from benchtemp.shots.shot import Shot
from benchtemp.studies.evidence.typed import SETPOINT_TAGS, tag, temp_from
from benchtemp.teaching.cases.case import Brief
from benchtemp.teaching.cases.fault import Fault
from benchtemp.teaching.cases.judging import UNEVEN_SHARE, Run, Temperatures, flow_faults, probe_faults
from benchtemp.units import MINUS, TempUnit, delta_to

_GRIND = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*")
_SAME_SETPOINT_K = 0.05
_SAME_DOSE_G = 0.6
_USUAL_GRIND = 100.0


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


def grind_percent(shot: Shot) -> float:
    """Return the grind a shot was pulled with, 100 where nothing says otherwise."""
    found = _GRIND.fullmatch(shot.tags.get("grind", ""))
    return float(found[1]) if found else _USUAL_GRIND


def set_degc(shot: Shot) -> float | None:
    """Return what the display was set to for a shot, None where nothing says."""
    return temp_from(tag(shot.tags, SETPOINT_TAGS))


class _Looked:
    """Shots and checks of a case being looked at."""

    def __init__(self, brief: Brief, shots: Sequence[Shot], checks: Sequence[Check], unit: TempUnit) -> None:
        self._brief = brief
        self._shots = shots
        self._checks = checks
        self._unit = unit
        self._usual = [shot for shot in shots if self._is_usual(shot)]
        self._parted = _sittings(self._usual)
        brewed = [[shot for shot in sitting if shot.result.brew_temp_degc] for sitting in self._parted]
        self._temps = Temperatures(
            sittings=[self._beside_display(sitting) for sitting in brewed],
            times_s=[np.array([shot.result.pump_on_s for shot in sitting]) for sitting in brewed],
            first_s=self._usual[0].result.pump_on_s if self._usual else None,
            uneven=self._uneven,
            level_k=brief.level_k,
            repeat_k=brief.repeat_k,
        )
        self._off_k = self._temps.all_k
        runs = [self._run(shot) for shot in shots]
        self._runs = [run for run in runs if run is not None and run.tells]

    def _is_usual(self, shot: Shot) -> bool:
        """Tell whether a shot was pulled at the settings as found; others brew otherwise by right."""
        setpoint_degc = set_degc(shot)
        moved = setpoint_degc is not None and (
            abs(setpoint_degc - self._brief.display_degc) > _SAME_SETPOINT_K
        )
        dosed = shot.dose_g is not None and abs(shot.dose_g - self._brief.dose_g) > _SAME_DOSE_G
        return not moved and not dosed and grind_percent(shot) == _USUAL_GRIND

    def _run(self, shot: Shot) -> Run | None:
        ran_s = shot.result.shot_time_s
        if ran_s is None or shot.yield_g is None:
            return None
        dose_g = self._brief.dose_g if shot.dose_g is None else shot.dose_g
        return Run(dose_g, shot.yield_g, ran_s, grind_percent(shot))

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
    def _scatter_k(self) -> float | None:
        return float(self._off_k.std(ddof=1)) if len(self._off_k) > 1 else None

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
        gaps_s = np.concatenate(
            [np.empty(0), *(np.diff([shot.result.pump_on_s for shot in sitting]) for sitting in self._parted)]
        )
        return len(gaps_s) > 1 and float(gaps_s.std() / gaps_s.mean()) >= UNEVEN_SHARE / 2.0

    # -- in words

    def level(self) -> Finding:
        off_k, display = self._off_k, f"the display's {self._shown(self._brief.display_degc)}"
        if not len(off_k):
            return Finding(
                name="level",
                value=None,
                sentence="No shot with a brew temperature was pulled at the settings as found.",
            )
        mean_k = float(off_k.mean())
        uncertainty_k = (self._scatter_k or self._temps.sd_k) / sqrt(len(off_k))
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
            return Finding(
                name="scatter",
                value=None,
                sentence="It takes two shots at the settings as found to say something about scatter.",
            )
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
            (float(one[-1] - one[0]) for one in self._temps.sittings if len(one) > 1), key=abs, default=0.0
        )
        shape = "hotter and hotter, by less and less" if self._temps.rises else "not in one direction"
        return Finding(
            name="warming",
            value=rise_k,
            uncertainty=sqrt(2.0) * self._temps.sd_k,
            sentence=f"From first shot to last a sitting goes {self._k(rise_k, signed=True)}, {shape}.",
        )

    def flow(self) -> Finding:
        runs = self._runs
        if not runs:
            return Finding(
                name="flow",
                value=None,
                unit="share",
                sentence="No shot was both weighed and timed, so nothing is known of the flow.",
            )
        shares = [run.yield_g / run.cup_g() for run in runs]
        spread = float(np.mean([run.bed_spread_g / run.cup_g() for run in runs]))
        settings = {(run.grind_percent, run.dose_g): run for run in reversed(runs)}
        told = [
            f"{run.yield_g:.1f} g in {run.ran_s:.1f} s where a sound machine gives {run.cup_g():.1f} g"
            + (f" (grind {grind:g} %, {dose_g:g} g)" if len(settings) > 1 else "")
            for (grind, dose_g), run in sorted(settings.items())
        ]
        return Finding(
            name="flow",
            value=float(np.median(shares)),
            uncertainty=spread / sqrt(len(runs)),
            unit="share",
            sentence=f"The scale: {'; '.join(told)}.",
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
        flow = flow_faults(self._runs)
        of_flow = {Fault.SLOW_FLOW, Fault.GRIND}
        if Fault.NONE not in flow:
            left &= flow
        else:
            # A yield as on a sound machine: what slow water or another grind might be behind it stays open.
            left -= of_flow - flow
            left &= self._temps.faults()
        error = self._probe_error
        if error is not None:
            probe = probe_faults(*error)
            if Fault.PROBE_LOW not in probe:
                left.discard(Fault.PROBE_LOW)
            if Fault.NONE not in probe:
                left &= {Fault.PROBE_LOW}
        return tuple(fault for fault in Fault if fault in left)


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
