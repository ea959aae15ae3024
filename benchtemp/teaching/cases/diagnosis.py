"""Marking a diagnosis: right or wrong, what pointed to the fault, and which test would have told."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi

import msgspec

from benchtemp.probes.check import Check
from benchtemp.shots.shot import Shot
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.evidence import Evidence, Finding, evidence_from
from benchtemp.teaching.cases.fault import FAULT_TEXTS, SIZED, Diagnosis, Fault
from benchtemp.units import TempUnit, delta_to

__all__ = ["CaseMarking", "Evidence", "Finding", "evidence_from", "mark_diagnosis"]

FAULT_POINTS, SIZE_POINTS = 70.0, 30.0
SIZE_FULL_K, SIZE_FALL_K = 0.3, 0.7
"""A size is right within the first; its points fall to none over the second."""

_POINTERS: dict[Fault, tuple[str, ...]] = {
    Fault.NONE: ("level", "scatter", "flow", "probe"),
    Fault.OFFSET: ("level", "scatter", "probe"),
    Fault.THERMOSTAT: ("scatter", "warming"),
    Fault.PROBE_LOW: ("probe", "level", "scatter"),
    Fault.COLD_GROUP: ("warming", "level"),
    Fault.SLOW_FLOW: ("flow", "level"),
    Fault.GRIND: ("flow", "level"),
}
"""What speaks for each fault, most telling first."""

_SIGNS: dict[Fault, str] = {
    Fault.NONE: "Nothing wrong shows as shots that agree with the display and with one another.",
    Fault.OFFSET: "A wrong offset shows as shots that agree with one another and not with the display.",
    Fault.THERMOSTAT: "A worn thermostat shows as shots that differ with the moment they are pulled at.",
    Fault.PROBE_LOW: "A low probe shows in boiling water, and makes every machine look equally cold.",
    Fault.COLD_GROUP: "A cold group shows as shots that grow hotter, less and less, until two come alike.",
    Fault.SLOW_FLOW: "Slow water shows on scale and clock; it cools on its way and brews a little colder.",
    Fault.GRIND: "A wrong grind shows on scale and clock too, and follows the grinder: ground otherwise, the "
    "same machine gives what it should. Finer beds brew a little colder, coarser ones hotter.",
}

_PROBE_TEST = (
    "A check in boiling water or ice: display and probe disagree, and only a known temperature says which of "
    "them is right."
)
_CYCLE_TEST = (
    "Six shots or more at uneven intervals: evenly spaced ones may meet the heater at the same moment each "
    "time and look steady."
)
_WARM_TEST = (
    "A first shot as soon as you come, and more until two are alike: waiting lets a cold group warm through, "
    "and two or three shots do not tell warming from scatter."
)
_FLOW_TEST = "Weigh and time every shot: how fast water comes is seen on scale and clock alone."
_GRIND_TEST = (
    "The same shot at a clearly coarser grind: through a bed that was too dense water comes faster then, "
    "through a narrowed jet it does not."
)
_LEVEL_TEST = "Three shots or more: one alone says neither how far off the machine is nor how steady."


class CaseMarking(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a diagnosis.

    Attributes:
        right: Whether the fault is right.
        fault: What it really was.
        size_k: Its true size, K; None where it has none.
        size_right: Whether the size is right; None where none was asked for.
        points: 0 to 100: 70 for the fault (100 where it has no size), 30 for its size.
        verdict: Right or wrong, in one sentence.
        pointers: What in the trainee's shots and checks pointed to it, sentence by sentence.
        separating: Which test would have told the candidates apart; empty where his tests did.
        evidence: All that his tests show.
        shots, checks: What was used.
    """

    right: bool
    fault: Fault
    size_k: float | None
    size_right: bool | None
    points: float
    verdict: str
    pointers: tuple[str, ...]
    separating: tuple[str, ...]
    evidence: Evidence
    shots: int
    checks: int


