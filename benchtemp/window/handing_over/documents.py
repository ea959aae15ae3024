"""Making a report and writing it. Knows no widgets."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput
from benchtemp.logbook.names import free_paths, safe_part

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.reports.answering import Asked
    from benchtemp.reports.content import Answer, Report
    from benchtemp.reports.stopping import Cancelled, Progress
    from benchtemp.reports.tested import Tested
    from benchtemp.units import TempUnit
    from benchtemp.window.handing_over.matter import Matter

DRAWING = threading.Lock()
"""The plotting library keeps one set of rules for all threads: one drawing at a time."""


@dataclass(frozen=True, kw_only=True)
class ReportWish:
    """What report is wanted.

    Attributes:
        matter: The shots.
        tested: The same, read.
        studies: What it shall answer.
        title, tester, customer, notes: As `make_report` takes them.
        unit: Of all temperatures.
        target: File to write, without its ending.
        html, pdf: Which kinds of file.
        letter: Whether the PDF is for letter paper instead of A4.
        overwrite: Whether files of that name may be replaced.
    """

    matter: Matter
    tested: Tested
    studies: tuple[Asked, ...]
    title: str
    tester: str
    customer: str
    notes: str
    unit: TempUnit
    target: Path
    html: bool
    pdf: bool
    letter: bool
    overwrite: bool

    @property
    def files(self) -> tuple[Path, ...]:
        """Return the files that would be written."""
        endings = [ending for ending, wanted in ((".html", self.html), (".pdf", self.pdf)) if wanted]
        return tuple(self.target.with_name(self.target.name + ending) for ending in endings)


def check_target(files: tuple[Path, ...], *, overwrite: bool) -> None:
    """Check that files can be written there, before any work is done.

    Raises:
        BadInput: The folder is not there, or a file is there already.
    """
    for file in files:
        if not file.parent.is_dir():
            raise BadInput(f"There is no folder {file.parent}; choose another one.")
        if file.is_dir():
            raise BadInput(f"{file.name} is a folder; choose another name.")
        if file.exists() and not overwrite:
            raise BadInput(
                f"There is already a {file.name} in that folder; choose another name, or replace it."
            )


def free_name(folder: Path, wanted: str, endings: tuple[str, ...]) -> str:
    """Return a name, without an ending, that no file in a folder has yet."""
    first = folder / f"{safe_part(wanted, 'report')}{endings[0]}"
    for path in free_paths(first):
        name = path.name.removesuffix(endings[0])
        if not any((folder / f"{name}{ending}").exists() for ending in endings):
            return name
    raise AssertionError("there is always another free name")


def name_for(tested: Tested, what: str) -> str:
    """Return a name for a file, from the machine and the day."""
    machine = tested.machines[0] if len(tested.machines) == 1 else "machines"
    day = max((one.record.date for one in tested.shots), default="")
    return "-".join(part for part in (what, safe_part(machine), safe_part(day, "")) if part)


def first_words(
    matter: Matter, tested: Tested, studies: tuple[Asked, ...], unit: TempUnit
) -> tuple[Answer, ...]:
    """Return what a report says first.

    Raises:
        BadInput: A study cannot be done with these shots.
    """
    from benchtemp.reports.answering import answers  # noqa: PLC0415 - not needed to paint
    from benchtemp.reports.sections.verdicts import plain_answers, study_answers  # noqa: PLC0415

    if not studies:
        return plain_answers(tested, unit)
    return study_answers(answers(studies, tested, matter.wanted), unit)


def report_of(wish: ReportWish) -> Report:
    """Return the report's content.

    Raises:
        BadInput: A study cannot be done with these shots.
    """
    from benchtemp.reports.answering import answers  # noqa: PLC0415 - not needed to paint
    from benchtemp.reports.report import make_report  # noqa: PLC0415

    command = wish.matter.command(wish.studies, wish.unit)
    return make_report(
        wish.tested,
        studies=answers(wish.studies, wish.tested, wish.matter.wanted),
        title=wish.title,
        tester=wish.tester,
        customer=wish.customer,
        notes=wish.notes,
        unit=wish.unit,
        commands=(command,) if command else (),
    )


def write_report(wish: ReportWish, progress: Progress, cancelled: Cancelled) -> tuple[Path, ...]:
    """Make a report and write it; return the files.

    Raises:
        BadInput: It cannot be made, or not be written there.
        StorageError: The disk does not take it.
        Stopped: It was cancelled.
    """
    from benchtemp.logbook.atomic import write_whole  # noqa: PLC0415
    from benchtemp.reports.html import html_bytes  # noqa: PLC0415
    from benchtemp.reports.pdf import Paper, pdf_bytes  # noqa: PLC0415
    from benchtemp.reports.stopping import go_on  # noqa: PLC0415

    files = wish.files
    check_target(files, overwrite=wish.overwrite)
    steps = 1 + len(files)
    progress(0, steps)
    content = report_of(wish)
    drawn: list[tuple[Path, bytes]] = []
    for done, file in enumerate(files, 1):
        go_on(cancelled)
        progress(done, steps)
        with DRAWING:
            if file.suffix == ".pdf":
                drawn.append((file, pdf_bytes(content, paper=Paper.LETTER if wish.letter else Paper.A4)))
            else:
                drawn.append((file, html_bytes(content)))
    go_on(cancelled)
    for file, written in drawn:
        try:
            write_whole(file, [written], overwrite=wish.overwrite)
        except FileExistsError:
            raise BadInput(f"There is already a {file.name}; choose another name.") from None
    return files
