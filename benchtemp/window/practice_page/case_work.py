"""What a trainee has done with a machine to diagnose: sittings, shots, checks. Knows no widgets."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from benchtemp.logbook.ecsv import read_stream
from benchtemp.readings.virtual.pot import Bath
from benchtemp.teaching.cases.case_folder import (
    Work,
    case_folder,
    keep_check,
    keep_sitting,
    next_check,
    next_sitting,
    work_in,
)
from benchtemp.teaching.cutting import pulls_in
from benchtemp.window.panel import SourceChoice

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.check import Check
    from benchtemp.shots.shot import Shot
    from benchtemp.teaching.cases.case import Case

AT_ONCE = 6
SPEEDS = (1.0, 4.0, 16.0)


class CaseWork:
    """One machine, from being taken up to being named. What is tested is kept in the case's own folder.

    Attributes:
        case: The machine.
        probe: What its probe is called on the Probes page.
    """

    def __init__(self, case: Case, logbook: Logbook) -> None:
        """Take a machine up.

        Args:
            case: The machine.
            logbook: Where what is tested is kept.
        """
        self.case = case
        self.probe = f"Case {case.code}"
        self._folder = case_folder(logbook, case)
        self._began = dt.datetime.now().astimezone()
        self._earlier = Work((), ())
        self._sitting = 0
        self._live: int | None = None
        self._choice: SourceChoice | None = None
        self._recording: Path | None = None
        self._shots: dict[int, tuple[Shot, ...]] = {}
        self._boiled: list[Check] = []
        self._guided: tuple[Check, ...] = ()

    # -- earlier -------------------------------------------------------------------------------------------

    def read_earlier(self) -> Work:
        """Return what was tested at earlier times; slow, so give it to `take_earlier` from the background.

        Raises:
            BenchtempError: A file cannot be read.
        """
        return work_in(self._folder, self.case)

    def take_earlier(self, work: Work) -> None:
        """Count what was tested at earlier times too."""
        self._earlier = work

    def _number(self) -> int:
        self._sitting = max(next_sitting(self._folder), self._sitting + 1)
        return self._sitting

    # -- on the Bench --------------------------------------------------------------------------------------

    def next_sitting(self, speed: float) -> SourceChoice:
        """Return the machine as a source, as its owner left it; its shots count as used."""
        self._live, self._recording = self._number(), None
        source = self.case.open(speed=speed, sitting=self._live)
        self._choice = SourceChoice(source, machine=self.case.brief.machine)
        return self._choice

    def is_of(self, choice: SourceChoice | None) -> bool:
        """Tell whether a sitting is one with this machine."""
        return choice is not None and choice is self._choice

    def look(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the shots of a sitting with this machine; others are no concern."""
        if snapshot is not None and self._live is not None and self.is_of(choice):
            self._shots[self._live] = snapshot.shots
            self._recording = snapshot.recording

    def end_sitting(self) -> Callable[[], Path] | None:
        """Take note that the sitting is over; return what keeps it, None where there is nothing to keep."""
        number, recording = self._live, self._recording
        self._live = self._choice = self._recording = None
        if number is None or recording is None or not self._shots.get(number):
            return None
        return partial(_keep_recording, self._folder, number, recording)

    # -- at once -------------------------------------------------------------------------------------------

    def pull(self) -> tuple[int, tuple[Shot, ...]]:
        """Pull some shots without a clock and keep them; slow: give it to `take_pulled` from the background.

        Raises:
            BenchtempError: It cannot be kept.
        """
        number = self._number()
        stream = self.case.pull(AT_ONCE, sitting=number, started=_now())
        keep_sitting(self._folder, number, stream)
        return number, pulls_in(stream)

    def take_pulled(self, pulled: tuple[int, tuple[Shot, ...]]) -> None:
        """Take what `pull` returned."""
        sitting, shots = pulled
        self._shots[sitting] = shots

    def boil(self) -> Check:
        """Check the probe without a clock and keep it; slow: give it to `take_boiled` from the background.

        Raises:
            BenchtempError: It cannot be kept.
        """
        number = next_check(self._folder)
        check = self.case.boil(sitting=number, checked=_now())
        keep_check(self._folder, number, check)
        return check

    def take_boiled(self, check: Check) -> None:
        """Take what `boil` returned."""
        self._boiled.append(check)

    # -- on the Probes page --------------------------------------------------------------------------------

    def pot(self, bath: Bath) -> SourceChoice:
        """Return the machine's own pot, for the guided check."""
        return SourceChoice(self.case.pot(bath), keep=False)

    def take_guided(self, checks: Iterable[Check]) -> None:
        """Take the checks kept for its probe; those made before the machine was taken up do not count."""
        self._guided = tuple(check for check in checks if _since(check.checked, self._began))

    # -- what there is -------------------------------------------------------------------------------------

    @property
    def shots(self) -> tuple[Shot, ...]:
        """Return all shots, in the order pulled; flushes are left out."""
        new = (shot for sitting in sorted(self._shots) for shot in self._shots[sitting])
        return (*self._earlier.shots, *(shot for shot in new if not shot.is_flush))

    @property
    def checks(self) -> tuple[Check, ...]:
        """Return all checks of the probe."""
        return (*self._earlier.checks, *self._boiled, *self._guided)


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def _keep_recording(folder: Path, number: int, recording: Path) -> Path:
    """Keep a sitting of the Bench beside the others of its case."""
    return keep_sitting(folder, number, read_stream(recording))


def _since(written: str, began: dt.datetime) -> bool:
    try:
        moment = dt.datetime.fromisoformat(written)
    except ValueError:
        return False
    if moment.tzinfo is None:
        moment = moment.astimezone()
    return moment >= began - dt.timedelta(seconds=1)
