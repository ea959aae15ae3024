"""What every live source shares: its clock, and getting the same interface back after it went away."""

from __future__ import annotations

import contextlib
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict, Unpack

from benchtemp.errors import BadInput, PortBusy, PortDenied, PortMissing, SourceError
from benchtemp.readings.connection import READ_TIMEOUT_S, UNPLUGGED, Port
from benchtemp.readings.layout import Layout
from benchtemp.readings.ports import PortInfo, find_again, port_at
from benchtemp.readings.reading import Item, Mark, MarkKind, Notice, NoticeKind

SILENT_S = 5.0
"""Silence that is worth a word. Boards that start anew when their port is opened need about 2 s."""
_LOOK_EVERY_S = 1.0
_CLOCK_JUMP_S = 1.0


@dataclass(frozen=True, slots=True)
class BackOff:
    """How long to wait before each new try to get an interface back."""

    first_s: float = 0.5
    longest_s: float = 5.0

    def pause_s(self, failures: int) -> float:
        """Return the pause after so many tries failed in a row, s: doubling, up to the longest."""
        return min(self.first_s * 2.0 ** min(failures, 30), self.longest_s)


class ClockWatch:
    """Notices that the computer slept or that its clock was set.

    The counter that stamps readings stands still while a computer sleeps (on most systems), wall time does
    not; so a jump between the two tells of either. They are compared once a second, which lets slow
    corrections of the wall clock pass.
    """

    def __init__(self, counter_s: float, wall_s: float) -> None:
        self._counter_s = counter_s
        self._wall_s = wall_s

    def jump_s(self, counter_s: float, wall_s: float) -> float:
        """Return by how much wall time ran ahead of the counter since the last look, s; 0 if it did not."""
        if abs(counter_s - self._counter_s) < _LOOK_EVERY_S and abs(wall_s - self._wall_s) < _LOOK_EVERY_S:
            return 0.0
        ahead_s = (wall_s - self._wall_s) - (counter_s - self._counter_s)
        self._counter_s, self._wall_s = counter_s, wall_s
        return ahead_s if abs(ahead_s) > _CLOCK_JUMP_S else 0.0


class Timing(TypedDict, total=False):
    """The clocks a source goes by and how patient it is: the real ones, unless a test gives its own.

    Attributes:
        clock: Seconds from any beginning, never set back.
        wall: Seconds of wall time.
        back_off: Pauses between tries to get the interface back.
    """

    clock: Callable[[], float]
    wall: Callable[[], float]
    back_off: BackOff


