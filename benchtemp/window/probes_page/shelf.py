"""The probes of the logbook, read and written in the background; whoever shows them watches this."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.probe import Probe
    from benchtemp.window.panel import SourceChoice

Change = Callable[["Probe"], "Probe"]


class ProbeShelf(QObject):
    """Holds what is known of the probes.

    Signals:
        changed: The probes were read anew.
        saved: Name of a probe whose file was written.
        failed: A sentence on why the folder could not be read.
        not_written: A sentence on why a file could not be written.
    """

    changed = Signal()
    saved = Signal(str)
    failed = Signal(str)
    not_written = Signal(str)

    def __init__(self, logbook: Logbook, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._logbook = logbook
        self.probes: tuple[Probe, ...] = ()
        self.complaints: tuple[str, ...] = ()
        self.was_read = False
        self._waiting: deque[Callable[[], str]] = deque()
        self._reading = Background(self, name="probes")
        self._reading.done.connect(self._take)
        self._reading.failed.connect(self.failed)
        self._writing = Background(self, name="probe file")
        self._writing.done.connect(self._written)
        self._writing.failed.connect(self._not_written)

    @Slot()
    def read(self) -> None:
        """Read the folder anew."""
        self._reading.start(partial(_read, self._logbook))

    @Slot(object)
    def _take(self, found: tuple[tuple[Probe, ...], tuple[str, ...]]) -> None:
        self.was_read = True
        self.probes, self.complaints = found
        self.changed.emit()

    def named(self, name: str) -> Probe | None:
        """Return a probe by its name; capitals do not matter."""
        wanted = " ".join(name.split()).casefold()
        return next(
            (probe for probe in self.probes if " ".join(probe.name.split()).casefold() == wanted), None
        )

    # -- writing -------------------------------------------------------------------------------------------

    def change(self, name: str, change: Change) -> None:
        """Change a probe's file, or make it."""
        self.carry_out(partial(_write, self._logbook, name, change))

    def carry_out(self, work: Callable[[], str]) -> None:
        """Do something with the files, one thing after the other; it returns the probe it was about."""
        self._waiting.append(work)
        self._next()

    def _next(self) -> None:
        if self._waiting and not self._writing.busy:
            self._writing.start(self._waiting.popleft())

    @Slot(object)
    def _written(self, name: str) -> None:
        self._next()
        self.read()
        self.saved.emit(name)

    @Slot(str)
    def _not_written(self, sentence: str) -> None:
        self._next()
        self.not_written.emit(sentence)

    def close_down(self) -> None:
        """Write what is to be written, and wait for what is being read."""
        self._reading.join()
        self._writing.join()
        waiting, self._waiting = self._waiting, deque()
        for work in waiting:
            work()


def time_constant_s(
    shelf: ProbeShelf, snapshot: Snapshot | None, choice: SourceChoice | None
) -> float | None:
    """Return the time constant of the basket's probe, None where it is not known.

    A replay goes by what its recording holds, anything else by the probe's file.
    """
    if snapshot is None or choice is None:
        return None
    if not choice.keep:
        from benchtemp.shots.water_curve import stored_time_constant_s  # noqa: PLC0415 - for replays alone

        stream = getattr(choice.source, "stream", None)
        channel = snapshot.channels[snapshot.basket]
        return None if stream is None else stored_time_constant_s(stream.meta, channel)
    name = snapshot.probes[snapshot.basket] if snapshot.probes else ""
    probe = shelf.named(name) if name else None
    return None if probe is None or probe.time_constant is None else probe.time_constant.tau_s


def _read(logbook: Logbook) -> tuple[tuple[Probe, ...], tuple[str, ...]]:
    from benchtemp.logbook.probe_file import probes  # noqa: PLC0415 - not needed to paint

    return probes(logbook)


def _write(logbook: Logbook, name: str, change: Change) -> str:
    from benchtemp.logbook.probe_file import change_probe  # noqa: PLC0415 - not needed to paint

    change_probe(logbook, name, change)
    return name
