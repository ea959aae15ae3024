"""Where a check reads from: the sitting under way, or a source opened for the check alone."""

from __future__ import annotations

from datetime import datetime
from math import isfinite, nan
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, Signal, Slot

from benchtemp import __version__
from benchtemp.bench import Bench, LiveBench
from benchtemp.readings.reading import Reading, Stream
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, PROBES, Bath, VirtualPot, Water
from benchtemp.window.panel import SourceChoice
from benchtemp.window.session import Session

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot

PLUNGE_AFTER_S = 12.0


def start_check_bench(choice: SourceChoice) -> LiveBench:
    """Return a live bench for a check: nothing reaches the disk before the user's yes."""
    return LiveBench(choice.source, lambda opened: Bench(opened.channels, has_weight=opened.has_weight))


def virtual_bath(bath: Bath, seed: int) -> SourceChoice:
    """Return a virtual pot or ice bath with four probes in it, to practise on."""
    return SourceChoice(VirtualPot(bath, PROBES, seed=seed), keep=False)


def virtual_plunge(seed: int) -> SourceChoice:
    """Return a virtual pot at the boil into which a probe is plunged by itself after a while."""
    water = Water(name="virtual pot at the boil", start_degc=POT_BOILS_DEGC, end_degc=POT_BOILS_DEGC)
    pot = VirtualPot(water, PROBES[:1], seed=seed, rate_hz=10.0, dips_s=((PLUNGE_AFTER_S, float("inf")),))
    return SourceChoice(pot, keep=False)


class BathSource(QObject):
    """Gives snapshots to a check.

    Signals:
        looked: A `Snapshot` of the source in use.
        failed: Why a source opened for the check cannot be read.
        replaced: Another source than before is in use, or none any more.
    """

    looked = Signal(object)
    failed = Signal(str)
    replaced = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._own: Session | None = None
        self._uses_own = False
        self.current: Snapshot | None = None
        self.current_choice: SourceChoice | None = None

    # -- the sitting under way -----------------------------------------------------------------------------

    def show_current(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the latest picture of the sitting under way, None where there is none."""
        other = choice is not self.current_choice
        self.current, self.current_choice = snapshot, choice
        if self._uses_own:
            return
        if other:
            self.replaced.emit()
        if snapshot is not None:
            self.looked.emit(snapshot)

    def use_current(self) -> None:
        """Read from the sitting under way."""
        self._end_own()
        if self._uses_own:
            self._uses_own = False
            self.replaced.emit()

    # -- a source of its own -------------------------------------------------------------------------------

    def begin(self, choice: SourceChoice) -> None:
        """Open a source for the check alone; the sitting under way goes on."""
        if self._own is None:
            self._own = Session(start_check_bench, self)
            self._own.looked.connect(self._look)
            self._own.failed.connect(self.failed)
        self._uses_own = True
        self._own.begin(choice)
        self.replaced.emit()

    @Slot(object)
    def _look(self, snapshot: Snapshot | None) -> None:
        if self._uses_own and snapshot is not None:
            self.looked.emit(snapshot)

    def _end_own(self) -> None:
        if self._own is not None:
            self._own.close()
            self._own.deleteLater()
            self._own = None

    def end(self) -> None:
        """Let go of a source of its own."""
        self._end_own()
        self._uses_own = False

    # -- what is in use ------------------------------------------------------------------------------------

    @property
    def is_own(self) -> bool:
        """Tell whether a source opened for the check is in use."""
        return self._uses_own

    @property
    def choice(self) -> SourceChoice | None:
        """Return what was chosen to read from, None where nothing is open."""
        if self._uses_own:
            return None if self._own is None else self._own.choice
        return self.current_choice

    @property
    def snapshot(self) -> Snapshot | None:
        """Return the latest picture, None where nothing is open."""
        if self._uses_own:
            return None if self._own is None else self._own.snapshot
        return self.current

    @property
    def is_replay(self) -> bool:
        """Tell whether the sitting under way is a replay: its readings are not of today."""
        return not self._uses_own and self.current_choice is not None and not self.current_choice.keep

    @property
    def recording(self) -> str:
        """Return the name of the recording that holds the readings anyway, empty where none does."""
        snapshot = None if self._uses_own else self.current
        return "" if snapshot is None or snapshot.recording is None else snapshot.recording.name


class Gathered:
    """The readings of a check as reported, bath after bath; instants of a scale alone left out.

    Time goes on from one bath to the next, also where the next one is read from another source.

    Attributes:
        readings: All of them, oldest first.
        started: When the first bath began, ISO 8601.
    """

    def __init__(self) -> None:
        self.readings: list[Reading] = []
        self.started = ""
        self._details: dict[str, object] = {}
        self._channels: tuple[str, ...] = ()
        self._row = 0
        self._shift_s = 0.0

    def begin(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take from here on; what was gathered before stays."""
        self._row = 0 if snapshot is None else snapshot.trace.rows_taken
        if choice is not None:
            self._details = dict(choice.source.details)
            self._channels = max(self._channels, tuple(choice.source.channels), key=len)
        if not self.started:
            self.started = datetime.now().astimezone().isoformat(timespec="milliseconds")

    def take(self, snapshot: Snapshot) -> list[Reading]:
        """Return the readings that have come since the last call, and keep them."""
        trace = snapshot.trace
        start = max(0, self._row - trace.first_row)
        times, temps = trace.reported_since(self._row)
        alone = np.isfinite(trace.weight_g[start:]) & ~np.isfinite(temps).any(axis=1)
        self._row = trace.rows_taken
        if not len(times):
            return []
        last_s = self.readings[-1].t_s if self.readings else float("-inf")
        if float(times[0]) + self._shift_s <= last_s:
            self._shift_s = last_s + 1.0 - float(times[0])
        fresh = [
            Reading(t_s + self._shift_s, tuple(row))
            for t_s, row, weighed in zip(times.tolist(), temps.tolist(), alone.tolist(), strict=True)
            if not weighed
        ]
        self.readings += fresh
        return fresh

    def stream(self) -> Stream:
        """Return all readings with a header that says where they come from."""
        width = len(self._channels)
        temps = [(*reading.temps_degc, *[nan] * width)[:width] for reading in self.readings]
        return Stream(
            channels=self._channels,
            t_s=np.array([reading.t_s for reading in self.readings]),
            temps_degc=np.array(temps).reshape(len(temps), width),
            meta={
                "kind": "recording",
                "format_version": 1,
                "program": f"benchtemp {__version__}",
                "started": self.started,
                "source": self._details,
            },
        )


def value_of(reading: Reading, channel: int) -> float:
    """Return what a channel gave, NaN where it gave nothing or is not there."""
    return reading.temps_degc[channel] if channel < len(reading.temps_degc) else nan


def last_degc(snapshot: Snapshot | None, channel: int) -> float | None:
    """Return the last temperature of a channel as reported, None where it gave none or is stale."""
    if snapshot is None or snapshot.stale or not len(snapshot.trace.t_s):
        return None
    reported = snapshot.trace.reported_degc
    if channel >= reported.shape[1]:
        return None
    latest = reported[-50:]
    rows = np.flatnonzero(np.isfinite(latest).any(axis=1))
    value = float(latest[rows[-1], channel]) if rows.size else float("nan")
    return value if isfinite(value) else None
