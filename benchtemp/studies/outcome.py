"""What every study gives: a verdict in one sentence, its limits, concerns, tables and charts."""

from __future__ import annotations

from collections import Counter
from enum import StrEnum
from math import isfinite
from typing import Any

import msgspec

from benchtemp.studies.chart import Chart
from benchtemp.studies.evidence.shot_set import LeftOut, ShotSet
from benchtemp.studies.probe_checks import ProbeCheck, check_phrases
from benchtemp.studies.wording import delta, listed, temp
from benchtemp.units import TempUnit


class About(StrEnum):
    """What a concern is about."""

    TOO_FEW = "too few shots"
    MIXED_PROBES = "mixed probes"
    UNCHECKED_PROBE = "unchecked probe"
    OLD_CHECK = "old check"
    FAILED_CHECK = "failed check"
    PROBE_MOVED = "probe moved"
    CONFOUNDED = "confounded"
    DRIFT = "drift"
    OUTLIER = "outlier"
    COARSE = "coarse readings"
    NOT_IN_CONTROL = "not in control"
    OUT_OF_RANGE = "outside what was tested"
    FIT = "poor fit"
    SETTINGS = "settings"
    FILES = "files"


class Concern(msgspec.Struct, frozen=True, kw_only=True):
    """Something that speaks against taking a verdict at its word.

    Attributes:
        about: Its kind.
        text: A sentence; `{d0}` and `{s0}` in it stand for the first of `deltas_k`, without and with its
            sign, `{t0}` for the first of `temps_degc`.
        shots: Paths of the shots it is about, if it is about certain ones.
        deltas_k: Differences named in the sentence, K.
        temps_degc: Temperatures named in the sentence, °C.
        decimals: Of those.
    """

    about: About
    text: str
    shots: tuple[str, ...] = ()
    deltas_k: tuple[float, ...] = ()
    temps_degc: tuple[float, ...] = ()
    decimals: int = 2

    def said(self, unit: TempUnit = TempUnit.DEGC) -> str:
        """Return the sentence in a unit."""
        text = self.text
        for index, value_k in enumerate(self.deltas_k):
            text = text.replace(f"{{d{index}}}", delta(value_k, unit, self.decimals))
            text = text.replace(f"{{s{index}}}", delta(value_k, unit, self.decimals, sign=True))
        for index, value_degc in enumerate(self.temps_degc):
            text = text.replace(f"{{t{index}}}", temp(value_degc, unit, self.decimals))
        return text


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """What a study comes to.

    Attributes:
        sentence: One plain sentence with its uncertainty.
        limits: On what it rests and where it ends, as short phrases.
        concerns: As sentences.
    """

    sentence: str
    limits: tuple[str, ...] = ()
    concerns: tuple[str, ...] = ()


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """A table for reading: texts with units applied; the first column names the row."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


class UsedShot(msgspec.Struct, frozen=True, kw_only=True):
    """A shot a study rests on, as little of it as a chart needs."""

    path: str
    name: str
    machine: str
    pulled: str
    brew_temp_degc: float
    reading_uncertainty_k: float | None = None


def used_shots(shots: ShotSet) -> tuple[UsedShot, ...]:
    """Return the shots used, in order."""
    return tuple(
        UsedShot(
            path=shot.path,
            name=shot.name,
            machine=shot.machine,
            pulled=shot.pulled,
            brew_temp_degc=shot.brew_temp_degc,
            reading_uncertainty_k=shot.reading_uncertainty_k,
        )
        for shot in shots.used
        if shot.brew_temp_degc is not None
    )


class Study(msgspec.Struct, frozen=True, kw_only=True, tag_field="study"):
    """What all studies share; every temperature in °C, every difference in K.

    Attributes:
        machine: What it is about.
        used: The shots it rests on, in order of time.
        left_out: Shots that were meant but not used, with their reasons.
        probe_checks: The probes of the shots used, with the checks around them.
        concerns: What speaks against it, weightiest first.
        mixed: What was set differently among shots that are taken as alike, such as the setpoint.
    """

    machine: str = ""
    used: tuple[UsedShot, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    probe_checks: tuple[ProbeCheck, ...] = ()
    concerns: tuple[Concern, ...] = ()
    mixed: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        raise NotImplementedError

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        raise NotImplementedError

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests, as short phrases."""
        raise NotImplementedError

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return its figures as tables."""
        raise NotImplementedError

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return its charts, the most telling first; their figures stay in °C, sentences are in `unit`."""
        raise NotImplementedError

    def verdict(self, unit: TempUnit = TempUnit.DEGC) -> Verdict:
        """Return what the study comes to."""
        return Verdict(
            sentence=self.sentence(unit),
            limits=(*self.limits(unit), *check_phrases(self.probe_checks, unit)),
            concerns=tuple(concern.said(unit) for concern in self.concerns),
        )

    def to_plain(self, *, charts: bool = False) -> dict[str, Any]:
        """Return everything as plain values that JSON can hold: no number is infinite or NaN, but null."""
        plain = msgspec.to_builtins(self)
        for written, concern in zip(plain["concerns"], self.concerns, strict=True):
            written["text"] = concern.said()
        plain["verdict"] = msgspec.to_builtins(self.verdict())
        if charts:
            plain["charts"] = [msgspec.to_builtins(chart) for chart in self.charts()]
        finite: dict[str, Any] = _finite(plain)
        return finite

    def hedged(self, sentence: str) -> str:
        """Return a verdict's sentence, saying so where settings that it knows nothing of were mixed."""
        if not self.mixed:
            return sentence
        return (
            f"{sentence.removesuffix('.')}; but these shots differ in {listed(self.mixed)} too, which may be "
            "behind some of that."
        )

    def counted_phrase(self) -> str:
        """Return how many of the shots that were meant were used."""
        meant = len(self.used) + sum(not left.beside for left in self.left_out)
        used = (
            f"{len(self.used)} of {meant} shots used"
            if meant > len(self.used)
            else f"{plural(meant, 'shot')} used"
        )
        beside = Counter(left.reasons[-1] for left in self.left_out if left.beside)
        if not beside:
            return used
        reason = beside.most_common(1)[0][0].removeprefix("its ").removeprefix("it ")
        return f"{used}, {plural(beside.total(), 'other')} passed over: {reason}"


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, dict):
        return {name: _finite(item) for name, item in value.items()}
    return [_finite(item) for item in value] if isinstance(value, list | tuple) else value


def plural(count: int, noun: str) -> str:
    """Return a count with its noun.

    >>> plural(1, "shot"), plural(3, "shot")
    ('1 shot', '3 shots')
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"


def machine_name(shots: ShotSet) -> str:
    """Return what a study's machine is called."""
    names = [name for name in shots.machines if name]
    if not names:
        return "The machine"
    return (
        names[0] if len(names) == 1 else " and ".join(names) if len(names) == 2 else f"{len(names)} machines"
    )
