"""What a report is about: shots with their traces, the files they come from, probes and plans."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from benchtemp.logbook.folder import Logbook
from benchtemp.probes.probe import Probe
from benchtemp.readings.reading import FloatArray, Stream
from benchtemp.shots.shot import Shot
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.plans.status import PlanStatus

GAP_S = 2.0
"""A line is broken where there was no reading for longer than this."""


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """A shot's corrected temperatures of the basket.

    Attributes:
        t_s: Seconds since pump on, shape (n,); increasing.
        degc: Shape (n,); NaN where a gap begins.
    """

    t_s: FloatArray
    degc: FloatArray

    def between(self, low_s: float, high_s: float) -> Trace:
        """Return the part within [low_s, high_s]."""
        inside = (self.t_s >= low_s) & (self.t_s <= high_s)
        return Trace(self.t_s[inside], self.degc[inside])


def trace_from(t_s: FloatArray, degc: FloatArray) -> Trace:
    """Return a trace whose line is broken where there was nothing for long."""
    breaks = np.flatnonzero(np.diff(t_s) > GAP_S)
    middles = 0.5 * (t_s[breaks] + t_s[breaks + 1])
    return Trace(np.insert(t_s, breaks + 1, middles), np.insert(degc, breaks + 1, np.nan))


@dataclass(frozen=True, slots=True, eq=False)
class TestedShot:
    """One shot of a report.

    Attributes:
        shot: Its figures and entries.
        record: The same as studies see it; its reasons are those to show.
        path: The file it was read from.
        file: That file's name.
        used: Whether studies use it.
        trace: None where the file could not give one.
        source: What its header says of where the readings came from.
        notes: The operator's, with the time since pump on where they were timed.
    """

    # It is no test, whatever its name begins with.
    __test__ = False

    shot: Shot
    record: ShotRecord
    path: Path
    file: str
    used: bool = True
    trace: Trace | None = None
    source: Mapping[str, Any] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Return what to call it: day, time and number."""
        return self.record.name


@dataclass(frozen=True, slots=True)
class TestedFile:
    """A file a report rests on.

    Attributes:
        name: Without its folder, unless two have the same.
        what: `shot`, `recording`, or what its header says.
        sha256: Of all its bytes, hexadecimal.
        size: Bytes.
        shots: How many of the report's shots were read from it.
        edits: How often its header was changed after it was written.
        remark: What is wrong with it, a sentence; empty where nothing is.
    """

    __test__ = False

    name: str
    what: str
    sha256: str
    size: int
    shots: int = 0
    edits: int = 0
    remark: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Tested:
    """Everything a report is made from.

    Attributes:
        shots: All that were meant, in order of time, also those that do not count.
        shot_set: The same as studies take them.
        files: In the order they were read; recordings that shot files were cut from among them.
        flushes: How many pulls were flushes.
        complaints: Files that could not be read, and what was passed over in others.
        probes: By name, as far as the logbook knows them.
        plans: Where the plans stand that these shots were pulled for.
        streams: Recordings by file name.
        logbook: Where the files lie, None where that is not known.
    """

    __test__ = False

    shots: tuple[TestedShot, ...] = ()
    shot_set: ShotSet = field(default_factory=ShotSet)
    files: tuple[TestedFile, ...] = ()
    flushes: int = 0
    complaints: tuple[str, ...] = ()
    probes: Mapping[str, Probe] = field(default_factory=dict)
    plans: tuple[PlanStatus, ...] = ()
    streams: Mapping[str, Stream] = field(default_factory=dict)
    logbook: Logbook | None = None

    @property
    def used(self) -> tuple[TestedShot, ...]:
        """Return the shots studies use."""
        return tuple(one for one in self.shots if one.used)

    @property
    def machines(self) -> tuple[str, ...]:
        """Return the machines' names, in order of appearance."""
        return tuple(dict.fromkeys(one.record.machine for one in self.shots if one.record.machine))

    @property
    def is_simulated(self) -> bool:
        """Tell whether any readings come from a virtual machine."""
        return any("virtual" in str(one.source.get("kind", "")).casefold() for one in self.shots)
