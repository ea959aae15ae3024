"""The logbook's plans with where each stands, read in the background."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

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
        saved: Name of a plan that was written.
        failed: A sentence.
    """

    changed = Signal()
    saved = Signal(str)
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
        self._writing.done.connect(self._written)
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

    def save(self, plan: Plan) -> None:
        """Write a new plan's file."""
        self._writing.start(partial(_save, self._logbook, plan))

    @Slot(object)
    def _written(self, name: str) -> None:
        self.saved.emit(name)
        self.read()

    def close_down(self) -> None:
        """Wait for what is being read or written."""
        self._reading.join()
        self._writing.join()


def _save(logbook: Logbook, plan: Plan) -> str:
    from benchtemp.studies.plans.plan_file import plan_path, save_plan  # noqa: PLC0415

    save_plan(plan_path(logbook, plan), plan)
    return plan.name
