"""The lines of somebody else's file: read within bounds, its encoding found, what is no text refused.

Encodings are told by their marks and their bytes, not by statistics of letters: such a file holds digits and
a degree sign, and from those a statistical detector takes Western European text for Chinese.
"""

from __future__ import annotations

import codecs
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput
from benchtemp.logbook.regular_file import read_regular, shown

if TYPE_CHECKING:
    import os

LARGEST_BYTES = 64 * 1024 * 1024
"""About three weeks of a reading a second from four channels."""
LONGEST_LINE = 16 * 1024
UNREADABLE = "\N{REPLACEMENT CHARACTER}"
"""Stands for a line too long, or with NULs in it: it is no row, whatever it once was."""

ENCODINGS = (
    *("utf-8", "utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"),
    *("cp1252", "latin-1", "cp1250", "cp1251", "cp437", "cp850", "cp932", "gb18030", "big5", "mac-roman"),
)
"""What can be named; the first seven and cp850 are found by themselves."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_NO_TEXT = (
    (b"PK\x03\x04", "a spreadsheet workbook or an archive; save it as CSV and import that"),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet workbook; save it as CSV and import that"),
    (b"\x1f\x8b", "compressed; unpack it and import what is inside"),
    (b"%PDF", "a PDF; export the readings as text or CSV and import that"),
    (b"\x89PNG", "a picture; export the readings as text or CSV and import that"),
)
_OWN_KIND = re.compile(rb"^#\s+kind:\s*'?(?:recording|shot|demo)\b", re.MULTILINE)
_SAMPLE_BYTES = 64 * 1024
_MOST_LINES_JOINED = 5


@dataclass(frozen=True, slots=True)
class Text:
    """A file's lines.

    Attributes:
        name: What sentences call the file.
        lines: Its lines without their ends, in order; line 1 is `lines[0]`.
        encoding: What its bytes were read as.
        ended: The last line has a line end; without one it may be cut.
        strange: How many characters could not be read in that encoding.
        sha256: Digest of its bytes.
        size_bytes: Its length.
    """

    name: str
    lines: list[str]
    encoding: str
    ended: bool
    strange: int
    sha256: str
    size_bytes: int


def read_text(source: str | os.PathLike[str] | bytes, encoding: str = "", name: str = "") -> Text:
    """Return the lines of a file, or of its content.

    Args:
        source: A path, or the bytes of a file.
        encoding: One of `ENCODINGS`; empty to find out. A byte order mark in the file goes before it.
        name: What sentences call the file; its path where empty.

    Raises:
        BadInput: No regular file, larger than 64 MB, empty, no text, or an unknown encoding.
    """
    if isinstance(source, bytes):
        content, name = source, name or "The file"
        if len(content) > LARGEST_BYTES:
            raise BadInput(f"{name} is larger than {LARGEST_BYTES // 2**20} MB; split it.")
    else:
        content, name = read_regular(source, LARGEST_BYTES), name or shown(Path(source))
    _refuse_other_formats(content, name)
    mark, found = _encoding_of(content, encoding)
    text = content[mark:].decode(found, "replace")
    _refuse_binary(text, name)
    stripped = text.rstrip("\x00\x1a")  # left by a power cut, or an old mark of the end
    if not stripped.strip():
        raise BadInput(f"{name} is empty; there is nothing to import from it.")
    return Text(
        name=name,
        lines=_lines(stripped),
        encoding=found,
        ended=stripped.endswith(("\n", "\r")),
        strange=stripped.count(UNREADABLE),
        sha256=hashlib.sha256(content).hexdigest(),
        size_bytes=len(content),
    )


def known_encoding(encoding: str) -> str:
    """Return an encoding as we call it.

    Raises:
        BadInput: It is none of `ENCODINGS`.
    """
    try:
        wanted = codecs.lookup(encoding).name
    except (LookupError, ValueError):
        wanted = ""
    for known in ENCODINGS:
        if wanted == codecs.lookup(known).name:
            return known
    raise BadInput(f"“{encoding[:40]}” is no encoding that can be read; name one of {', '.join(ENCODINGS)}.")


def _refuse_other_formats(content: bytes, name: str) -> None:
    for start, what in _NO_TEXT:
        if content.startswith(start):
            raise BadInput(f"{name} is no text file but {what}.")
    if content.startswith(b"# %ECSV") and _OWN_KIND.search(content[:_SAMPLE_BYTES]):
        raise BadInput(
            f"{name} is a file of benchtemp's own and needs no import; 'benchtemp analyse' reads it."
        )


def _encoding_of(content: bytes, named: str) -> tuple[int, str]:
    """Return the length of a byte order mark, and the encoding."""
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            return len(mark), encoding
    if named:
        return 0, known_encoding(named)
    wide = _wide_encoding(content[:_SAMPLE_BYTES])
    if wide:
        return 0, wide
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        # A file that was cut may end within a character.
        if error.start < len(content) - 3:
            return 0, _one_byte_encoding(content)
    return 0, "utf-8"


def _wide_encoding(sample: bytes) -> str:
    """Return UTF-16 without a mark, told by the zero in every second byte; else an empty text."""
    half = max(1, len(sample) // 2)
    even, odd = sample[0::2].count(0) / half, sample[1::2].count(0) / half
    if odd > 0.5 and even < 0.1:
        return "utf-16-le"
    return "utf-16-be" if even > 0.5 and odd < 0.1 else ""


def _one_byte_encoding(content: bytes) -> str:
    """Return which one-byte encoding fits, judged by the degree sign before C or F and by gaps in it."""
    degrees = {sign: sum(content.count(bytes((sign, letter))) for letter in b"CFcf") for sign in (0xB0, 0xF8)}
    if degrees[0xF8] > degrees[0xB0]:
        return "cp850"
    undefined = (0x81, 0x8D, 0x8F, 0x90, 0x9D)
    return "latin-1" if any(byte in content for byte in undefined) else "cp1252"


def _refuse_binary(text: str, name: str) -> None:
    sample = text[:_SAMPLE_BYTES].rstrip("\x00")
    control = sum(
        1 for sign in sample if (ord(sign) < 32 and sign not in "\t\n\r\f\x1a") or sign == UNREADABLE
    )
    if control * 20 > len(sample):
        raise BadInput(f"{name} is no text file; name the text or CSV file that the meter wrote.")


def _lines(text: str) -> list[str]:
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not lines[-1]:
        lines.pop()
    if "\x00" in text or len(text) > LONGEST_LINE:
        lines = [UNREADABLE if len(line) > LONGEST_LINE or "\x00" in line else line for line in lines]
    return _joined(lines) if '"' in text else lines


def _joined(lines: list[str]) -> list[str]:
    """Join lines that break within quotes, as some headings do; those taken leave empty ones behind."""
    at = 0
    while at < len(lines):
        if lines[at].count('"') % 2:
            for further in range(1, min(_MOST_LINES_JOINED, len(lines) - at)):
                if lines[at + further].count('"') % 2:
                    lines[at] = " ".join(lines[at : at + further + 1])
                    lines[at + 1 : at + further + 1] = [""] * further
                    at += further
                    break
        at += 1
    return lines