class LiveSource(ABC):
    """A source on a serial port: keeps the clock, tells how it is doing, comes back after being unplugged.

    Its kinds say how to connect, to take one turn of reading, and what to say of a long silence.

    Args:
        device: A device name, a link to one, or a pyserial URL.
        layout: How the interface speaks.
        timing: Clocks and pauses of its own, for tests.
    """

    def __init__(self, device: str, layout: Layout, **timing: Unpack[Timing]) -> None:
        self._device = device
        self._layout = layout
        self._clock = timing.get("clock", time.perf_counter)
        self._wall = timing.get("wall", time.time)
        self._back_off = timing.get("back_off", BackOff())
        self._known = PortInfo(device, device)
        self._began_s: float | None = None
        self._port: Port | None = None
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._told: Notice | None = None
        self._pending: list[Item] = []
        self._is_open = False
        self._in_gap = False
        self._failures = 0
        self._next_try_s = 0.0
        self._heard_s = 0.0
        self._looked_s = 0.0
        self._clock_watch = ClockWatch(0.0, 0.0)

    @abstractmethod
    def _connect(self, device: str) -> Port:
        """Open the port and get ready to read from its beginning; raises SourceError or BadInput."""

    @abstractmethod
    def _turn(self, port: Port) -> list[Item]:
        """Wait for what comes within about 0.2 s; raises one of UNPLUGGED when the port is gone."""

    @abstractmethod
    def _silence_text(self) -> str:
        """Return the sentence to show when nothing has arrived for a while."""

    def _patience_s(self) -> float:
        """Return how long a silence may last before it is worth a word, s."""
        return SILENT_S

    @property
    def name(self) -> str:
        """Return the port's human name."""
        return self._known.name

    @property
    def channels(self) -> tuple[str, ...]:
        """Return the names of the layout's channels."""
        return self._layout.channel_names

    @property
    def has_weight(self) -> bool:
        """Return whether weights come with the readings."""
        return self._layout.weight is not None

    @property
    def details(self) -> dict[str, object]:
        """Return what a recording's header keeps about port and layout."""
        told: dict[str, object] = {"port": self._device, "adapter": self._known.name}
        if self._known.identity is not None:
            told["adapter_identity"] = str(self._known.identity)
        told["layout"] = self._layout.name
        told["baud"] = self._layout.wire.baud
        if self._layout.channels:
            told["units_as_sent"] = [channel.unit for channel in self._layout.channels]
        return told

    def open(self) -> None:
        """Open the port; the clock starts at 0.

        Raises:
            SourceError: It cannot be opened; the sentence says why and what to do.
            BadInput: It is no serial port, or does not know the layout's settings.
        """
        self.close()
        self._known = port_at(self._device)
        self._began_s = self._clock()
        self._clock_watch = ClockWatch(self._began_s, self._wall())
        self._told = None
        self._pending = []
        self._in_gap = False
        self._failures = 0
        self._take(self._connect(self._device))
        self._is_open = True
        self._tell(NoticeKind.WAITING, f"{self.name} is open; waiting for its first reading.")

    def read(self) -> Sequence[Item]:
        """Wait at most about 0.2 s and return what came; after an unplugging, try to get the port back."""
        if not self._is_open:
            return []
        port = self._port
        if port is None:
            self._try_again()
        else:
            try:
                items = self._turn(port)
                self._pending.extend(items)
                self._watch_silence()
            except UNPLUGGED as exc:
                self._lose(exc)
        jump_s = self._clock_watch.jump_s(self._clock(), self._wall())
        if jump_s:
            text = f"computer slept or its clock was set ({jump_s:+.1f} s)"
            self._pending.append(Mark(self.now_s(), MarkKind.GAP, text))
        items, self._pending = self._pending, []
        return items

    def now_s(self) -> float:
        """Return the seconds since the source was opened."""
        return 0.0 if self._began_s is None else self._clock() - self._began_s

    def interrupt(self) -> None:
        """Make a waiting `read` return soon; any thread may call it."""
        self._wake.set()
        with self._lock:
            # Not every kind of URL can be interrupted; its reads end by themselves within 0.2 s.
            cancel_read = getattr(self._port, "cancel_read", None)
            if cancel_read is not None:
                with contextlib.suppress(*UNPLUGGED):
                    cancel_read()

    def close(self) -> None:
        """Let go of the port; closing twice is harmless."""
        self._is_open = False
        self._let_go()

    def _take(self, port: Port) -> None:
        with self._lock:
            self._port = port
        self._heard_s = self._looked_s = self.now_s()

    def _let_go(self) -> None:
        with self._lock:
            port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(*UNPLUGGED):  # a pulled cable may make closing fail as well
                port.close()

    def _pause(self, seconds: float) -> None:
        """Wait, unless interrupted."""
        self._wake.wait(max(seconds, 0.0))
        self._wake.clear()

    def _tell(self, kind: NoticeKind, text: str) -> None:
        """Give a notice, unless it is what was told last."""
        if self._told is None or (self._told.kind, self._told.text) != (kind, text):
            self._told = Notice(self.now_s(), kind, text)
            self._pending.append(self._told)

    def _tell_reading(self) -> None:
        """Say that readings come (again) and that all is well."""
        self._in_gap = False
        if self._told is None or self._told.kind is not NoticeKind.READING:
            self._tell(NoticeKind.READING, f"Readings come from {self.name}.")

    def _note_heard(self) -> None:
        """Remember that something arrived just now."""
        self._heard_s = self.now_s()
        self._failures = 0

    def _lose(self, exc: Exception) -> None:
        self._let_go()
        if not self._in_gap:
            self._pending.append(Mark(self.now_s(), MarkKind.GAP, "unplugged"))
        self._in_gap = True
        self._next_try_s = self.now_s() + self._back_off.pause_s(self._failures)
        self._failures += 1
        also = ""
        if "multiple access" in str(exc) and Path(self._device).exists():
            also = " (or another program reads from it; close that one)"
        cure = f"plug it in again{self._where()}, and readings go on by themselves"
        self._tell(NoticeKind.LOST, f"{self.name} went away{also}; {cure}.")

    def _where(self) -> str:
        identity = self._known.identity
        return " at the same USB socket" if identity is not None and not identity.serial_number else ""

    def _try_again(self) -> None:
        left_s = self._next_try_s - self.now_s()
        if left_s > 0:
            self._pause(min(left_s, READ_TIMEOUT_S))
            return
        try:
            port = self._connect(self._where_now())
        except (SourceError, BadInput) as exc:
            self._next_try_s = self.now_s() + self._back_off.pause_s(self._failures)
            self._failures += 1
            if isinstance(exc, PortDenied | PortBusy):
                self._tell(NoticeKind.LOST, str(exc))
            return
        self._take(port)
        self._tell(NoticeKind.WAITING, f"{self.name} is back; waiting for its next reading.")

    def _where_now(self) -> str:
        """Return the device name under which the adapter is to be found now.

        Raises:
            PortMissing: It is not plugged in.
        """
        identity = self._known.identity
        if identity is None:
            return self._device
        found = find_again(identity)
        if found is None:
            raise PortMissing(f"{self.name} is not plugged in; plug it in again{self._where()}.")
        return found.device

    def _watch_silence(self) -> None:
        """Say something about a long silence; see whether the adapter is gone where reads do not tell."""
        now_s = self.now_s()
        silent_s = now_s - self._heard_s
        if silent_s < _LOOK_EVERY_S or now_s - self._looked_s < _LOOK_EVERY_S:
            return
        self._looked_s = now_s
        if self._known.identity is not None and find_again(self._known.identity) is None:
            raise PortMissing(f"{self.name} is not plugged in.")
        if silent_s >= self._patience_s():
            self._tell(NoticeKind.WAITING, self._silence_text())
