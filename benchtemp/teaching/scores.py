"""Scores kept in the logbook: one text file a trainee, one line of JSON a round, only ever appended to."""

from __future__ import annotations

from pathlib import Path

import msgspec

from benchtemp.logbook.folder import Logbook
from benchtemp.teaching.practice import RoundResult

FOLDER = "practice"
SUFFIX = ".jsonl"


class KeptRound(msgspec.Struct, frozen=True, kw_only=True):
    """One line of a trainee's file.

    Attributes:
        trainee: Name as typed.
        ended: ISO 8601 moment with UTC offset.
        round: What became of it.
        score: Mean points, None where no shot was handed in; written for other programs.
    """

    trainee: str
    ended: str
    round: RoundResult
    score: float | None = None
    format_version: int = 1


class History(msgspec.Struct, frozen=True, kw_only=True):
    """A trainee's rounds.

    Attributes:
        trainee: Name as last typed.
        path: His file.
        rounds: Oldest first, aborted ones too.
        warnings: What could not be read.
    """

    trainee: str
    path: Path
    rounds: tuple[KeptRound, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def whole(self) -> tuple[KeptRound, ...]:
        """Return the rounds that were not aborted: progress is told from these."""
        return tuple(one for one in self.rounds if not one.round.aborted and one.score is not None)


class Progress(msgspec.Struct, frozen=True, kw_only=True):
    """How a trainee is getting on.

    Attributes:
        scores: Mean points of each whole round, oldest first.
        part_points: By part, each round's mean share of its full points, 0 to 1, oldest first.
        median_off: By part (s or K), each round's median of |difference|; None where nothing was named.
        sentence: In one sentence.
    """

    scores: tuple[float, ...]
    part_points: dict[str, tuple[float, ...]]
    median_off: dict[str, tuple[float | None, ...]]
    sentence: str


def keep_round(logbook: Logbook, trainee: str, result: RoundResult, *, ended: str | None = None) -> Path:
    """Append a round to a trainee's file; return the file.

    Raises:
        BadInput: The trainee has no name that can be used.
        StorageError: The disk does not take it.
    """
    raise NotImplementedError


def trainees(logbook: Logbook) -> tuple[str, ...]:
    """Return who has scores in a logbook, in alphabetical order."""
    raise NotImplementedError


def history(logbook: Logbook, trainee: str) -> History:
    """Return a trainee's rounds; an empty history where there are none yet."""
    raise NotImplementedError


def progress(kept: History) -> Progress:
    """Return how a trainee is getting on over his whole rounds."""
    raise NotImplementedError
