"""A study's tables as rich text."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from benchtemp.reports.study_text import figure_columns

if TYPE_CHECKING:
    from benchtemp.studies.outcome import Table
    from benchtemp.window.theme import Theme

WHOLE_CHARS = 26
"""A name up to this long is not broken into lines; nor is any figure."""


def table_html(table: Table, theme: Theme) -> str:
    """Return a table as rich text, figures to the right."""
    figures = figure_columns(table)

    def row(cells: tuple[str, ...], tag: str, colour: str) -> str:
        parts: list[str] = []
        for place, cell in enumerate(cells):
            side = "right" if place in figures else "left"
            style = f"padding: 2px 14px 2px 0; color: {colour}; font-weight: normal;"
            text = _cell(cell, whole=tag == "td" and (place in figures or not place))
            parts.append(f'<{tag} align="{side}" style="{style}">{text}</{tag}>')
        return f"<tr>{''.join(parts)}</tr>"

    head = row(table.headings, "th", theme.soft)
    body = "".join(row(cells, "td", theme.text) for cells in table.rows)
    return f'<table cellspacing="0" cellpadding="0">{head}{body}</table>'


def _cell(text: str, *, whole: bool) -> str:
    return escape(text).replace(" ", "&nbsp;") if whole and len(text) <= WHOLE_CHARS else escape(text)
