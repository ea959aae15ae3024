"""Raw lines as a table of columns: by JSON key, by label or by field, whichever fits."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal

from benchtemp.readings.columns import Column
from benchtemp.readings.parser import FIELD_WITH_UNIT, LABELLED_VALUE, json_object, written_in_json
from benchtemp.readings.values import Written, read_written, shown, unit_of

_MOST_COLUMNS = 64
_DEEPEST = 4
_FITS = 0.5
"""The share of lines a form must fit to be taken."""

_FEWEST_SHARE = 0.2

_LABEL = re.compile(
    rf"(?<![A-Za-z0-9_])([A-Za-z_][A-Za-z0-9_\-/]{{0,30}}(?: \d{{1,2}})?)(?=\s*[=:])"
    rf"(?!\s*:\s*[A-Za-z_][A-Za-z0-9_\-/]*\s*=){LABELLED_VALUE}",
    re.ASCII,
)
_SEPARATOR_NAMES = {",": "commas", ";": "semicolons", "|": "upright strokes", "\t": "tabs", "": "spaces"}


@dataclass(frozen=True)
class Table:
    """Lines seen as columns.

    Attributes:
        form: How a value is found.
        columns: The columns, with their cells by line.
        places: For each column what a layout says of it: a field's number, a label or a key.
        share: The share of lines that fit.
        separator: What stands between fields.
        decimal: The sign before decimals.
        fields: How many fields every line has; 0 where that differs.
    """

    form: Literal["field", "label", "key"]
    columns: list[Column]
    places: list[int | str]
    share: float
    separator: str = ","
    decimal: Literal[".", ","] = "."
    fields: int = 0

    @property
    def told(self) -> str:
        """Return how a line is built, as a sentence."""
        if self.form == "key":
            return "Each line is a JSON object."
        decimals = " with a comma before the decimals" if self.decimal == "," else ""
        if self.form == "label":
            return f"Values follow labels{decimals}."
        if len(self.columns) == 1:
            return f"Each line is one value{decimals}."
        return f"Fields are separated by {_SEPARATOR_NAMES[self.separator]}{decimals}."


def table_of(texts: Sequence[str]) -> Table | None:
    """Return the table that lines make (Latin-1, one character a byte), or None where they make none."""
    return _json_table(texts) or _label_table(texts) or _field_table(texts)


def _json_table(texts: Sequence[str]) -> Table | None:
    objects = [json_object(text.encode("latin-1", "replace")) for text in texts]
    found = [content for content in objects if content]
    if not found or len(found) < _FITS * len(texts):
        return None
    keys: dict[str, None] = {}
    for content in found:
        for key in _keys(content):
            keys.setdefault(key)
    names = list(keys)[:_MOST_COLUMNS]
    columns = []
    for key in names:
        cells = [None if content is None else written_in_json(content, key) for content in objects]
        texts_of_key = ["" if cell is None else _written_text(cell) for cell in cells]
        columns.append(Column(f"“{shown(key)}”", key, cells, texts_of_key))
    return Table("key", columns, list(names), len(found) / len(texts)) if columns else None


def _written_text(cell: Written) -> str:
    if not isfinite(cell.number):
        found = re.search("“(.*)”", cell.reason)
        return found[1] if found else ""
    return str(int(cell.number)) if cell.number.is_integer() else repr(cell.number)


def _keys(content: Any, before: str = "", depth: int = 0) -> list[str]:
    """Return the keys of all plain values in a JSON value, with dots to reach inside."""
    if depth > _DEEPEST:
        return []
    if isinstance(content, dict):
        inside = [(key, value) for key, value in content.items() if key and (before or "." not in key)]
    elif isinstance(content, list):
        inside = [(str(number), value) for number, value in enumerate(content[:16])]
    else:
        return [before] if before and not isinstance(content, bool) else []
    return [
        key
        for name, value in inside
        for key in _keys(value, f"{before}.{name}" if before else name, depth + 1)
    ]


def _label_table(texts: Sequence[str]) -> Table | None:
    decimal: Literal[".", ","] = "."
    if _has_decimal_commas(texts):
        decimal = ","
        texts = [text.replace(",", ".") for text in texts]
    rows = [_LABEL.findall(text) for text in texts]
    share = sum(any(_is_value(value) for _, value in row) for row in rows) / len(texts)
    if share < _FITS:
        return None
    labels = Counter(label for row in rows for label in {label for label, _ in row})
    once = {
        label
        for label, count in labels.items()
        if count > 0.1 * len(texts) and all(sum(label == one for one, _ in row) <= 1 for row in rows)
    }
    columns: dict[str, Column] = {}
    for row in rows:
        for label, _ in row:
            if label in once and len(columns) < _MOST_COLUMNS:
                columns.setdefault(label, Column(f"“{label}”", label))
    for row in rows:
        values = dict(row)
        for label, column in columns.items():
            text = values.get(label)
            column.cells.append(None if text is None else read_written(text))
            column.texts.append(text or "")
    separator = next((sign for sign in ";|\t," if sum(sign in text for text in texts) > len(texts) / 2), "")
    if not columns:
        return None
    return Table("label", list(columns.values()), list(columns), share, separator, decimal)


def _is_value(text: str) -> bool:
    written = read_written(text)
    return isfinite(written.number) or written.is_word


def _has_decimal_commas(texts: Sequence[str]) -> bool:
    """Tell whether every comma stands between two digits where points and other separators leave no doubt."""
    with_comma = [text for text in texts if "," in text]
    if not with_comma or any(re.search(r"\d\.\d", text) for text in texts):
        return False
    return all(len(re.findall(r"(?<![\d,])\d+,\d+(?![\d,])", text)) == text.count(",") for text in with_comma)


def _field_table(texts: Sequence[str]) -> Table | None:
    best: tuple[float, int, Table] | None = None
    for separator in (";", "\t", "|", ",", ""):
        table = _fields_at(texts, separator, ".")
        if table is not None:
            best = _better(best, table)
    if _has_decimal_commas(texts):
        dotted = [text.replace(",", ".") for text in texts]
        for separator in (";", "\t", "|", ""):
            table = _fields_at(dotted, separator, ",")
            if table is not None and (len(table.columns) > 1 or looks_decimal(texts)):
                best = _better(best, table, 0.5)
    return best[2] if best else None


def _better(
    best: tuple[float, int, Table] | None, table: Table, bonus: float = 0.0
) -> tuple[float, int, Table]:
    cells = [cell for column in table.columns for cell in column.cells if cell is not None]
    read = sum(isfinite(cell.number) or cell.is_word or not cell.reason for cell in cells)
    score = (read / len(cells) if cells else 0.0) * table.share + bonus
    entry = (score, len(table.columns), table)
    return entry if best is None or entry[:2] > best[:2] else best


def looks_decimal(texts: Sequence[str]) -> bool:
    """Tell a lone decimal number from two whole ones: decimals have a fixed length and use all of it."""
    decimals = [found[1] for text in texts if (found := re.search(r"\d,(\d+)", text))]
    if not decimals or len({len(part) for part in decimals}) > 1 or len(decimals[0]) > 3:
        return False
    reach = max(map(int, decimals)) - min(map(int, decimals))
    return any(part.startswith("0") and len(part) > 1 for part in decimals) or reach >= 0.3 * 10 ** len(
        decimals[0]
    )


def _fields_at(texts: Sequence[str], separator: str, decimal: Literal[".", ","]) -> Table | None:
    """Return the table that lines make when split at a separator."""
    rows = [text.split(separator) if separator else FIELD_WITH_UNIT.findall(text) for text in texts]
    counts = Counter(len(row) for row in rows if any(_is_value(part) for part in row))
    if not counts:
        return None
    count = max(counts, key=lambda one: (counts[one], one))
    if count > _MOST_COLUMNS or (count == 1 and separator):
        return None
    share = counts[count] / len(texts)
    if share < _FEWEST_SHARE or counts[count] < _FITS * sum(counts.values()):
        return None
    names = _headings(rows, count)
    columns: list[Column] = []
    for number in range(1, count + 1):
        called = f"field {number}" + (f" (“{names[number - 1]}”)" if names[number - 1] else "")
        columns.append(Column(called if count > 1 else "the value", names[number - 1]))
    whole_rows = [row for row in rows if len(row) == count and any(_is_value(part) for part in row)]
    for row in whole_rows:
        for column, part, following in zip(columns, row, [*row[1:], ""], strict=True):
            unit = following.strip() if separator and unit_of(following) else ""
            column.cells.append(read_written(f"{part} {unit}"))
            column.texts.append(part)
    same = counts.keys() == {count} or (
        len(counts) == 2 and len(rows[0]) != count and counts[len(rows[0])] == 1
    )
    return Table("field", columns, list(range(1, count + 1)), share, separator, decimal, count if same else 0)


def _headings(rows: list[list[str]], count: int) -> list[str]:
    """Return the column names of a heading line, where there is one; empty texts where there is none."""
    for row in rows[:20]:
        names = [part.strip().strip("#\"'").strip() for part in row]
        if len(row) == count > 1 and all(names) and not any(_is_value(name) for name in names):
            return [shown(name, 30) for name in names]
    return [""] * count
