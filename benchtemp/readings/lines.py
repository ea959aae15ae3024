"""Bytes into lines, each with the moment at which its first byte arrived.

A line's first byte is what is nearest to the measurement: at 9600 baud a line of 27 characters ends 27 ms
later. Bytes that waited in a buffer because nobody read them carry no arrival time of their own; lines among
them are spread at the interface's own rhythm and say so.
"""

from __future__ import annotations

import re
from collections import deque
from statistics import median
from typing import NamedTuple

LONGEST_LINE_BYTES = 4096
LATE_S = 0.3
"""Bytes that may have waited longer than this have no arrival time to trust. A read waits 0.2 s at most."""

_LINE_END = re.compile(rb"[\r\n]")
_RHYTHM_LINES = 32


class TimedLine(NamedTuple):
    """A line without its end.

    Attributes:
        raw: The line's bytes, never empty.
        t_s: When its first byte arrived, s on the clock of the chunks.
        time_estimated: That time was worked out from the interface's rhythm, not observed.
    """

    raw: bytes
    t_s: float
    time_estimated: bool = False


class Stall(NamedTuple):
    """Lines that waited unread.

    Attributes:
        late_s: How long they may have waited at most, s.
        lines: How many there were.
        spread_s: Time from the first to the last of them as they were spread, s.
    """

    late_s: float
    lines: int
    spread_s: float


class LineDecoder:
    r"""Cuts a stream of bytes into lines, wherever the chunks begin and end.

    Lines end in CR, LF or both; empty lines are passed over. A line longer than 4 kB is dropped whole (at a
    wrong baud rate an end may never come). What comes before the first line end is a part of a line and is
    dropped as well, unless the interface speaks only when asked.

    Args:
        character_s: How long one character takes on the wire, s; 0 where bytes come in packets.
        drop_first: Whether the stream may begin in the middle of a line.

    >>> decoder = LineDecoder(character_s=0.001)
    >>> decoder.feed(b"2.5\r\n93.25\r\n", 10.0, 9.9)
    [TimedLine(raw=b'93.25', t_s=9.994, time_estimated=False)]
    """

    def __init__(self, character_s: float = 0.0, *, drop_first: bool = True) -> None:
        self._character_s = character_s
        self._drop_first = drop_first
        self._last_start_s = float("-inf")
        self._intervals_s: deque[float] = deque(maxlen=_RHYTHM_LINES)
        self.stall: Stall | None = None
        """Lines of the last chunk that had waited unread; None where none had."""
        self.dropped_bytes = 0
        """How many bytes were dropped because they belong to no whole line."""
        self.restart()

    def restart(self) -> None:
        """Begin anew after the interface went away; its rhythm is remembered."""
        self._kept = bytearray()
        self._start_s = 0.0
        self._dropping = self._drop_first
        self._rhythm_broken = True

    @property
    def rhythm_s(self) -> float:
        """Return the median time from line to line, s; 0 as long as it is not known."""
        return median(self._intervals_s) if self._intervals_s else 0.0

    def feed(self, chunk: bytes, t_s: float, since_s: float | None = None) -> list[TimedLine]:
        """Take the next bytes and return the lines that they complete.

        Args:
            chunk: Bytes as they were read, of any number.
            t_s: When they were read.
            since_s: The earliest moment at which they can have arrived: when the buffer was last seen empty.
                Without it they are taken to have come one right after the other.
        """
        self.stall = None
        floor_s = max(
            self._last_start_s, t_s - len(chunk) * self._character_s if since_s is None else since_s
        )
        raws: list[bytes] = []
        starts_s: list[float] = []
        waited: list[int] = []
        position = 0
        for found in _LINE_END.finditer(chunk):
            end = found.start()
            begun_before = bool(self._kept)
            self._keep(chunk, position, end, t_s, floor_s)
            position = end + 1
            raw = self._finish()
            if raw:
                if not begun_before:
                    waited.append(len(raws))
                raws.append(raw)
                starts_s.append(self._start_s)
        self._keep(chunk, position, len(chunk), t_s, floor_s)
        if not raws:
            return []
        estimated = self._spread(
            starts_s, waited, floor_s, t_s - floor_s if since_s is None else t_s - since_s
        )
        lines = [
            TimedLine(raw, start_s, estimated and number in waited)
            for number, (raw, start_s) in enumerate(zip(raws, starts_s, strict=True))
        ]
        for line in lines:
            self._note_rhythm(line)
        return lines

    def _keep(self, chunk: bytes, start: int, end: int, t_s: float, floor_s: float) -> None:
        """Keep a part of a chunk as the beginning, or more, of the present line."""
        if start == end:
            return
        if self._dropping:
            self.dropped_bytes += end - start
            return
        if not self._kept:
            self._start_s = max(floor_s, t_s - (len(chunk) - start - 1) * self._character_s)
        self._kept += chunk[start:end]
        if len(self._kept) > LONGEST_LINE_BYTES:
            self.dropped_bytes += len(self._kept)
            self._kept.clear()
            self._dropping = True

    def _finish(self) -> bytes:
        """Return the line that ends here, empty where there is none to give."""
        raw = bytes(self._kept)
        self._kept.clear()
        self._dropping = False
        return raw

    def _spread(self, starts_s: list[float], waited: list[int], floor_s: float, window_s: float) -> bool:
        """Spread the lines that lay in the buffer at the interface's rhythm, within the time they had.

        Returns:
            Whether they had waited so long that their times are estimates.
        """
        late = window_s > LATE_S
        if not waited or (len(waited) == 1 and not late):
            return False
        last_s = starts_s[waited[-1]]
        begun = starts_s[waited[0] - 1] if waited[0] else floor_s
        room_s = max(last_s - max(begun, floor_s), 0.0)
        step_s = room_s / len(waited)
        if self._intervals_s:
            step_s = min(step_s, median(self._intervals_s))
        elif not late:
            return False
        for before, number in enumerate(reversed(waited)):
            starts_s[number] = last_s - before * step_s
        if late:
            self.stall = Stall(window_s, len(waited), last_s - starts_s[waited[0]])
        return late

    def _note_rhythm(self, line: TimedLine) -> None:
        if not (line.time_estimated or self._rhythm_broken):
            self._intervals_s.append(line.t_s - self._last_start_s)
        self._rhythm_broken = line.time_estimated
        self._last_start_s = line.t_s
