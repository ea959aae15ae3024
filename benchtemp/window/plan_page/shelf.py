"""The logbook's plans with where each stands, read in the background."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.errors import BadInput, StorageError
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.studies.plans.plan import Plan
    from benchtemp.studies.plans.status import PlanStatus


@dataclass(frozen=True)
class PlanEntry:
    """A plan, its file, and where it stands."""

    path: Path
    plan: Plan
    status: PlanStatus


@dataclass(frozen=True)
class Shelf:
    """What there is.

    Attributes:
        entries: Plans, those not finished first, then by name.
        complaints: Files that are no plans.
        machines: Names of machines in the logbook.
    """

    entries: tuple[PlanEntry, ...] = ()
    complaints: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Saved:
    plan: Plan


@dataclass(frozen=True)
class _Removed:
    entry: PlanEntry
    binned: Path


@dataclass(frozen=True)
class _Returned:
    plan: Plan


def read_shelf(logbook: Logbook) -> Shelf:
    """Read plans and shots; takes a second or more: do it in the background.

    Raises:
        StorageError: The folder cannot be read.
    """
    from benchtemp.studies.evidence.gathering import gather  # noqa: PLC0415 - not needed to paint
    from benchtemp.studies.plans.plan_file import plans_in  # noqa: PLC0415
    from benchtemp.studies.plans.status import where_it_stands  # noqa: PLC0415

    plans, complaints = plans_in(logbook)
    found = gather(logbook)
    shots = [*found.used, *(left.shot for left in found.left_out)]
    now = dt.datetime.now().astimezone()
    entries = [PlanEntry(path, plan, where_it_stands(plan, shots, now)) for path, plan in plans.items()]
    entries.sort(key=lambda entry: (entry.status.finished, entry.plan.name.casefold()))
    machines = {shot.machine for shot in shots if shot.machine}
    machines |= {plan.machine for plan in plans.values() if plan.machine}
    return Shelf(tuple(entries), complaints, tuple(sorted(machines, key=str.casefold)))


class PlanShelf(QObject):
    """Holds the plans.

    Signals:
        changed: They were read anew.
        saved: Carries the `Plan` that was written.
        removed: Carries the `PlanEntry` that was moved, and its path in the bin.
        returned: Carries the `Plan` that came back from there.
        failed: A sentence.
    """

    changed = Signal()
    saved = Signal(object)
    removed = Signal(object, object)
    returned = Signal(object)
    failed = Signal(str)

    def __init__(self, logbook: Logbook, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._logbook = logbook
        self.now = Shelf()
        self.was_read = False
        self._reading = Background(self, name="plans")
        self._reading.done.connect(self._take)
        self._reading.failed.connect(self.failed)
        self._writing = Background(self, name="plan file")
        self._writing.done.connect(self._take_done)
        self._writing.failed.connect(self.failed)

    @property
    def busy(self) -> bool:
        """Tell whether something is being read or written."""
        return self._reading.busy or self._writing.busy

    @Slot()
    def read(self) -> None:
        """Read the folder anew."""
        self._reading.start(partial(read_shelf, self._logbook))

    @Slot(object)
    def _take(self, found: Shelf) -> None:
        self.now = found
        self.was_read = True
        self.changed.emit()

    def save(self, plan: Plan, instead_of: PlanEntry | None = None) -> None:
        """Write a plan's file, a new one or over the one it was edited from."""
        self._writing.start(partial(_save, self._logbook, plan, instead_of, self.now))

    def remove(self, entry: PlanEntry) -> None:
        """Move a plan's file to the logbook's bin; its shots stay."""
        self._writing.start(partial(_remove, self._logbook, entry))

    def put_back(self, binned: Path) -> None:
        """Move a plan's file out of the bin again."""
        self._writing.start(partial(_put_back, self._logbook, binned))

    @Slot(object)
    def _take_done(self, done: _Saved | _Removed | _Returned) -> None:
        match done:
            case _Saved(plan):
                self.saved.emit(plan)
            case _Removed(entry, binned):
                self.removed.emit(entry, binned)
            case _Returned(plan):
                self.returned.emit(plan)
        self.read()

    def close_down(self) -> None:
        """Wait for what is being read or written."""
        self._reading.join()
        self._writing.join()


def _save(logbook: Logbook, plan: Plan, instead_of: PlanEntry | None, shelf: Shelf) -> _Saved:
    from benchtemp.logbook.atomic import replace  # noqa: PLC0415 - not needed to paint
    from benchtemp.studies.plans.plan_file import plan_path, save_plan  # noqa: PLC0415

    others = (entry.plan.name.casefold() for entry in shelf.entries if entry is not instead_of)
    if plan.name.casefold() in others:
        raise BadInput(f"There is already a plan called {plan.name}; choose another name.")
    path = plan_path(logbook, plan)
    if instead_of is None:
        save_plan(path, plan)
    elif plan.name == instead_of.plan.name or path == instead_of.path:
        save_plan(instead_of.path, plan, overwrite=True)
    else:
        if path.exists():
            raise BadInput(f"There is already a file {path.name} among the plans; choose another name.")
        save_plan(instead_of.path, plan, overwrite=True)
        try:
            replace(instead_of.path, path)
        except OSError as error:
            raise StorageError(f"{path.name} cannot be written: {error.strerror}.") from error
    return _Saved(plan)


def _remove(logbook: Logbook, entry: PlanEntry) -> _Removed:
    return _Removed(entry, logbook.to_bin(entry.path))


def _put_back(logbook: Logbook, binned: Path) -> _Returned:
    from benchtemp.logbook.index.editing import from_bin  # noqa: PLC0415 - not needed to paint
    from benchtemp.studies.plans.plan_file import load_plan  # noqa: PLC0415

    return _Returned(load_plan(from_bin(logbook, binned)))
