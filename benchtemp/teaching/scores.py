"""Scores kept in the logbook: a text file a trainee, a line of JSON a round or case, only appended to."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from statistics import mean, median
from typing import Any

import msgspec

from benchtemp.errors import BadInput, BenchtempError, StorageError
from benchtemp.logbook.atomic import sync
from benchtemp.logbook.folder import Logbook, make_folder
from benchtemp.logbook.lock import edit_turn
from benchtemp.logbook.names import free_paths, safe_part
from benchtemp.logbook.regular_file import read_regular, shown, why
from benchtemp.teaching.cases.diagnosis import CaseMarking
from benchtemp.teaching.cases.fault import Diagnosis
from benchtemp.teaching.exercise import line_text
from benchtemp.teaching.marking import FALL, POINTS
from benchtemp.teaching.practice import RoundResult

FOLDER = "practice"
SUFFIX = ".jsonl"
SIZE_LIMIT = 32 * 1024 * 1024
"""Bytes; a round takes about 2 kB."""
FIRST_LINES = 256 * 1024
NAME_LIMIT = 80
RECENT = 3
"""How many rounds are put together to compare the first with the last."""


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


class KeptCase(msgspec.Struct, frozen=True, kw_only=True):
    """Another kind of line: a case that was named.

    Attributes:
        trainee: Name as typed.
        ended: ISO 8601 moment with UTC offset.
        case: The case's number.
        named, fault: What was named, and what it was, as they are typed (`offset`, `probe-low` …).
        right: Whether they are the same.
        score: 0 to 100.
        shots, checks: What was used.
    """

    trainee: str
    ended: str
    case: int
    named: str
    fault: str
    right: bool
    score: float
    shots: int
    checks: int
    format_version: int = 1


class History(msgspec.Struct, frozen=True, kw_only=True):
    """A trainee's rounds.

    Attributes:
        trainee: Name as last typed.
        path: His file.
        rounds: Oldest first, aborted ones too.
        cases: Cases named, oldest first; one may come several times.
        warnings: What could not be read.
    """

    trainee: str
    path: Path
    rounds: tuple[KeptRound, ...] = ()
    cases: tuple[KeptCase, ...] = ()
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

    Args:
        logbook: Where it is kept.
        trainee: Name; capitals and spaces do not tell two trainees apart.
        result: What became of the round.
        ended: ISO 8601 moment with UTC offset; now where None.

    Raises:
        BadInput: The trainee has no name that can be used.
        StorageError: The disk does not take it.
    """
    kept = KeptRound(
        trainee=_checked(trainee),
        ended=ended or _now(),
        round=result,
        score=None if result.score is None else round(result.score, 2),
    )
    return _keep(logbook, kept)


def keep_case(
    logbook: Logbook,
    trainee: str,
    code: int,
    diagnosis: Diagnosis,
    marking: CaseMarking,
    *,
    ended: str | None = None,
) -> Path:
    """Append a case that was named to a trainee's file; return the file.

    Args:
        logbook: Where it is kept.
        trainee: Name; capitals and spaces do not tell two trainees apart.
        code: The case's number.
        diagnosis: What was named.
        marking: What became of it.
        ended: ISO 8601 moment with UTC offset; now where None.

    Raises:
        BadInput: The trainee has no name that can be used.
        StorageError: The disk does not take it.
    """
    kept = KeptCase(
        trainee=_checked(trainee),
        ended=ended or _now(),
        case=code,
        named=str(diagnosis.fault),
        fault=str(marking.fault),
        right=marking.right,
        score=marking.points,
        shots=marking.shots,
        checks=marking.checks,
    )
    return _keep(logbook, kept)


def _checked(trainee: str) -> str:
    name = line_text(trainee, "trainee's name", NAME_LIMIT)
    if not name:
        raise BadInput("A score needs the trainee's name; type it first.")
    return name


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def _keep(logbook: Logbook, kept: KeptRound | KeptCase) -> Path:
    folder = logbook.root / FOLDER
    make_folder(folder)
    with edit_turn(folder):
        path = _file_of(logbook, kept.trainee) or _new_file(folder, kept.trainee)
        _append(path, msgspec.json.encode(kept) + b"\n")
    return path


def _append(path: Path, line: bytes) -> None:
    try:
        if path.is_symlink():
            raise StorageError(f"{shown(path)} is a link, which scores are not written through; remove it.")
        flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
        descriptor = os.open(path, flags | getattr(os, "O_NOFOLLOW", 0), 0o666)
        try:
            length = os.lseek(descriptor, 0, os.SEEK_END)
            if length:
                # A line that a power cut left open must not swallow the next one.
                os.lseek(descriptor, length - 1, os.SEEK_SET)
                if os.read(descriptor, 1) != b"\n":
                    line = b"\n" + line
            os.write(descriptor, line)
            sync(descriptor, thorough=True)
        finally:
            os.close(descriptor)
    except OSError as error:
        raise StorageError(
            f"The score cannot be kept in {shown(path)} ({why(error)}); look at the disk."
        ) from error


