"""An exercise as one file: a ZIP with one ECSV stream a shot and a TOML description.

    exercise.toml   title, teacher, words, and for each shot its stream, tolerance, recipe and `sealed`
    shots/01.ecsv   readings alone, ECSV 1.0

`sealed` holds a shot's reference, pump marks and the teacher's notes as base64 of zlib of JSON: nobody reads
an answer by opening the file, and anybody who wants to can. It keeps honest people honest; it is no secrecy
for an examination.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import io
import os
import re
import stat
import zipfile
import zlib
from pathlib import Path
from typing import Any

import msgspec
import tomli_w

from benchtemp import __version__
from benchtemp.errors import BadInput, BenchtempError, DamagedFile
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.ecsv import closing_line, parse_stream, stream_bytes
from benchtemp.logbook.preferences import without_none
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.readings.reading import Mark
from benchtemp.shots.marks import PUMP_KINDS
from benchtemp.shots.recipe import Recipe
from benchtemp.teaching.cutting import without_marks
from benchtemp.teaching.exercise import (
    ITEMS_LIMIT,
    NOTES_LIMIT,
    Exercise,
    Item,
    Reference,
    TeacherNote,
    Tolerance,
    line_text,
)
from benchtemp.toml_text import parse_toml

SUFFIX = ".exercise.zip"
FORMAT = "benchtemp exercise"
FORMAT_VERSION = 1
FILE_LIMIT = 64 * 1024 * 1024
"""Bytes of the whole file."""
DESCRIPTION_LIMIT = 4 * 1024 * 1024
STREAM_LIMIT = 16 * 1024 * 1024
"""Bytes of one shot's stream once unpacked: half an hour of eight channels at 100 readings a second."""
UNPACKED_LIMIT = 256 * 1024 * 1024
SEALED_LIMIT = 512 * 1024
MARKS_LIMIT = 200
LONGEST_S = 7200.0
BEYOND_S = 60.0
"""How far a reference may lie outside the readings: a cut may have come late."""

_DESCRIPTION = "exercise.toml"
_STREAM = re.compile(r"shots/\d{2}\.ecsv")
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
_SECRECY = "The answers are packed so that nobody reads one by chance; this is no secrecy for an examination."
_ZIP_FAULTS = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    LookupError,
    OverflowError,
)
"""What the ZIP reader raises for damaged or hostile files."""


