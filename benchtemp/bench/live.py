"""The engine running: one thread reads, one owns the bench; others look at snapshots and post commands."""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from benchtemp.bench.engine import Bench, Press
from benchtemp.bench.snapshot import Event, MarkTaken, Refused, Snapshot, SourceFailed
from benchtemp.errors import BenchtempError
from benchtemp.readings.reading import TARED_BY_SCALE, Item, Mark, MarkKind
from benchtemp.readings.source import Keyed, Pumped, Source, Tared

_WAKE_S = 0.1
_EVENTS_MAX = 10_000
_PUMP_MARKS = {MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.UNDO}
_PICTURE_AFTER_S = 0.1
"""However fast readings come, a new picture is given out after so long."""


class LiveBench:
    """A bench fed by a source in the background.

    Attributes:
        source: Where readings come from.
        scale: A second source that gives weights only, or None.
    """

    def __init__(
        self,
        source: Source,
        build: Callable[[Source], Bench],
        *,
        scale: Source | None = None,
        on_close: Callable[[], None] = lambda: None,
    ) -> None:
        """Prepare; nothing runs before `start`.

        Args:
            source: Opened by `start`, in the background.
            build: Makes the bench once the source is open and its channels are known; called in the thread
                that owns the bench from then on.
            scale: Opened beside the source; its times are moved onto the source's clock.
            on_close: Called last, in the same thread (closes the recording).
        """
        self.source = source
        self.scale = scale
        self._build = build
        self._on_close = on_close
        self._inbox: queue.SimpleQueue[tuple[Item | Press, ...]] = queue.SimpleQueue()
        self._stopping = threading.Event()
        self._snapshot: Snapshot | None = None
        self._events: deque[Event] = deque(maxlen=_EVENTS_MAX)
        self._owner = threading.Thread(target=self._own, name="bench", daemon=True)
        self._readers: list[threading.Thread] = []
        self.failure: BaseException | None = None

    def start(self) -> None:
        """Open the source and go; a failure to open arrives as a `SourceFailed` event."""
        self._owner.start()

    def stop(self, timeout_s: float = 5.0) -> None:
        """Settle what is open, close the source and the recording; returns when all threads have ended."""
        self._stopping.set()
        for source in self._sources():
            source.interrupt()
        self._inbox.put(())
        if self._owner.ident is not None:
            self._owner.join(timeout_s)

    @property
    def running(self) -> bool:
        """Tell whether the bench is at work."""
        return self._owner.is_alive()

    # -- commands, from any thread

    def press(self) -> None:
        """Press the pump key now."""
        self._inbox.put((Press(self._key_s()),))

    def mark(self, kind: MarkKind, text: str = "", t_s: float | None = None) -> None:
        """Make a mark, now or with the time it was begun at (a note is timed when its key is pressed)."""
        if t_s is None:
            t_s = self._key_s() if kind in _PUMP_MARKS else self.source.now_s()
        self._inbox.put((Mark(t_s, kind, text),))

    def _key_s(self) -> float:
        """Return the time for a key that moves something at the source, which may wait there for it."""
        return self.source.key_s() if isinstance(self.source, Keyed) else self.source.now_s()

    def tare(self) -> None:
        """Set the scale to zero: by its own command where it has one, else from here on in what is shown."""
        t_s = self._key_s()
        for source in self._sources():
            if isinstance(source, Tared) and source.tare():
                self.mark(MarkKind.TARE, TARED_BY_SCALE, t_s)
                return
        self.mark(MarkKind.TARE, t_s=t_s)

    # -- what to show, from any thread

    @property
    def snapshot(self) -> Snapshot | None:
        """Return the latest picture with the clock brought up to now; None until the source is open."""
        latest = self._snapshot
        if latest is None:
            return None
        if isinstance(self.source, Keyed) and self.source.hurrying:
            return replace(latest, now_s=latest.now_s if latest.last_s is None else latest.last_s)
        return replace(latest, now_s=self.source.now_s())

    def drain_events(self) -> list[Event]:
        """Return the events since the last call, oldest first."""
        drained = []
        with contextlib.suppress(IndexError):
            while True:
                drained.append(self._events.popleft())
        return drained

    # -- in the background

    def _sources(self) -> list[Source]:
        return [self.source, *([self.scale] if self.scale else [])]

    def _own(self) -> None:
        bench: Bench | None = None
        try:
            self.source.open()
            bench = self._build(self.source)
            self._publish(bench)
            offset_s = 0.0
            if self.scale:
                self.scale.open()
                offset_s = self.source.now_s() - self.scale.now_s()
            self._start_reader(self.source, 0.0)
            if self.scale:
                self._start_reader(self.scale, offset_s)
            self._serve(bench)
        except BenchtempError as error:
            self._events.append(SourceFailed(str(error)))
        except BaseException as error:
            self.failure = error
            self._events.append(SourceFailed(f"benchtemp has a fault and stopped reading: {error!r}"))
            raise
        finally:
            self._wind_up(bench)

    def _wind_up(self, bench: Bench | None) -> None:
        self._stopping.set()
        for source in self._sources():
            source.interrupt()
        for reader in self._readers:
            reader.join(2.0)
        for source in self._sources():
            source.close()
        if bench is not None:
            while not self._inbox.empty():
                self._take(bench, self._inbox.get())
            self._events.extend(bench.finish())
            self._publish(bench)
        self._on_close()

    def _start_reader(self, source: Source, offset_s: float) -> None:
        reader = threading.Thread(
            target=self._read, args=(source, offset_s), name=f"reader of {source.name}", daemon=True
        )
        self._readers.append(reader)
        reader.start()

    def _read(self, source: Source, offset_s: float) -> None:
        try:
            while not self._stopping.is_set():
                items = source.read()
                if items:
                    if offset_s:
                        items = [replace(item, t_s=item.t_s + offset_s) for item in items]
                    self._inbox.put(tuple(items))
        except BenchtempError as error:
            self._events.append(SourceFailed(str(error)))
            if source is self.source:
                self._stopping.set()
                self._inbox.put(())

    def _serve(self, bench: Bench) -> None:
        while not self._stopping.is_set():
            try:
                batch = self._inbox.get(timeout=_WAKE_S)
            except queue.Empty:
                batch = ()
            until_s = time.monotonic() + _PICTURE_AFTER_S
            self._take(bench, batch)
            while not self._inbox.empty() and time.monotonic() < until_s:
                self._take(bench, self._inbox.get())
            self._publish(bench)

    def _take(self, bench: Bench, batch: tuple[Item | Press, ...]) -> None:
        for item in batch:
            events = bench.take(item)
            if not events:
                continue
            self._events.extend(events)
            for event in events:
                if isinstance(event, MarkTaken):
                    if isinstance(self.source, Pumped) and event.mark.kind in _PUMP_MARKS:
                        # A mark taken back leaves the pump as the marks before it say.
                        self.source.pump(on=bench.pump_running, t_s=event.mark.t_s)
                    self._key_done(event.mark.t_s)
                elif isinstance(event, Refused):
                    self._key_done(event.t_s)

    def _key_done(self, t_s: float) -> None:
        if isinstance(self.source, Keyed):
            self.source.key_done(t_s)

    def _publish(self, bench: Bench) -> None:
        self._snapshot = bench.snapshot(self.source.now_s())
