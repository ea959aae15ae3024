"""What is handed over: some shots, and perhaps a study of them. Knows no widgets."""

from __future__ import annotations

import shlex
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from benchtemp.reports.answering import Asked, Wanted

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.reports.stopping import Cancelled, Progress
    from benchtemp.reports.tested import Tested
    from benchtemp.studies.evidence.shot_set import Selection
    from benchtemp.studies.outcome import Study
    from benchtemp.units import TempUnit

_FILES_NAMED = 4


@dataclass(frozen=True, eq=False)
class Matter:
    """Shots of a logbook, and what was asked of them.

    Attributes:
        paths: Shot files, or the logbook's folder where a selection tells which are meant.
        logbook: Where probes, plans and recordings are looked up.
        selection: Which shots of a folder are meant; None for all.
        asked: The study shown; None where none is.
        wanted: What it is about.
        study: Its outcome.
    """

    paths: tuple[Path, ...]
    logbook: Logbook
    selection: Selection | None = None
    asked: Asked | None = None
    wanted: Wanted = field(default_factory=Wanted)
    study: Study | None = None

    def read(self, progress: Progress, cancelled: Cancelled) -> Tested:
        """Read the shots with all that belongs to them; slow for many: do it in the background.

        Raises:
            BadInput: There is no shot, or no file can be read.
            Stopped: It was cancelled.
        """
        from benchtemp.logbook.preferences import load_preferences  # noqa: PLC0415 - not needed to paint
        from benchtemp.reports.gathering import read_tested  # noqa: PLC0415

        return read_tested(
            self.paths,
            selection=self.selection,
            logbook=self.logbook,
            progress=progress,
            cancelled=cancelled,
            check_days=load_preferences()[0].check_days,
        )

    def command(self, studies: tuple[Asked, ...], unit: TempUnit) -> str:
        """Return a command line that gives the same report again; empty where it would be too long."""
        told = ["benchtemp", "report"]
        if self.selection is None:
            if len(self.paths) > _FILES_NAMED:
                return ""
            # A file's folder is nobody's business who gets the report.
            told += [path.name for path in self.paths]
        for study in studies:
            told += ["--study", str(study)]
        told += _selecting(self.selection) if self.selection is not None else []
        usual = Wanted()
        if self.wanted.target_degc != usual.target_degc:
            told += ["--target", f"{self.wanted.target_degc:g}"]
        if self.wanted.idle_min != usual.idle_min:
            told += ["--idle", f"{self.wanted.idle_min:g}"]
        if self.wanted.by != usual.by:
            told += ["--by", self.wanted.by]
        if self.wanted.channel != usual.channel:
            told += ["--channel", self.wanted.channel]
        if unit.symbol == "°F":
            told += ["--unit", "F"]
        return shlex.join(told)


def _selecting(selection: Selection) -> list[str]:
    told: list[str] = []
    for flag, values in (
        ("--machine", selection.machines),
        ("--tag", [f"{name}={value}" for name, value in selection.tags.items()]),
        ("--plan", [selection.plan] if selection.plan else []),
        ("--since", [selection.since] if selection.since else []),
        ("--until", [selection.until] if selection.until else []),
        ("--recording", selection.recordings),
    ):
        for value in values:
            told += [flag, value]
    return [*told, "--even-not-counting"] if selection.even_not_counting else told