class _Sealed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is kept from a glance."""

    reference: Reference
    pump_marks: list[tuple[float, str]] = []
    notes: list[TeacherNote] = []


class _Described(msgspec.Struct, frozen=True, kw_only=True):
    """One shot in the description."""

    title: str
    stream: str
    sealed: str
    shows_band: bool = True
    tolerance: Tolerance = Tolerance()
    recipe: Recipe = Recipe()
    dose_g: float | None = None
    yield_g: float | None = None


class _Description(msgspec.Struct, frozen=True, kw_only=True):
    """The description."""

    format: str
    format_version: int
    title: str
    teacher: str
    shots: list[_Described]
    words: str = ""


# Writing


def write_exercise(path: str | os.PathLike[str], exercise: Exercise, *, overwrite: bool = False) -> Path:
    """Write an exercise as one file that appears whole or not at all; return its path.

    The same exercise always gives the same bytes.

    Raises:
        BadInput: There is a file of that name (and `overwrite` is False), or it cannot be written.
        StorageError: The disk does not take it.
    """
    target = Path(path)
    if not target.parent.is_dir():
        raise BadInput(f"There is no folder {shown(target.parent)}; make it first or choose another.")
    content = exercise_bytes(exercise)
    try:
        write_whole(target, [content], overwrite=overwrite)
    except FileExistsError:
        raise BadInput(f"There is already a file {shown(target)}; choose another name.") from None
    return target


def exercise_bytes(exercise: Exercise) -> bytes:
    """Return the file's content.

    Raises:
        BadInput: It would be larger than what is read again.
    """
    packed = io.BytesIO()
    described = []
    unpacked = 0
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        streams = {}
        for number, item in enumerate(exercise.items, start=1):
            name = f"shots/{number:02d}.ecsv"
            header, rows = stream_bytes(item.stream)
            streams[name] = header + rows + closing_line(hashlib.sha256(rows).hexdigest())
            unpacked += len(streams[name])
            if len(streams[name]) > STREAM_LIMIT or unpacked > UNPACKED_LIMIT:
                raise BadInput(f"'{item.title}' is too long for an exercise; cut it shorter.")
            described.append(_described(item, name))
        _pack(archive, _DESCRIPTION, _description(exercise, described))
        for name, content in streams.items():
            _pack(archive, name, content)
    content = packed.getvalue()
    if len(content) > FILE_LIMIT:
        raise BadInput("The exercise is too large for one file; leave some shots out.")
    return content


def _pack(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    entry = zipfile.ZipInfo(name, date_time=_ZIP_DATE)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3
    entry.external_attr = (stat.S_IFREG | 0o644) << 16
    archive.writestr(entry, content)


def _described(item: Item, name: str) -> dict[str, Any]:
    sealed = _Sealed(
        reference=item.reference,
        pump_marks=[(mark.t_s, str(mark.kind)) for mark in item.pump_marks],
        notes=list(item.notes),
    )
    packed = base64.b64encode(zlib.compress(msgspec.json.encode(sealed), 9)).decode()
    return {
        "title": item.title,
        "stream": name,
        "shows_band": item.shows_band,
        "dose_g": item.dose_g,
        "yield_g": item.yield_g,
        "tolerance": msgspec.to_builtins(item.tolerance),
        "recipe": msgspec.to_builtins(item.recipe),
        "sealed": packed,
    }


def _description(exercise: Exercise, described: list[dict[str, Any]]) -> bytes:
    whole = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "program": f"benchtemp {__version__}",
        "title": exercise.title,
        "teacher": exercise.teacher,
        "words": exercise.words,
        "secrecy": _SECRECY,
        "shots": described,
    }
    return tomli_w.dumps(without_none(whole), multiline_strings=True).encode()


# Reading


def read_exercise(path: str | os.PathLike[str]) -> Exercise:
    """Read an exercise, whoever made the file; nothing is unpacked to the disk.

    Raises:
        BadInput: It is no exercise, or larger than is taken.
        DamagedFile: It is one, and damaged.
    """
    return parse_exercise(read_regular(path, FILE_LIMIT), shown(path))


def parse_exercise(content: bytes, name: str) -> Exercise:
    """Read a file's content; `name` is what messages call it. See `read_exercise`."""
    if not content.startswith(b"PK\x03\x04"):
        raise BadInput(f"{name} is no exercise: it is not a ZIP file; ask the teacher for the file again.")
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            entries = _entries(archive, name)
            description = _read_description(_unpack(archive, entries, _DESCRIPTION, DESCRIPTION_LIMIT), name)
            items = []
            for number, described in enumerate(description.shots, start=1):
                if described.stream not in entries or described.stream == _DESCRIPTION:
                    raise DamagedFile(f"{name} lacks the readings of shot {number}; use another copy.")
                rows = _unpack(archive, entries, described.stream, STREAM_LIMIT)
                items.append(_item(described, rows, f"shot {number} of {name}"))
    except BenchtempError:
        raise
    except _ZIP_FAULTS as error:
        raise DamagedFile(f"{name} is damaged and cannot be unpacked; use another copy.") from error
    try:
        return Exercise(
            title=description.title,
            teacher=description.teacher,
            words=_words(description.words),
            items=tuple(items),
            digest=hashlib.sha256(content).hexdigest(),
        )
    except BadInput as error:
        raise DamagedFile(f"{name} is no sound exercise: {error}") from error


def _words(text: str) -> str:
    return "\n".join(
        "".join(char if char.isprintable() else " " for char in line).rstrip() for line in text.splitlines()
    )


def _entries(archive: zipfile.ZipFile, name: str) -> dict[str, zipfile.ZipInfo]:
    """Return what a ZIP holds once it is sure that it holds what an exercise may hold."""
    listed = archive.infolist()
    if len(listed) > ITEMS_LIMIT + 1:
        raise BadInput(f"{name} holds {len(listed)} parts; an exercise has at most {ITEMS_LIMIT + 1}.")
    found: dict[str, zipfile.ZipInfo] = {}
    for entry in listed:
        part = shown(entry.filename)
        if entry.filename != _DESCRIPTION and not _STREAM.fullmatch(entry.filename):
            raise BadInput(f"{name} holds '{part}', which is no part of an exercise; it is not opened.")
        if entry.filename in found:
            raise DamagedFile(f"{name} holds '{part}' twice; use another copy.")
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if entry.flag_bits & 0x1 or kind not in (0, stat.S_IFREG):
            raise BadInput(f"'{part}' in {name} is locked or no plain file; it is not opened.")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise BadInput(
                f"'{part}' in {name} is packed in a way that is not taken; ask for it as plain ZIP."
            )
        found[entry.filename] = entry
    if _DESCRIPTION not in found:
        raise BadInput(
            f"{name} is no exercise: it has no {_DESCRIPTION}; ask the teacher for the file again."
        )
    if sum(entry.file_size for entry in listed) > UNPACKED_LIMIT:
        raise BadInput(f"{name} would unpack to more than {UNPACKED_LIMIT // 1024**2} MB; it is not opened.")
    return found


