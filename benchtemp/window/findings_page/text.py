"""A study in words: as plain text to copy, and its tables as they are shown."""

from __future__ import annotations

from collections import Counter
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtemp.studies.outcome import Study, Table
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme


def left_out_lines(study: Study) -> list[str]:
    """Return the shots a study leaves out, with their reasons; those merely beside the question counted."""
    lines = [f"{left.shot.name}: {'; '.join(left.reasons)}" for left in study.left_out if not left.beside]
    beside = Counter(left.reasons[0] for left in study.left_out if left.beside)
    return lines + [f"{count} more: {reason}" for reason, count in beside.items()]


def plain_text(study: Study, unit: TempUnit) -> str:
    """Return a whole study as text: verdict, limits, warnings, tables, shots left out."""
    verdict = study.verdict(unit)
    lines = [study.title, "", verdict.sentence, f"({'; '.join(verdict.limits)})"]
    lines += [f"! {concern}" for concern in verdict.concerns]
    for table in study.tables(unit):
        lines += ["", table.title, *_rows(table)]
    left = left_out_lines(study)
    return "\n".join([*lines, *(["", "Left out", *left] if left else []), ""])


def _rows(table: Table) -> list[str]:
    return ["\t".join(row) for row in (table.headings, *table.rows)]


def table_html(table: Table, theme: Theme) -> str:
    """Return a table as rich text, names to the left and figures to the right."""

    def row(cells: tuple[str, ...], tag: str, colour: str) -> str:
        last = len(cells) - 1
        parts = [
            f'<{tag} align="{"left" if place in {0, last} and (place == 0 or last > 1) else "right"}" '
            f'style="padding: 2px 14px 2px 0; color: {colour}; font-weight: normal;">{escape(cell)}</{tag}>'
            for place, cell in enumerate(cells)
        ]
        return f"<tr>{''.join(parts)}</tr>"

    head = row(table.headings, "th", theme.soft)
    body = "".join(row(cells, "td", theme.text) for cells in table.rows)
    return f'<table cellspacing="0" cellpadding="0">{head}{body}</table>'
