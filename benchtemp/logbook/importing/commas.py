"""Commas between columns and before decimals at once: nothing in such a file tells which is which."""

from __future__ import annotations

import re

from benchtemp.errors import BadInput
from benchtemp.logbook.importing.cells import CellKind, split
from benchtemp.logbook.importing.sample import Sample

_WHOLE = re.compile(r"[-+]?\d{1,4}")
_DECIMALS = re.compile(r"\d{1,3}")
_FEWEST_ROWS = 5
_FEWEST_DIFFERENT = 3


def refuse_commas_for_both(sample: Sample, file: str) -> None:
    """Refuse a table in which numbers seem to be cut at their decimal commas.

    Told by a heading with fewer names than rows have cells, by as many as there are pairs of a whole number
    and of digits that are always equally many.

    Args:
        sample: The table as it would be read.
        file: What sentences call the file.

    Raises:
        BadInput: It is such a table.
    """
    if sample.dialect.delimiter != "," or len(sample.rows) < _FEWEST_ROWS or not sample.names:
        return
    extra = sample.dialect.columns - _names_given(sample)
    if extra > 0 and _pairs(sample) == extra:
        raise BadInput(
            f"In {file} commas seem to stand both between columns and before decimals, and nothing tells "
            f"which is which; export it again with semicolons between columns, or with decimal points."
        )


def _names_given(sample: Sample) -> int:
    """Return how many names stand in the line right above the first row."""
    above = (line for line in reversed(sample.lines[: sample.first]) if line.strip())
    return len(split(next(above, ""), sample.dialect.delimiter))


def _pairs(sample: Sample) -> int:
    """Return how many columns of decimals follow a column of whole numbers."""
    count, place = 0, 1
    columns = sample.dialect.columns
    while place < columns:
        if (
            sample.kinds[place - 1] is CellKind.NUMBER
            and all(_WHOLE.fullmatch(text) for text in sample.texts(place) if text)
            and _are_decimals([text for text in sample.texts(place + 1) if text])
        ):
            count += 1
            place += 1
        place += 1
    return count


def _are_decimals(texts: list[str]) -> bool:
    return (
        len(texts) >= _FEWEST_ROWS
        and len({len(text) for text in texts}) == 1
        and len(set(texts)) >= _FEWEST_DIFFERENT
        and all(_DECIMALS.fullmatch(text) for text in texts)
    )
