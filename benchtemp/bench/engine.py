"""The engine: takes readings, marks and key presses one by one, keeps them, and tells what they mean.

No thread, no clock, no printing. Whoever owns a Bench calls `take` from one thread only; time comes in with
what is taken, so feeding a recording back gives the same stages, shots and results, bit for bit. What is
taken goes to the recording first, then through the stages; what a pull becomes is `bench.pulls`.
"""

from __future__ import annotations

import datetime as dt
from collections import deque
from dataclasses import dataclass
from math import isfinite, nan

from benchtemp.bench.keeping import Keeper
from benchtemp.bench.pulls import Pulls, Setup
from benchtemp.bench.snapshot import Event, MarkTaken, Refused, Snapshot, StageChanged, StatusChanged
from benchtemp.bench.trace import TraceBuffer
from benchtemp.errors import BadInput
from benchtemp.probes.correction import Correction
from benchtemp.readings.reading import (
    TARED_BY_SCALE,
    Item,
    Mark,
    MarkKind,
    Notice,
    NoticeKind,
    Reading,
)
from benchtemp.shots.budget import Grounds, standing_expanded_k
from benchtemp.shots.entries import Entries
from benchtemp.shots.stages import Stage, StageChange, initial_state, step

TIME_DECIMALS = 4
"""Times are kept to 0.1 ms, in memory as on disk, so that a replay sees the very same numbers."""


@dataclass(frozen=True, slots=True)
class Press:
    """The pump key was pressed: pump off if a marked pump runs, else pump on."""

    t_s: float


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
        self._setup = Setup(
            channels=channels,
            basket=basket,
            entries=entries or Entries(),
            corrections=corrections,
            grounds=grounds or Grounds(),
            has_weight=has_weight,
            started=started,
            first_number=first_number,
        )
        self._check_warnings = check_warnings
        self._standing: tuple[int, float | None] = (-1000, None)
        self._nominal_period_s = period_s
        self._status = NoticeKind.WAITING
        self._status_text = ""
        self._begin()

    def _begin(self) -> None:
        self._state = initial_state()
        self._entries = self._setup.entries
        self._trace = TraceBuffer(len(self.channels))
        self._marks: list[Mark] = []
        self._pulls = Pulls(self._setup, self._trace, self._marks, self._keeper)
        self._last_row_s = -1.0
        self._last_temps: tuple[float, ...] = ()
        self._last_reasons: tuple[str, ...] = ()
        self._last_s: float | None = None
        self._intervals: deque[float] = deque(maxlen=21)
        self._weight_g = nan
        self._zero_g = 0.0

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
        if corrected and self._setup.corrections:
            corrected = tuple(
                correction.apply(value)
                for correction, value in zip(self._setup.corrections, corrected, strict=True)
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
        if self._pulls.has_settled(t_s):
            events += self._pulls.settle(self._entries.recipe)
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
            return events + self._pulls.revise(mark)
        if mark.kind in {MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.UNDO}:
            if mark.kind is MarkKind.PUMP_ON:
                events += self._pulls.settle(self._entries.recipe)
            events += self._step(mark)
        return events

    def _can_undo(self) -> bool:
        if self._state.stage in {Stage.RISING, Stage.PLATEAU}:
            return self._state.pump_marked
        # A wrong second press has just ended the shot: it may go on for as long as its file is not settled.
        return self._pulls.can_change

    def _take_notice(self, notice: Notice) -> list[Event]:
        self._status, self._status_text = notice.kind, notice.text
        events: list[Event] = []
        if notice.kind is NoticeKind.REWOUND:
            self._begin()
        elif notice.kind is NoticeKind.FINISHED:
            events = self.finish()
        return [*events, StatusChanged(notice.t_s, notice.kind, notice.text)]

    def _step(self, item: Reading | Mark) -> list[Event]:
        self._state, changes = step(self._state, item, self.basket)
        events: list[Event] = []
        for change in changes:
            events.append(StageChanged(change))
            if change.stage is Stage.ENDED:
                events += self._pulls.end(change, self._began_s(change), self._entries.recipe)
            elif change.resumed:
                events += self._pulls.withdraw()
        return events

    def _began_s(self, change: StageChange) -> float:
        known = (self._state.rise_s, self._state.pump_on_s, change.since_s)
        return min(time_s for time_s in known if time_s is not None)

    def finish(self) -> list[Event]:
        """End the sitting: settle what is open. The recording itself is closed by whoever opened it."""
        return self._pulls.settle(self._entries.recipe)

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
            expanded_k = standing_expanded_k(whole_degc, self._setup.correction, self._setup.grounds)
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
            has_weight=self._setup.has_weight,
            recipe=self._entries.recipe,
            tags=self._entries.tags,
            shots=tuple(self._pulls.shots),
            status=self._status,
            status_text=self._status_text,
            trouble=self._keeper.trouble if self._keeper else None,
            recording=self._keeper.recording_path if self._keeper else None,
            marks=tuple(self._marks),
            probes=tuple(correction.probe for correction in self._setup.corrections),
            check_warnings=self._check_warnings,
        )
