"""Shots as CSV and JSON."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.export.record import Record
from benchtemp.logbook.regular_file import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

_PLAIN_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?\Z", re.ASCII)
# A spreadsheet set to another separator may cut a cell within its text, so each part is looked at.
_FORMULA = re.compile(r"(^|[;\t\r\n])(?=[\s\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20])|^(?=[\t\r\n])")


def csv_text(records: Iterable[Record]) -> Iterator[str]:
    """Give the lines of a CSV table, comma-separated; every tag has a column of its own, `tag.NAME`.

    No text in it is taken for a formula by a spreadsheet: what would be gets an apostrophe before it.
    Lists are joined by "; ", unknown values are empty.
    """
    kept = list(records)
    tag_names = sorted({name for record in kept for name in record.tags})
    fields = [name for name in Record.__struct_fields__ if name != "tags"]
    yield _line([*fields, *(defused(f"tag.{name}") for name in tag_names)])
    for record in kept:
        cells = [_cell(getattr(record, name)) for name in fields]
        yield _line([*cells, *(_cell(record.tags.get(name, "")) for name in tag_names)])


def json_text(records: Iterable[Record]) -> Iterator[str]:
    """Give the parts of a JSON array, one object to a line."""
    before = "[\n"
    for record in records:
        yield before + msgspec.json.encode(record).decode()
        before = ",\n"
    yield "[]\n" if before == "[\n" else "\n]\n"


def write_text(path: Path, parts: Iterable[str], *, overwrite: bool, instead: str = "replace it") -> None:
    """Write a table into a file, which appears whole or not at all.

    Args:
        path: Where; its folder must be there.
        parts: Of the text.
        overwrite: Whether a file of that name may be replaced.
        instead: What the user can do besides choosing another name, as `add --overwrite`.

    Raises:
        BadInput: There is such a file already, or no such folder.
        StorageError: The disk does not take it.
    """
    taken = f"There is already a file {shown(path)}; choose another name, or {instead}."
    if path.is_dir():
        raise BadInput(f"{shown(path)} is a folder; name a file in it.")
    if not path.parent.is_dir():
        raise BadInput(f"There is no folder {shown(path.parent)}; make it first.")
    if path.exists() and not overwrite:
        raise BadInput(taken)
    try:
        write_whole(path, (part.encode() for part in parts), overwrite=overwrite)
    except FileExistsError as error:
        raise BadInput(taken) from error


def defused(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; plain numbers stay as they are.

    >>> defused('=HYPERLINK("x")'), defused("-0.5"), defused("house blend")
    ('\\'=HYPERLINK("x")', '-0.5', 'house blend')
    """
    return text if _PLAIN_NUMBER.match(text) else _FORMULA.sub(r"\1'", text)


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return defused("; ".join(value) if isinstance(value, tuple) else str(value))


def _line(cells: list[str]) -> str:
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerow(cells)
    return buffer.getvalue()
