"""Replay: a recorded stream as a source, at any speed, with pause, step and seek."""

from __future__ import annotations

import threading
import time
from bisect import bisect_right
from collections.abc import Callable, Sequence
from math import inf

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Item, Mark, Notice, NoticeKind, Reading, Stream

SPEED_MIN, SPEED_MAX = 0.25, 64.0
_BATCH = 2000


class ReplaySource:
    """Gives a stream's readings and marks again, in the order and with the times they were recorded with.

    `play`, `pause`, `step`, `seek` and `speed` may be used by any thread.

    Attributes:
        name: What is replayed.
        stream: The stream itself.
    """

    def __init__(
        self,
        stream: Stream,
        name: str,
        *,
        speed: float = 1.0,
        paused: bool = False,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        self.stream = stream
        self.name = name
        self._items = stream.items()
        if not self._items:
            raise BadInput(f"{name} holds no readings; there is nothing to replay.")
        # A mark may stand after a reading with a slightly later time: it is due when that reading is.
        self._due_s: list[float] = []
        latest_s = -inf
        for item in self._items:
            latest_s = max(latest_s, item.t_s)
            self._due_s.append(latest_s)
        self._clock = clock
        self._changed = threading.Condition()
        self._next = 0
        self._speed = self._checked_speed(speed)
        self._paused = paused
        self._from_s = self._due_s[0]
        self._from_clock_s = 0.0
        self._rewound = False
        self._finished_told = False
        self._interrupted = False
        self._closed = False

    # -- source

    @property
    def channels(self) -> tuple[str, ...]:
        """Return the stream's temperature channels."""
        return self.stream.channels

    @property
    def has_weight(self) -> bool:
        """Tell whether the stream holds weights."""
        return self.stream.weight_g is not None

    @property
    def details(self) -> dict[str, object]:
        """Return what a header should know of this source."""
        return {"kind": "replay", "name": self.name}

    def open(self) -> None:
        """Begin at the stream's first instant."""
        with self._changed:
            self._from_clock_s = self._clock()
            self._closed = False

    def read(self) -> Sequence[Item]:
        """Return what is due by now, waiting at most 0.2 s for something to be."""
        deadline_s = time.monotonic() + 0.2
        with self._changed:
            while True:
                if self._rewound:
                    self._rewound = False
                    return [Notice(self._from_s, NoticeKind.REWOUND, "")]
                due = self._take_due()
                if due or self._closed:
                    return due
                if self._next == len(self._items) and not self._finished_told:
                    self._finished_told = True
                    return [Notice(self._due_s[-1], NoticeKind.FINISHED, "The replay is over.")]
                wait_s = deadline_s - time.monotonic()
                if wait_s <= 0 or self._interrupted:
                    self._interrupted = False
                    return []
                if not self._paused and self._next < len(self._items):
                    wait_s = min(wait_s, max(0.0, self._due_s[self._next] - self._position_s()) / self._speed)
                self._changed.wait(max(wait_s, 0.001))

    def _take_due(self) -> list[Reading | Mark]:
        until = bisect_right(self._due_s, self._position_s(), lo=self._next)
        until = min(until, self._next + _BATCH)
        due = self._items[self._next : until]
        self._next = until
        return due

    def now_s(self) -> float:
        """Return the place in the stream, in the stream's own time."""
        with self._changed:
            return self._position_s()

    def interrupt(self) -> None:
        """Make a waiting `read` return."""
        with self._changed:
            self._interrupted = True
            self._changed.notify_all()

    def close(self) -> None:
        """Stop for good."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    # -- playing

    def _position_s(self) -> float:
        if self._paused:
            return self._from_s
        if self._speed == inf:
            return self._due_s[-1]
        return min(self._from_s + (self._clock() - self._from_clock_s) * self._speed, self._due_s[-1])

    def _move_to(self, position_s: float) -> None:
        self._from_s = position_s
        self._from_clock_s = self._clock()
        self._changed.notify_all()

    @staticmethod
    def _checked_speed(speed: float) -> float:
        if speed != inf and not SPEED_MIN <= speed <= SPEED_MAX:
            raise BadInput(
                f"A replay cannot run at {speed:g} times; choose {SPEED_MIN:g} to {SPEED_MAX:g}, "
                "or as fast as it goes."
            )
        return speed

    @property
    def start_s(self) -> float:
        """Return the stream's first time."""
        return self._due_s[0]

    @property
    def end_s(self) -> float:
        """Return the stream's last time."""
        return self._due_s[-1]

    @property
    def paused(self) -> bool:
        """Tell whether the replay stands still."""
        return self._paused

    @property
    def speed(self) -> float:
        """Return the speed, 1.0 for as it was, infinite for as fast as it goes."""
        return self._speed

    @speed.setter
    def speed(self, speed: float) -> None:
        checked = self._checked_speed(speed)
        with self._changed:
            self._move_to(self._position_s())
            self._speed = checked

    def play(self) -> None:
        """Go on from where the replay stands."""
        with self._changed:
            if self._paused:
                self._paused = False
                self._move_to(self._from_s)

    def pause(self) -> None:
        """Stand still."""
        with self._changed:
            position_s = self._position_s()
            self._paused = True
            self._move_to(position_s)

    def step(self) -> None:
        """Stand still and go on by one reading."""
        with self._changed:
            position_s = self._position_s()
            self._paused = True
            following = bisect_right(self._due_s, position_s)
            self._move_to(self._due_s[min(following, len(self._due_s) - 1)])

    def seek(self, t_s: float) -> None:
        """Go to a time; going back gives all from the start again, at once, after a `rewound` notice."""
        with self._changed:
            target_s = min(max(t_s, self._due_s[0]), self._due_s[-1])
            if target_s < self._position_s():
                self._next = 0
                self._rewound = True
                self._finished_told = False
            self._move_to(target_s)