def mark_diagnosis(
    case: Case,
    diagnosis: Diagnosis,
    shots: Sequence[Shot],
    checks: Sequence[Check] = (),
    *,
    unit: TempUnit = TempUnit.DEGC,
) -> CaseMarking:
    """Open the case and hold against it what was named, with the tests that were made.

    Args:
        case: The case.
        diagnosis: What the trainee names.
        shots: All he pulled, in order.
        checks: Of the case's probe.
        unit: Of the temperatures in the sentences.
    """
    sealed = case.break_seal()
    evidence = evidence_from(case.brief, shots, checks, unit=unit)
    right = diagnosis.fault is sealed.fault
    size_right, share = _size(diagnosis, sealed.size_k) if right else (None, 0.0)
    points = 0.0
    if right:
        points = FAULT_POINTS + SIZE_POINTS * share if sealed.fault in SIZED else FAULT_POINTS + SIZE_POINTS
    return CaseMarking(
        right=right,
        fault=sealed.fault,
        size_k=sealed.size_k,
        size_right=size_right,
        points=round(points, 1),
        verdict=_verdict(diagnosis, sealed.fault, sealed.size_k, evidence, unit),
        pointers=_pointers(sealed.fault, diagnosis.fault, evidence),
        separating=_separating(sealed.fault, evidence),
        evidence=evidence,
        shots=evidence.shots,
        checks=evidence.checks,
    )


def _size(diagnosis: Diagnosis, size_k: float | None) -> tuple[bool | None, float]:
    """Return whether a size is right, and the share of its points."""
    if size_k is None:
        return None, 0.0
    if diagnosis.size_k is None:
        return False, 0.0
    beyond_k = abs(diagnosis.size_k - size_k) - SIZE_FULL_K
    if beyond_k <= 0.0:
        return True, 1.0
    return False, 0.5 * (1.0 + cos(pi * beyond_k / SIZE_FALL_K)) if beyond_k < SIZE_FALL_K else 0.0


def _sized(fault: Fault, size_k: float | None, unit: TempUnit) -> str:
    """Return a size in words, empty where the fault has none."""
    if size_k is None or fault not in SIZED:
        return ""
    amount = f"{delta_to(abs(size_k), unit):.1f} {unit.symbol}"
    if fault is Fault.PROBE_LOW:
        return f"{amount} {'low' if size_k < 0.0 else 'high'}"
    return f"{amount} {'above' if size_k > 0.0 else 'below'} its display"


def _verdict(
    diagnosis: Diagnosis,
    fault: Fault,
    size_k: float | None,
    evidence: Evidence,
    unit: TempUnit,
) -> str:
    size = _sized(fault, size_k, unit)
    truth = FAULT_TEXTS[fault] + (f" ({size})" if size else "")
    if diagnosis.fault is not fault:
        return f"Wrong: you named '{FAULT_TEXTS[diagnosis.fault]}'; in truth {truth}."
    told = f"Right: {truth}"
    if size and _size(diagnosis, size_k)[0] is False:
        named = _sized(fault, diagnosis.size_k, unit)
        told += f"; you named {named or 'no size'}"
    if len(evidence.candidates) > 1:
        told += ". Your tests left other faults open, though: it was partly a guess"
    return f"{told}."


def _pointers(fault: Fault, named: Fault, evidence: Evidence) -> tuple[str, ...]:
    """Return what in the tests spoke for the fault, and what would have shown what was named instead."""
    found = [
        evidence.finding(name).sentence
        for name in _POINTERS[fault]
        if evidence.finding(name).value is not None
    ]
    signs = [_SIGNS[fault]]
    if named is not fault:
        signs.append(_SIGNS[named])
        if named not in evidence.candidates:
            found.append("These figures spoke against what you named.")
    return (*signs, *found)


def _separating(fault: Fault, evidence: Evidence) -> tuple[str, ...]:
    """Return the tests that would have told apart what the trainee's tests left open."""
    left = set(evidence.candidates) | {fault}
    if len(left) == 1:
        return ()
    if left == {Fault.SLOW_FLOW, Fault.GRIND} and evidence.finding("flow").value is not None:
        return (_GRIND_TEST,)
    if evidence.finding("scatter").value is None:
        return (_LEVEL_TEST, _FLOW_TEST, _PROBE_TEST)
    if left == {Fault.COLD_GROUP, Fault.THERMOSTAT}:
        return (_WARM_TEST,)
    tests = []
    if Fault.PROBE_LOW in left and evidence.finding("probe").value is None:
        tests.append(_PROBE_TEST)
    if Fault.THERMOSTAT in left:
        tests.append(_CYCLE_TEST)
    if Fault.COLD_GROUP in left:
        tests.append(_WARM_TEST)
    if left & {Fault.SLOW_FLOW, Fault.GRIND} and evidence.finding("flow").value is None:
        tests.append(_FLOW_TEST)
    elif left >= {Fault.SLOW_FLOW, Fault.GRIND}:
        tests.append(_GRIND_TEST)
    return tuple(tests or [_LEVEL_TEST])
