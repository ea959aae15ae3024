"""What a trainee has done with a machine to diagnose: sittings, shots, checks. Knows no widgets."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from benchtemp.readings.virtual.pot import Bath
from benchtemp.teaching.cutting import pulls_in
from benchtemp.window.panel import SourceChoice

if TYPE_CHECKING:
    from collections.abc import Iterable

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.probes.check import Check
    from benchtemp.shots.shot import Shot
    from benchtemp.teaching.cases.case import Case

AT_ONCE = 6
SPEEDS = (1.0, 4.0, 16.0)


class CaseWork:
    """One machine, from being taken up to being named.

    Attributes:
        case: The machine.
        probe: What its probe is called on the Probes page.
    """

    def __init__(self, case: Case) -> None:
        """Take a machine up."""
        self.case = case
        self.probe = f"Case {case.code}"
        self._began = dt.datetime.now().astimezone()
        self._sitting = 0
        self._choice: SourceChoice | None = None
        self._shots: dict[int, tuple[Shot, ...]] = {}
        self._boiled: list[Check] = []
        self._guided: tuple[Check, ...] = ()

    # -- on the Bench --------------------------------------------------------------------------------------

    def next_sitting(self, speed: float) -> SourceChoice:
        """Return the machine as a source, as its owner left it; its shots count as used."""
        self._sitting += 1
        source = self.case.open(speed=speed, sitting=self._sitting)
        self._choice = SourceChoice(source, machine=self.case.brief.machine)
        return self._choice

    def is_of(self, choice: SourceChoice | None) -> bool:
        """Tell whether a sitting is one with this machine."""
        return choice is not None and choice is self._choice

    def look(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the shots of a sitting with this machine; others are no concern."""
        if snapshot is not None and self.is_of(choice):
            self._shots[self._sitting] = snapshot.shots

    # -- at once -------------------------------------------------------------------------------------------

    def pull(self) -> tuple[int, tuple[Shot, ...]]:
        """Pull some shots without a clock; slow, so run it in the background and give it to `take_pulled`."""
        self._sitting += 1
        sitting = self._sitting
        return sitting, pulls_in(self.case.pull(AT_ONCE, sitting=sitting))

    def take_pulled(self, pulled: tuple[int, tuple[Shot, ...]]) -> None:
        """Take what `pull` returned."""
        sitting, shots = pulled
        self._shots[sitting] = shots

    def boil(self) -> Check:
        """Check the probe without a clock; slow, so run it in the background and give it to `take_boiled`."""
        moment = dt.datetime.now().astimezone().isoformat(timespec="seconds")
        return self.case.boil(sitting=len(self._boiled) + 1, checked=moment)

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
        return tuple(
            shot for sitting in sorted(self._shots) for shot in self._shots[sitting] if not shot.is_flush
        )

    @property
    def checks(self) -> tuple[Check, ...]:
        """Return all checks of the probe."""
        return (*self._boiled, *self._guided)


def _since(written: str, began: dt.datetime) -> bool:
    try:
        moment = dt.datetime.fromisoformat(written)
    except ValueError:
        return False
    if moment.tzinfo is None:
        moment = moment.astimezone()
    return moment >= began - dt.timedelta(seconds=1)
