"""A study as plain text: for a terminal, and for pasting elsewhere."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtemp.studies.outcome import Study, Table
    from benchtemp.units import TempUnit

WIDTH = 100
"""Characters to a line on a terminal."""
_FIGURE = re.compile(
    r"|—.{0,4}|(?:[<≤≥±+−]\s?)?\d[\d.]*(?::\d[\d.]*| of \d+)?(?: ?[^\d\s]{1,5}(?:/[^\d\s]{1,4})?)?"
)
"""Nothing, a dash, or a number with a sign and a unit."""


def study_lines(study: Study, unit: TempUnit) -> list[str]:
    """Return a study for a terminal: verdict, limits, what speaks against it, tables in columns."""
    import textwrap  # noqa: PLC0415 - start-up time

    lines: list[str] = []
    for line in _verdict_lines(study, unit):
        lines += textwrap.wrap(line, WIDTH, subsequent_indent="  " if line.startswith("! ") else "") or [""]
    for table in study.tables(unit):
        lines += ["", table.title, *table_lines(table)]
    left = left_out_lines(study)
    return [*lines, *(["", "Left out", *(f"  {line}" for line in left)] if left else [])]


def study_text(study: Study, unit: TempUnit) -> str:
    """Return a study for pasting: the same, with whole lines, and tabs between the columns of tables."""
    lines = _verdict_lines(study, unit)
    for table in study.tables(unit):
        lines += ["", table.title, *("\t".join(row) for row in (table.headings, *table.rows))]
    left = left_out_lines(study)
    return "\n".join([*lines, *(["", "Left out", *left] if left else []), ""])


def _verdict_lines(study: Study, unit: TempUnit) -> list[str]:
    verdict = study.verdict(unit)
    concerns = [f"! {concern}" for concern in verdict.concerns]
    return [study.title, "", verdict.sentence, f"({'; '.join(verdict.limits)})", *concerns]


def left_out_lines(study: Study) -> list[str]:
    """Return the shots a study leaves out, with their reasons; those merely beside the question counted."""
    lines = [f"{left.shot.name}: {'; '.join(left.reasons)}" for left in study.left_out if not left.beside]
    beside = Counter(left.reasons[0] for left in study.left_out if left.beside)
    return lines + [f"{count} more: {reason}" for reason, count in beside.items()]


def figure_columns(table: Table) -> tuple[int, ...]:
    """Return the columns that hold figures and stand flush right; never the first, which names the row."""
    return tuple(
        column
        for column in range(1, len(table.headings))
        if all(_FIGURE.fullmatch(row[column]) for row in table.rows)
        and any(row[column] for row in table.rows)
    )


def table_lines(table: Table) -> list[str]:
    """Return a table in columns, figures to the right."""
    rows = [table.headings, *table.rows]
    figures = figure_columns(table)
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.headings))]
    return [
        "  "
        + "  ".join(
            cell.rjust(width) if column in figures else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
