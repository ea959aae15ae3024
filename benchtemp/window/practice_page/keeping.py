"""Scores and lists from the logbook: it reads and writes files, so run it in the background."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.teaching.scores import history, keep_case, keep_round, progress, trainees
from benchtemp.window.practice_page.preparing import ListedShot, listed_shots

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.teaching.cases.diagnosis import CaseMarking
    from benchtemp.teaching.cases.fault import Diagnosis
    from benchtemp.teaching.practice import RoundResult
    from benchtemp.teaching.scores import Progress


def shots_and_names(logbook: Logbook) -> tuple[tuple[ListedShot, ...], tuple[str, ...]]:
    """Return the newest shots, and who has scores."""
    return listed_shots(logbook), trainees(logbook)


def progress_of(logbook: Logbook, name: str) -> tuple[str, Progress, bool]:
    """Return a trainee's name as kept, how he is getting on, and that nothing was kept just now."""
    kept = history(logbook, name)
    return kept.trainee or name, progress(kept), False


def keep_score(logbook: Logbook, name: str, result: RoundResult) -> tuple[str, Progress, bool]:
    """Keep a round; return the same as `progress_of`, and that it was kept.

    Raises:
        BenchtempError: It could not be kept.
    """
    keep_round(logbook, name, result)
    found, how, _ = progress_of(logbook, name)
    return found, how, True


def keep_named(logbook: Logbook, name: str, code: int, diagnosis: Diagnosis, marking: CaseMarking) -> str:
    """Keep a case that was named; return the trainee's name.

    Raises:
        BenchtempError: It could not be kept.
    """
    keep_case(logbook, name, code, diagnosis, marking)
    return name
