"""What a trainee does on a case, kept in a folder: recordings of his sittings, and checks of the probe."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import msgspec

from benchtemp.errors import BadInput, BenchtempError, DamagedFile
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.folder import Logbook, make_folder
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.probes.check import Check
from benchtemp.readings.reading import Stream
from benchtemp.shots.shot import Shot, analyse_stream
from benchtemp.teaching.cases.case import Case

FOLDER = "cases"
FILES_LIMIT = 100
CHECK_LIMIT = 1024 * 1024
_SITTING = re.compile(r"sitting-(\d{1,3})\.ecsv")
_CHECK = re.compile(r"probe-check-(\d{1,3})\.json")


class Work(NamedTuple):
    """All that was done on a case.

    Attributes:
        shots: In the order pulled, sitting by sitting.
        checks: Of the probe, in order.
    """

    shots: tuple[Shot, ...]
    checks: tuple[Check, ...]


def case_folder(logbook: Logbook, case: Case) -> Path:
    """Return where a case's files lie, which may not exist yet."""
    return logbook.root / FOLDER / f"case-{case.code:06d}"


def next_sitting(folder: Path) -> int:
    """Return the number of the next sitting."""
    return max((number for number, _ in _numbered(folder, _SITTING)), default=0) + 1


def next_check(folder: Path) -> int:
    """Return the number of the next check of the probe."""
    return max((number for number, _ in _numbered(folder, _CHECK)), default=0) + 1


def keep_sitting(folder: Path, number: int, stream: Stream) -> Path:
    """Keep a sitting's recording; return its file.

    Raises:
        BadInput: There are too many, or that number is there already.
        StorageError: The disk does not take it.
    """
    _refuse_too_many(number)
    make_folder(folder)
    path = folder / f"sitting-{number}.ecsv"
    write_stream(path, stream)
    return path


def keep_check(folder: Path, number: int, check: Check) -> Path:
    """Keep a check of the case's probe; return its file.

    Raises:
        BadInput: There are too many, or that number is there already.
        StorageError: The disk does not take it.
    """
    _refuse_too_many(number)
    make_folder(folder)
    path = folder / f"probe-check-{number}.json"
    try:
        write_whole(path, [msgspec.json.format(msgspec.json.encode(check), indent=1)], overwrite=False)
    except FileExistsError:
        raise BadInput(f"There is already a file {shown(path)}; try again.") from None
    return path


def _refuse_too_many(number: int) -> None:
    if number > FILES_LIMIT:
        raise BadInput(f"{FILES_LIMIT} tests of a case are enough; name the fault.")


def work_in(folder: Path, case: Case) -> Work:
    """Return what was done on a case.

    Raises:
        BadInput: A file is of another case, or cannot be read.
    """
    shots: list[Shot] = []
    for _, path in _numbered(folder, _SITTING):
        stream = read_stream(path)
        source = stream.meta.get("source")
        if not isinstance(source, dict) or source.get("case") != case.code:
            raise BadInput(f"{shown(path)} was not recorded on case {case.code}; move it elsewhere.")
        shots += [msgspec.structs.replace(shot, recording=path.name) for shot in analyse_stream(stream).shots]
    checks = []
    for _, path in _numbered(folder, _CHECK):
        try:
            checks.append(msgspec.json.decode(read_regular(path, CHECK_LIMIT), type=Check))
        except (msgspec.DecodeError, BenchtempError, RecursionError) as error:
            raise DamagedFile(f"{shown(path)} cannot be read as a check of the probe; remove it.") from error
    return Work(tuple(shots), tuple(checks))


def _numbered(folder: Path, pattern: re.Pattern[str]) -> list[tuple[int, Path]]:
    """Return a folder's own files whose names match, by their numbers; links are passed over."""
    if not folder.is_dir():
        return []
    found = []
    for path in folder.iterdir():
        name = pattern.fullmatch(path.name)
        if name and path.is_file() and not path.is_symlink():
            found.append((int(name[1]), path))
    return sorted(found)[:FILES_LIMIT]
