"""An interface that sends a line for every reading, by itself or when asked."""

from __future__ import annotations

from collections import deque
from math import isfinite
from typing import NamedTuple, Unpack

from benchtemp.readings.connection import READ_TIMEOUT_S, Port, open_port
from benchtemp.readings.garbage import GarbageWatch, reads_as_text
from benchtemp.readings.layout import Layout
from benchtemp.readings.lines import LATE_S, LineDecoder, Stall, TimedLine
from benchtemp.readings.link import SILENT_S, LiveSource, Timing
from benchtemp.readings.parser import LineParser, compile_parser
from benchtemp.readings.polling import Polling
from benchtemp.readings.reading import Item, Mark, MarkKind, NoticeKind, Reading
from benchtemp.readings.values import EmfToDegc, shown

RAW_LINES = 200
_BACKLOG_BYTES = 256 * 1024


class RawLine(NamedTuple):
    """A line as it came, and when its first byte arrived (s on the source's clock)."""

    t_s: float
    raw: bytes


class SerialSource(LiveSource):
    """Reads lines from a serial port.

    Args:
        device: A device name, a link to one, or a pyserial URL.
        layout: How the interface speaks; kind `lines`.
        emf_to_degc: Turns mV and the reference junction's °C into °C; needed for layouts in mV.
        timing: Clocks and pauses of its own, for tests.

    Raises:
        BadInput: The layout is not one of lines, or needs what is not at hand.
    """

    def __init__(
        self,
        device: str,
        layout: Layout,
        emf_to_degc: EmfToDegc | None = None,
        **timing: Unpack[Timing],
    ) -> None:
        super().__init__(device, layout, **timing)
        self._parse = self._parser(layout, emf_to_degc)
        self._raw: deque[RawLine] = deque(maxlen=RAW_LINES)
        character_s = 0.0 if "://" in device else layout.wire.character_s
        self._decoder = LineDecoder(character_s, drop_first=not layout.request)
        self._polling = Polling(layout.request_bytes, layout.period_s, layout.reply_s)
        self._drained_s = 0.0
        self._garbage = GarbageWatch()

    def _parser(self, layout: Layout, emf_to_degc: EmfToDegc | None) -> LineParser:
        return compile_parser(layout, emf_to_degc)

    @property
    def details(self) -> dict[str, object]:
        """Return what a recording's header keeps about port and layout."""
        told = super().details
        if self._layout.request:
            told["request"] = self._layout.request
        return told

    def raw_lines(self) -> tuple[RawLine, ...]:
        """Return the last 200 lines as they came, readings or not; any thread may call it."""
        with self._lock:
            return tuple(self._raw)

    def _connect(self, device: str) -> Port:
        port = open_port(device, self._layout.wire)
        self._decoder.restart()
        self._polling.restart()
        self._drained_s = self.now_s()
        self._garbage.well()
        return port

    def _turn(self, port: Port) -> list[Item]:
        began_s = self.now_s()
        waiting = port.in_waiting
        if not waiting and self._polling.is_on:
            pause_s = self._polling.ask(port, began_s)
            if pause_s > 0:
                self._drained_s = began_s
                self._pause(min(pause_s, READ_TIMEOUT_S))
                return []
        since_s = self._drained_s if waiting else began_s
        chunk = port.read(waiting or 1)
        t_s = self.now_s()
        if not chunk:  # nothing came in time, or the wait was interrupted
            self._drained_s = since_s if waiting else began_s
            return []
        self._drained_s = began_s if waiting else t_s
        if t_s - since_s > LATE_S:  # what waits behind this chunk may be as old
            chunk += _backlog(port)
            t_s = self._drained_s = self.now_s()
        self._note_heard()
        lines = self._decoder.feed(chunk, t_s, since_s)
        if not lines:
            self._note_garbage(self._garbage.stray(chunk, t_s), t_s)
            return []
        with self._lock:
            self._raw.extend(RawLine(line.t_s, line.raw) for line in lines)
        return self._items(lines)

    def _items(self, lines: list[TimedLine]) -> list[Item]:
        items: list[Item] = []
        for line in lines:
            values = self._parse(line.raw)
            if values is None:
                self._note_garbage(self._garbage.bad_line(line.raw, line.t_s), line.t_s)
                continue
            self._garbage.well()
            self._polling.answered()
            temps_degc, weight_g, reasons = values
            if temps_degc or isfinite(weight_g):
                items.append(Reading(line.t_s, temps_degc, weight_g, reasons, line.time_estimated))
        if items:
            self._tell_reading()
            if self._decoder.stall is not None:
                items.insert(0, _stall_mark(lines[0].t_s, self._decoder.stall))
        return items

    def _note_garbage(self, sample: bytes, t_s: float) -> None:
        """Say that what arrives is no reading, once that is certain; show it among the raw lines."""
        if not sample or (self._told is not None and self._told.kind is NoticeKind.GARBAGE):
            return
        self._tell(NoticeKind.GARBAGE, self._garbage_text(sample))
        with self._lock:
            if not self._raw or self._raw[-1].raw != sample:
                self._raw.append(RawLine(t_s, sample))

    def _garbage_text(self, sample: bytes) -> str:
        if not reads_as_text(sample):
            return (
                f"Bytes come from {self.name}, but they are no text at {self._layout.wire.baud} baud; "
                f"choose the baud rate the interface sends at, or let the layout be guessed."
            )
        return (
            f"Lines come from {self.name}, such as “{shown(sample.decode('latin-1'))}”, but the layout "
            f"“{self._layout.name}” finds no reading in them; choose another layout or let it be guessed."
        )

    def _patience_s(self) -> float:
        return max(SILENT_S, 3.0 * self._decoder.rhythm_s, 2.0 * self._layout.period_s)

    def _silence_text(self) -> str:
        if self._layout.request:
            return (
                f"{self.name} does not answer “{self._layout.request}”; check cable, baud rate and line end, "
                f"and that the instrument is set to be asked."
            )
        return (
            f"Nothing arrives from {self.name}; check the cable and that the interface is on, and whether it "
            f"must be asked for readings (then its layout needs a request)."
        )


def _backlog(port: Port) -> bytes:
    """Return everything else that waits, so that all of it is spread over the same time."""
    waiting = bytearray()
    while len(waiting) < _BACKLOG_BYTES and (more := port.in_waiting):
        waiting += port.read(more)
    return bytes(waiting)


def _stall_mark(t_s: float, stall: Stall) -> Mark:
    readings = "reading" if stall.lines == 1 else "readings"
    waited = f"{stall.lines} {readings} waited up to {stall.late_s:.1f} s"
    return Mark(t_s, MarkKind.GAP, f"{waited}, times spread over {stall.spread_s:.1f} s")