def _unpack(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo], part: str, limit: int) -> bytes:
    """Return one part, never more than `limit` bytes whatever the ZIP says of its size."""
    entry = entries[part]
    if entry.file_size <= limit:
        with archive.open(entry) as file:
            content = file.read(limit + 1)
            if len(content) <= limit:
                return content
    raise BadInput(f"'{part}' is larger than {limit // 1024**2} MB, which no shot is; it is not opened.")


def _read_description(content: bytes, name: str) -> _Description:
    try:
        written = parse_toml(content)
    except ValueError as error:
        raise DamagedFile(f"The description in {name} cannot be read; use another copy.") from error
    if written.get("format") != FORMAT:
        raise BadInput(f"{name} is no exercise of this program; ask the teacher for the file again.")
    version = written.get("format_version")
    if not isinstance(version, int) or version > FORMAT_VERSION:
        raise BadInput(f"{name} was made by a newer version of this program; update yours to open it.")
    try:
        found = msgspec.convert(written, _Description)
    except (msgspec.ValidationError, BadInput, RecursionError) as error:
        raise DamagedFile(f"The description in {name} holds what cannot be meant ({error}).") from error
    if not 1 <= len(found.shots) <= ITEMS_LIMIT:
        raise DamagedFile(f"{name} describes {len(found.shots)} shots; an exercise has 1 to {ITEMS_LIMIT}.")
    return found


def _item(described: _Described, rows: bytes, name: str) -> Item:
    stream = parse_stream(rows, name)
    if not len(stream.t_s) or len(stream.channels) > 8:
        raise DamagedFile(f"There are no readings that can be replayed in {name}; use another copy.")
    sealed = _unseal(described.sealed, name)
    try:
        item = Item(
            title=line_text(described.title, "title") or "Shot",
            # Whoever made the file may have left marks in it that tell something.
            stream=without_marks(stream),
            reference=sealed.reference,
            pump_marks=tuple(
                mark
                for mark in (Mark.parse(t_s, text) for t_s, text in sealed.pump_marks)
                if mark.kind in PUMP_KINDS
            ),
            shows_band=described.shows_band,
            tolerance=described.tolerance,
            recipe=described.recipe,
            dose_g=_grams(described.dose_g),
            yield_g=_grams(described.yield_g),
        )
        _refuse_odd_times(item)
        for note in sealed.notes:
            item = item.with_note(note)
    except BadInput as error:
        raise DamagedFile(f"There is something wrong with {name}: {error}") from error
    return item


def _refuse_odd_times(item: Item) -> None:
    """Raise BadInput where times cannot be those of a shot: much is looked through from one to another."""
    t_s = item.stream.t_s
    if not (float(t_s.min()) >= 0.0 and float(t_s.max()) <= LONGEST_S):
        raise BadInput(f"its readings do not lie between 0 and {LONGEST_S:g} s.")
    reference = item.reference
    for time_s in (
        reference.pump_on_s,
        reference.pump_off_s,
        reference.plateau_start_s,
        reference.plateau_end_s,
    ):
        if time_s is not None and not -BEYOND_S <= time_s <= item.length_s + BEYOND_S:
            raise BadInput("its reference lies outside its readings.")


def _grams(value: float | None) -> float | None:
    return value if value is not None and 0.0 < value < 10_000.0 else None


def _unseal(packed: str, name: str) -> _Sealed:
    try:
        unpacker = zlib.decompressobj()
        content = unpacker.decompress(base64.b64decode(packed, validate=True), SEALED_LIMIT)
        found = None if unpacker.unconsumed_tail else msgspec.json.decode(content, type=_Sealed)
    except (binascii.Error, zlib.error, msgspec.DecodeError, BadInput, ValueError, RecursionError) as error:
        raise DamagedFile(f"The reference of {name} cannot be read; use another copy.") from error
    if found is None or len(found.notes) > NOTES_LIMIT or len(found.pump_marks) > MARKS_LIMIT:
        raise DamagedFile(f"There are more notes or marks in {name} than a shot takes; it is not opened.")
    return found
