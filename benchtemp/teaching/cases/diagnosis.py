"""What a trainee's shots and checks show, and marking what he names."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from benchtemp.probes.check import Check
from benchtemp.shots.shot import Shot
from benchtemp.teaching.cases.case import Brief, Case
from benchtemp.teaching.cases.fault import Diagnosis, Fault
from benchtemp.units import TempUnit


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that shots or checks show.

    Attributes:
        name: For instance `level`, `scatter`, `trend`, `flow`, `probe`.
        value: In `unit`; None where the trainee's tests do not tell it.
        uncertainty: Standard uncertainty, same unit.
        unit: Such as K.
        sentence: In words.
    """

    name: str
    value: float | None
    uncertainty: float = 0.0
    unit: str = ""
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
    shots: int
    checks: int


def evidence_from(
    brief: Brief, shots: Sequence[Shot], checks: Sequence[Check] = (), *, unit: TempUnit = TempUnit.DEGC
) -> Evidence:
    """Return what shots and probe checks of a case show.

    Args:
        brief: Of the case.
        shots: In the order pulled, from one or several sittings.
        checks: Of the case's probe.
        unit: Of the temperatures in the sentences.
    """
    raise NotImplementedError


def mark_diagnosis(
    case: Case,
    diagnosis: Diagnosis,
    shots: Sequence[Shot],
    checks: Sequence[Check] = (),
    *,
    unit: TempUnit = TempUnit.DEGC,
) -> CaseMarking:
    """Open the case and hold against it what was named, with the tests that were made."""
    raise NotImplementedError
