"""The engine: takes readings, marks and key presses one by one, keeps them, and tells what they mean.

No thread, no clock, no printing. Whoever owns a Bench calls `take` from one thread only; time comes in with
what is taken, so feeding a recording back gives the same stages, shots and results, bit for bit.
"""

from __future__ import annotations

import datetime as dt
from collections import deque
from dataclasses import dataclass
from math import isfinite, nan
from typing import Any

import msgspec
import numpy as np

from benchtemp.bench.keeping import Keeper
from benchtemp.bench.snapshot import (
    Event,
    MarkTaken,
    PullDismissed,
    Refused,
    ShotEnded,
    ShotRevised,
    ShotSettled,
    ShotWithdrawn,
    Snapshot,
    StageChanged,
    StatusChanged,
)
from benchtemp.bench.trace import TraceBuffer
from benchtemp.errors import BadInput
from benchtemp.probes.correction import UNCORRECTED, Correction
from benchtemp.readings.reading import (
    TARED_BY_SCALE,
    Item,
    Mark,
    MarkKind,
    Notice,
    NoticeKind,
    Reading,
    Stream,
    moment_text,
)
from benchtemp.shots.budget import Grounds, standing_expanded_k
from benchtemp.shots.entries import Entries, entries_until
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import PullKind, Result
from benchtemp.shots.shot import YIELD_SETTLES_S, Shot, make_shot, scale_yield_g
from benchtemp.shots.stages import Stage, StageChange, initial_state, step

LEAD_S = 15.0
"""How much of the trace before a pull goes into its file: where it came from belongs to the evidence."""
TIME_DECIMALS = 4
"""Times are kept to 0.1 ms, in memory as on disk, so that a replay sees the very same numbers."""


@dataclass(frozen=True, slots=True)
class Press:
    """The pump key was pressed: pump off if a marked pump runs, else pump on."""

    t_s: float


@dataclass
class _Pull:
    """The last pull that ended, while what drips, settles or is taken back can still change it."""

    shot: Shot
    first_row: int
    marks: tuple[Mark, ...]
    settled: bool = False


