"""Listening to a port before anything is recorded: its lines, without a bench. No Qt here."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from benchtemp.errors import BenchtempError
from benchtemp.readings.reading import Notice, NoticeKind

if TYPE_CHECKING:
    from benchtemp.readings.layout import Layout
    from benchtemp.readings.serial_source import RawLine
    from benchtemp.readings.source import Source

_FRESH_S = 1.0


def same_wire(one: Layout, other: Layout) -> bool:
    """Tell whether two layouts talk to an interface in the same way, however its lines are read."""
    return (one.wire, one.request_bytes, one.period_s, one.reply_s) == (
        other.wire,
        other.request_bytes,
        other.period_s,
        other.reply_s,
    )


class LinesTap:
    """Reads a port in a thread of its own and keeps its last lines; ask for them at any time.

    Args:
        open_port: Makes the source for a layout, as `open_source` does with a port.
    """

    def __init__(self, open_port: Callable[[Layout], Source]) -> None:
        self._open_port = open_port
        self._layout: Layout | None = None
        self._source: Source | None = None
        self._thread: threading.Thread | None = None
        self._stopping = threading.Event()
        self._notice: Notice | None = None

    @property
    def layout(self) -> Layout | None:
        """Return the layout the port is talked to with; None while it is not read."""
        return self._layout

    @property
    def notice(self) -> Notice | None:
        """Return what there is to say (not opened, silent, unplugged); None when all is well."""
        return self._notice

    def lines(self) -> tuple[RawLine, ...]:
        """Return the last lines, oldest first."""
        source = self._source
        raw_lines = getattr(source, "raw_lines", None)
        return () if raw_lines is None else tuple(raw_lines())

    def start(self, layout: Layout) -> None:
        """Talk to the port as this layout says; goes on as before where that is no change."""
        if self._layout is not None and same_wire(self._layout, layout) and self._alive():
            return
        self.stop()
        self._layout = layout
        self._notice = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(
            target=self._read, args=(layout, self._stopping), name="raw lines", daemon=True
        )
        self._thread.start()

    def stop(self, timeout_s: float = 3.0) -> None:
        """Let go of the port; it is free for another reader when this returns."""
        self._stopping.set()
        source, thread = self._source, self._thread
        if source is not None:
            source.interrupt()
        if thread is not None:
            thread.join(timeout_s)
        self._layout = self._source = self._thread = None

    def _alive(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def _read(self, layout: Layout, stopping: threading.Event) -> None:
        try:
            source = self._open_port(layout)
            source.open()
        except BenchtempError as error:
            self._tell(error, stopping)
            return
        try:
            if not stopping.is_set():
                self._source = source
            while not stopping.is_set():
                for item in source.read():
                    if isinstance(item, Notice):
                        # That a port was just opened is no news; a silence that lasts is.
                        fresh = item.kind is NoticeKind.WAITING and item.t_s < _FRESH_S
                        self._notice = None if fresh or item.kind is NoticeKind.READING else item
        except BenchtempError as error:
            self._tell(error, stopping)
        finally:
            source.close()

    def _tell(self, error: BenchtempError, stopping: threading.Event) -> None:
        if not stopping.is_set():
            self._notice = Notice(0.0, NoticeKind.LOST, str(error))
