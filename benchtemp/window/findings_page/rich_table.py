"""A study's tables as rich text."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtemp.studies.outcome import Table
    from benchtemp.window.theme import Theme


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