def trainees(logbook: Logbook) -> tuple[str, ...]:
    """Return who has scores in a logbook, in alphabetical order."""
    names = (_name_in(path) for path in _files(logbook))
    return tuple(sorted((name for name in names if name), key=_folded))


def history(logbook: Logbook, trainee: str) -> History:
    """Return a trainee's rounds; an empty history where there are none yet.

    Raises:
        BadInput: His file is no regular file, or larger than any.
    """
    path = _file_of(logbook, trainee)
    if path is None:
        return History(trainee=" ".join(trainee.split()), path=_new_file(logbook.root / FOLDER, trainee))
    rounds: list[KeptRound] = []
    cases: list[KeptCase] = []
    damaged = 0
    for line in read_regular(path, SIZE_LIMIT).splitlines():
        if not line.strip():
            continue
        try:
            if "case" in msgspec.json.decode(line, type=dict[str, Any]):
                cases.append(msgspec.json.decode(line, type=KeptCase))
            else:
                rounds.append(msgspec.json.decode(line, type=KeptRound))
        except (msgspec.DecodeError, BadInput, ValueError, RecursionError):
            damaged += 1
    lines = "1 line" if damaged == 1 else f"{damaged} lines"
    warnings = (f"{lines} of {shown(path)} cannot be read and were left out.",) if damaged else ()
    names = [(one.ended, one.trainee) for one in rounds] + [(one.ended, one.trainee) for one in cases]
    name = max(names)[1] if names else " ".join(trainee.split())
    return History(trainee=name, path=path, rounds=tuple(rounds), cases=tuple(cases), warnings=warnings)


def progress(kept: History) -> Progress:
    """Return how a trainee is getting on over his whole rounds."""
    whole = kept.whole
    parts = {str(part): full for part, full in POINTS.items()}
    shares = {
        part: tuple(mean(item.points.get(part, 0.0) for item in one.round.items) / full for one in whole)
        for part, full in parts.items()
    }
    off = {
        str(part): tuple(
            _median_off(item.differences[part] for item in one.round.items if part in item.differences)
            for one in whole
        )
        for part in FALL
    }
    scores = tuple(one.score for one in whole if one.score is not None)
    return Progress(scores=scores, part_points=shares, median_off=off, sentence=_sentence(scores, shares))


def cases_sentence(kept: History) -> str:
    """Return how a trainee did on cases in one sentence, empty without any; a case's first naming counts."""
    first = {one.case: one for one in reversed(kept.cases)}.values()
    if not first:
        return ""
    right = sum(one.right for one in first)
    shots = mean(one.shots for one in first)
    cases = "1 case" if len(first) == 1 else f"{len(first)} cases"
    return f"{right} of {cases} named right at the first go, with {shots:.0f} shots each."


def _median_off(differences: Iterable[float]) -> float | None:
    off = [abs(one) for one in differences]
    return median(off) if off else None


def _sentence(scores: tuple[float, ...], shares: dict[str, tuple[float, ...]]) -> str:
    if not scores:
        return "No whole round yet."
    if len(scores) == 1:
        return f"One round so far, {scores[0]:.0f} of 100 points."
    weakest = min(shares, key=lambda part: mean(shares[part][-RECENT:]))
    weak = mean(shares[weakest][-RECENT:])
    rest = f"; most is to be gained in {weakest} ({weak * 100.0:.0f} % of its points)" if weak < 0.9 else ""
    if len(scores) < 2 * RECENT:
        return f"{len(scores)} rounds, from {scores[0]:.0f} to {scores[-1]:.0f} of 100 points{rest}."
    early, late = mean(scores[:RECENT]), mean(scores[-RECENT:])
    return (
        f"{len(scores)} rounds: {early:.0f} of 100 points in the first {RECENT}, {late:.0f} in the last "
        f"{RECENT}{rest}."
    )


# Files


def _files(logbook: Logbook) -> list[Path]:
    folder = logbook.root / FOLDER
    try:
        with os.scandir(folder) as entries:
            names = [
                entry.name
                for entry in entries
                if entry.name.endswith(SUFFIX)
                and not entry.name.startswith(".")
                and entry.is_file(follow_symlinks=False)
            ]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise StorageError(f"The folder {shown(folder)} cannot be read ({why(error)}).") from error
    return [folder / name for name in sorted(names)]


def _name_in(path: Path) -> str:
    """Return whose file it is, empty where its first lines do not say."""
    try:
        start = read_regular(path, SIZE_LIMIT, first=FIRST_LINES)
    except BenchtempError:
        return ""
    for line in start.splitlines():
        with contextlib.suppress(msgspec.DecodeError, BadInput, RecursionError):
            return msgspec.json.decode(line, type=_Whose).trainee
    return ""


class _Whose(msgspec.Struct):
    trainee: str


def _file_of(logbook: Logbook, trainee: str) -> Path | None:
    wanted = _folded(trainee)
    return next((path for path in _files(logbook) if _folded(_name_in(path)) == wanted), None)


def _new_file(folder: Path, trainee: str) -> Path:
    candidates = free_paths(folder / f"{safe_part(trainee, 'trainee')}{SUFFIX}")
    return next(path for path in candidates if not os.path.lexists(path))


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()