class Bench:
    """One sitting at one machine.

    Attributes:
        channels: Names of the source's channels.
        basket: Index of the channel whose probe sits in the basket.
    """

    def __init__(
        self,
        channels: tuple[str, ...],
        *,
        keeper: Keeper | None = None,
        entries: Entries | None = None,
        corrections: tuple[Correction, ...] = (),
        grounds: Grounds | None = None,
        check_warnings: tuple[str, ...] = (),
        basket: int = 0,
        has_weight: bool = False,
        started: dt.datetime | None = None,
        period_s: float | None = None,
        first_number: int = 1,
    ) -> None:
        if not 0 <= basket < max(1, len(channels)):
            raise BadInput(f"There is no channel {basket + 1}; the source has {len(channels)}.")
        self.channels = channels
        self.basket = basket
        self._keeper = keeper
        self._start_entries = entries or Entries()
        self._corrections = corrections
        self._correction = corrections[basket] if basket < len(corrections) else UNCORRECTED
        self._grounds = grounds or Grounds()
        self._check_warnings = check_warnings
        self._standing: tuple[int, float | None] = (-1000, None)
        self._has_weight = has_weight
        self._started = started
        self._first_number = first_number
        self._nominal_period_s = period_s
        self._status = NoticeKind.WAITING
        self._status_text = ""
        self._begin()

    def _begin(self) -> None:
        self._state = initial_state()
        self._entries = self._start_entries
        self._trace = TraceBuffer(len(self.channels))
        self._marks: list[Mark] = []
        self._last_row_s = -1.0
        self._last_temps: tuple[float, ...] = ()
        self._last_reasons: tuple[str, ...] = ()
        self._last_s: float | None = None
        self._intervals: deque[float] = deque(maxlen=21)
        self._weight_g = nan
        self._zero_g = 0.0
        self._shots: list[Shot] = []
        self._scale_g: dict[int, float | None] = {}
        self._pull: _Pull | None = None
        self._last_pull_end_row = 0
        self._pull_count = 0

    # -- taking

    def take(self, item: Item | Press) -> list[Event]:
        """Take one reading, mark, notice or press; return what it meant, in order."""
        if isinstance(item, Reading):
            return self._take_reading(item)
        if isinstance(item, Mark):
            return self._take_mark(item)
        if isinstance(item, Press):
            kind = MarkKind.PUMP_OFF if self.pump_running else MarkKind.PUMP_ON
            return self._take_mark(Mark(item.t_s, kind))
        return self._take_notice(item)

    @property
    def pump_running(self) -> bool:
        """Tell whether a marked pump on waits for its pump off."""
        state = self._state
        return state.stage in {Stage.RISING, Stage.PLATEAU} and state.pump_marked and state.pump_off_s is None

    def _take_reading(self, reading: Reading) -> list[Event]:
        t_s = round(reading.t_s, TIME_DECIMALS)
        if t_s <= self._last_row_s:
            t_s = round(self._last_row_s + 10**-TIME_DECIMALS, TIME_DECIMALS)
        if t_s != reading.t_s:
            reading = Reading(
                t_s, reading.temps_degc, reading.weight_g, reading.reasons, reading.time_estimated
            )
        self._last_row_s = t_s
        if self._keeper:
            self._keeper.record(reading)
        corrected = reading.temps_degc
        if corrected and self._corrections:
            corrected = tuple(
                correction.apply(value)
                for correction, value in zip(self._corrections, corrected, strict=True)
            )
        self._trace.append(t_s, reading.temps_degc, corrected, reading.weight_g)
        if isfinite(reading.weight_g):
            self._weight_g = reading.weight_g
        events: list[Event] = []
        if reading.temps_degc:
            if self._last_s is not None:
                self._intervals.append(t_s - self._last_s)
            self._last_s = t_s
            self._last_temps = corrected
            self._last_reasons = reading.reasons
            if corrected is not reading.temps_degc:
                reading = Reading(t_s, corrected, reading.weight_g, reading.reasons, reading.time_estimated)
            events = self._step(reading)
        if self._pull and not self._pull.settled:
            off_s = self._pull.shot.result.pump_off_s
            if off_s is None or t_s >= off_s + YIELD_SETTLES_S:
                events += self._settle()
        return events

    def _take_mark(self, mark: Mark) -> list[Event]:
        mark = Mark(round(mark.t_s, TIME_DECIMALS), mark.kind, " ".join(mark.text.split()))
        if mark.kind is MarkKind.SET:
            try:
                self._entries = self._entries.taking(mark.text)
            except BadInput as error:
                return [Refused(mark.t_s, str(error))]
        elif mark.kind is MarkKind.UNDO and not self._can_undo():
            return [Refused(mark.t_s, "There is no pump mark in this shot to take back.")]
        if self._keeper:
            self._keeper.record(mark)
        self._marks.append(mark)
        events: list[Event] = [MarkTaken(mark)]
        if mark.kind is MarkKind.TARE:
            by_scale = mark.text == TARED_BY_SCALE
            self._zero_g = self._weight_g if isfinite(self._weight_g) and not by_scale else 0.0
        if mark.kind is MarkKind.SET:
            return events + self._revise(mark)
        if mark.kind in {MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.UNDO}:
            if mark.kind is MarkKind.PUMP_ON and self._pull and not self._pull.settled:
                events += self._settle()
            events += self._step(mark)
        return events

    def _can_undo(self) -> bool:
        if self._state.stage in {Stage.RISING, Stage.PLATEAU}:
            return self._state.pump_marked
        # A wrong second press has just ended the shot: it may go on for as long as its file is not settled.
        return self._pull is not None and not self._pull.settled

    def _take_notice(self, notice: Notice) -> list[Event]:
        self._status, self._status_text = notice.kind, notice.text
        events: list[Event] = []
        if notice.kind is NoticeKind.REWOUND:
            self._begin()
        elif notice.kind is NoticeKind.FINISHED:
            events = self.finish()
        return [*events, StatusChanged(notice.t_s, notice.kind, notice.text)]

    # -- stages and pulls

    def _step(self, item: Reading | Mark) -> list[Event]:
        self._state, changes = step(self._state, item, self.basket)
        events: list[Event] = []
        for change in changes:
            events.append(StageChanged(change))
            if change.stage is Stage.ENDED:
                events += self._end_pull(change)
            elif change.resumed:
                events += self._withdraw()
        return events

    def _withdraw(self) -> list[Event]:
        if self._pull is None:
            return []
        shot = self._pull.shot
        self._shots = [other for other in self._shots if other.key != shot.key]
        if self._keeper:
            self._keeper.withdraw(shot)
        self._pull = None
        return [ShotWithdrawn(shot)]

    def _end_pull(self, change: StageChange) -> list[Event]:
        if change.kind is None:
            return [PullDismissed(change.t_s, change.reason)]
        began_s = min(
            time_s
            for time_s in (self._state.rise_s, self._state.pump_on_s, change.since_s)
            if time_s is not None
        )
        first_row = max(self._trace.row_at(began_s - LEAD_S), self._last_pull_end_row)
        result, marks = self._read_pull(first_row, began_s)
        if result is None:
            return [PullDismissed(change.t_s, change.reason or "read afterwards, the trace holds no shot")]
        self._pull_count += 1
        counted = sum(not shot.is_flush for shot in self._shots)
        number = 0 if result.kind is PullKind.FLUSH else self._first_number + counted
        shot = self._shot_from(result, first_row, number=number, key=self._pull_count)
        weighed = shot.yield_g is not None and shot.yield_g == self._scale_g[shot.key]
        shot = msgspec.structs.replace(shot, filling=weighed and not shot.is_flush)
        shot = self._keep(shot, first_row, marks)
        self._pull = _Pull(shot, first_row, marks)
        self._shots.append(shot)
        return [ShotEnded(shot)]

    def _read_pull(self, first_row: int, began_s: float) -> tuple[Result | None, tuple[Mark, ...]]:
        """Read the trace from a row on, as whole files are read; return the pull that began then."""
        t_s, _, corrected, _ = self._trace.cut(first_row)
        marks = tuple(mark for mark in self._marks if not len(t_s) or mark.t_s >= t_s[0] - 1.0)
        with_probe = np.isfinite(corrected).any(axis=1) if self._has_weight else slice(None)
        recipe = self._entries.recipe
        found = find_pulls(
            t_s[with_probe],
            corrected[with_probe, self.basket],
            marks,
            band_degc=(recipe.band_low_degc, recipe.band_high_degc),
            plateau_min_s=recipe.plateau_min_s,
        )
        if not found.pulls:
            return None, marks
        return min(found.pulls, key=lambda pull: abs(pull.pump_on_s - began_s)), marks

    def _shot_from(self, result: Result, first_row: int, *, number: int, key: int) -> Shot:
        entries, _ = entries_until(self._start_entries, self._marks, result.pump_off_s)
        scale_g = None
        if self._has_weight:
            t_s, _, _, weight_g = self._trace.cut(first_row)
            scale_g = scale_yield_g(t_s, weight_g, self._marks, result.pump_on_s, result.pump_off_s)
        self._scale_g[key] = scale_g
        shot = make_shot(
            result,
            entries.for_shot(number),
            number=number,
            scale_g=scale_g,
            correction=self._correction,
            grounds=self._grounds,
        )
        return msgspec.structs.replace(
            shot,
            key=key,
            started=moment_text(self._started, result.pump_on_s),
            recording=self._keeper.recording_name if self._keeper else "",
        )

    def _keep(self, shot: Shot, first_row: int, marks: tuple[Mark, ...]) -> Shot:
        if self._keeper is None:
            return shot
        t_s, reported, _, weight_g = self._trace.cut(first_row)
        inside = [mark for mark in marks if mark.kind is not MarkKind.SET]
        stream = Stream(
            channels=self.channels,
            t_s=t_s,
            temps_degc=reported,
            weight_g=weight_g if self._has_weight else None,
            marks=tuple(inside),
            mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s, side="left")) for mark in inside),
            meta={"basket_channel": self.channels[self.basket]},
        )
        return self._keeper.keep(shot, stream)

    def _settle(self) -> list[Event]:
        """Read the last pull once more, now that the cup is full and the trace after it is known."""
        pull = self._pull
        assert pull is not None
        pull.settled = True
        self._last_pull_end_row = self._trace.row_at(
            pull.shot.result.pump_off_s if pull.shot.result.pump_off_s is not None else self._last_row_s
        )
        result, marks = self._read_pull(pull.first_row, pull.shot.result.pump_on_s)
        if result is None or result.kind is not pull.shot.result.kind:
            result = pull.shot.result
        shot = self._shot_from(result, pull.first_row, number=pull.shot.number, key=pull.shot.key)
        shot = self._keep(msgspec.structs.replace(shot, path=pull.shot.path), pull.first_row, marks)
        revised = self._replace(shot) if shot != pull.shot else []
        return [*revised, ShotSettled(shot)]

    def _replace(self, shot: Shot) -> list[Event]:
        self._shots = [shot if other.key == shot.key else other for other in self._shots]
        if self._pull and self._pull.shot.key == shot.key:
            self._pull.shot = shot
        return [ShotRevised(shot)]

    def _revise(self, mark: Mark) -> list[Event]:
        """Bring a value entered for a certain shot into that shot and its file."""
        events: list[Event] = []
        for shot in list(self._shots):
            if shot.is_flush or not mark.text.startswith(f"shot {shot.number} "):
                continue
            entries, _ = entries_until(self._start_entries, self._marks, shot.result.pump_off_s)
            entered = entries.for_shot(shot.number)
            revised = msgspec.structs.replace(
                shot,
                dose_g=entered.dose_g,
                yield_g=self._scale_g.get(shot.key) if entered.yield_g is None else entered.yield_g,
                tags=entered.tags,
                filling=shot.filling and entered.yield_g is None,
            )
            if self._keeper:
                revised = self._keeper.revise(revised)
            events += self._replace(revised)
        return events

    def finish(self) -> list[Event]:
        """End the sitting: settle what is open. The recording itself is closed by whoever opened it."""
        return self._settle() if self._pull and not self._pull.settled else []

    # -- telling

    @property
    def period_s(self) -> float | None:
        """Return the usual time between readings, None until known."""
        if len(self._intervals) >= 3:
            return sorted(self._intervals)[len(self._intervals) // 2]
        return self._nominal_period_s

    def _running_expanded_k(self, mean_degc: float | None) -> float | None:
        """Return the standing uncertainty at the running brew temperature, worked out once per whole °C."""
        if mean_degc is None or not isfinite(mean_degc):
            return None
        whole_degc = round(mean_degc)
        if self._standing[0] != whole_degc:
            expanded_k = standing_expanded_k(whole_degc, self._correction, self._grounds)
            self._standing = (whole_degc, expanded_k)
        return self._standing[1]

    def snapshot(self, now_s: float) -> Snapshot:
        """Return where the bench stands, as a picture that never changes."""
        state = self._state
        return Snapshot(
            now_s=now_s,
            channels=self.channels,
            trace=self._trace.view(),
            last_s=self._last_s,
            temps_degc=self._last_temps,
            reasons=self._last_reasons,
            period_s=self.period_s,
            basket=self.basket,
            stage=state.stage,
            since_s=state.since_s,
            pump_on_s=state.pump_on_s,
            pump_marked=state.pump_marked,
            pump_running=self.pump_running,
            pump_off_s=state.pump_off_s,
            rise_s=state.rise_s,
            plateau_start_s=state.plateau_start_s,
            running_brew_degc=state.plateau_mean_degc,
            running_expanded_k=self._running_expanded_k(state.plateau_mean_degc),
            weight_g=self._weight_g - self._zero_g,
            has_weight=self._has_weight,
            recipe=self._entries.recipe,
            tags=self._entries.tags,
            shots=tuple(self._shots),
            status=self._status,
            status_text=self._status_text,
            trouble=self._keeper.trouble if self._keeper else None,
            recording=self._keeper.recording_path if self._keeper else None,
            marks=tuple(self._marks),
            probes=tuple(correction.probe for correction in self._corrections),
            check_warnings=self._check_warnings,
        )

    def header(self) -> dict[str, Any]:
        """Return what a recording's header needs to know of this bench's start: recipe and tags."""
        return {
            "recipe": msgspec.structs.asdict(self._start_entries.recipe),
            "tags": dict(self._start_entries.tags),
        }
