"""What a study found: its charts, its tables, and the shots it left out."""

from __future__ import annotations

from collections import Counter

import msgspec

from benchtemp.reports.content import Block, Bullets, Drawing, Grid, Paragraph, Row, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.study_text import figure_columns
from benchtemp.studies.outcome import Study, Table
from benchtemp.units import TempUnit

_LIST_OF_SHOTS, _REMARKED = "Shots", "Shots that stand apart"
_LIST_LONGEST = 20


def study_section(study: Study, unit: TempUnit) -> Section:
    """Return a study's charts and tables."""
    blocks: list[Block] = [Drawing(chart) for chart in study.charts(unit)]
    for table in study.tables(unit):
        blocks += _table_blocks(table)
    blocks += _left_out(study)
    return Section(printable(study.title, 120), tuple(blocks))


def _table_blocks(table: Table) -> list[Block]:
    """Return a table; of a long list of shots only those that something is remarked of: all follow later."""
    has_remarks = table.title == _LIST_OF_SHOTS and not table.headings[-1]
    if not has_remarks or len(table.rows) <= _LIST_LONGEST:
        return [table_grid(table)]
    remarked = tuple(row for row in table.rows if row[-1])
    others = len(table.rows) - len(remarked)
    told = Paragraph(
        f"The other {others} stand in the table of all shots."
        if remarked
        else f"Its {others} shots stand in the table of all shots.",
        quiet=True,
    )
    if not remarked:
        return [told]
    return [table_grid(msgspec.structs.replace(table, title=_REMARKED, rows=remarked)), told]


def table_grid(table: Table) -> Grid:
    """Return a study's table; columns after the first stand flush right where they hold figures."""
    figures = figure_columns(table)
    return Grid(
        title=table.title,
        headings=tuple(printable(heading, 120) for heading in table.headings),
        rows=tuple(Row(tuple(printable(cell, 400) for cell in row)) for row in table.rows),
        figures=figures,
        wide=tuple(column for column in range(len(table.headings)) if column not in figures),
    )


def _left_out(study: Study) -> list[Block]:
    expected = [left for left in study.left_out if not left.beside]
    beside = Counter(left.reasons[0] for left in study.left_out if left.beside and left.reasons)
    found: list[Block] = []
    if expected:
        found.append(Paragraph("Left out of this study:"))
        found.append(
            Bullets(
                tuple(printable(f"{left.shot.name}: {'; '.join(left.reasons)}", 400) for left in expected)
            )
        )
    if beside:
        told = "; ".join(f"{count} because {reason}" for reason, count in beside.items())
        found.append(Paragraph(printable(f"Not meant for it: {told}."), quiet=True))
    return found
