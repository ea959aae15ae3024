"""Tables of the PDF: as wide as they must be, in letters as large as fit, no row cut in two."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from benchtemp.reports.content import Grid
from benchtemp.reports.pdf.styles import BOLD, INK, MONO, MUTED_GROUND, RULE, SANS, SOFT, marked_up, style
from benchtemp.reports.printable import printable

if TYPE_CHECKING:
    from reportlab.platypus import LongTable

SIZES_PT = (8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5)
"""Tried in turn; even the smallest is used where nothing fits, and long words then break."""
EASY_PT = 6.5
"""Smaller letters are hard to read: then the page is turned."""
PAD_PT = 3.5
ROOMY_PT, WIDE_LEAST_PT = 88.0, 48.0
"""What a column of longer texts gets at least: where there is room, and where there is little."""
LONGEST_CELL = 500
"""Characters; a row must fit on a page, however narrow its columns."""
DIGEST_HALF = 32
"""Digests are written in two lines."""


def grid_table(grid: Grid, width_pt: float) -> LongTable:
    """Return a table no wider than `width_pt`."""
    from reportlab.lib.colors import HexColor  # noqa: PLC0415  (start-up time)
    from reportlab.platypus import LongTable, Paragraph  # noqa: PLC0415

    size_pt, widths_pt = _fitting(grid, width_pt)
    plain = style(size_pt, after_pt=0)
    muted = style(size_pt, colour=SOFT, after_pt=0)
    code = style(size_pt * 0.86, font=MONO, after_pt=0)
    columns = range(len(grid.headings))
    heads = [
        Paragraph(
            marked_up(grid.headings[column], LONGEST_CELL),
            style(size_pt, font=BOLD, colour=SOFT, after_pt=0, right=column in grid.figures),
        )
        for column in columns
    ]
    rows: list[list[Any]] = [list(heads)]
    for row in grid.rows:
        cells: list[Any] = []
        for column in columns:
            cell = row.cells[column]
            if column in grid.code:
                halves = (cell[:DIGEST_HALF], cell[DIGEST_HALF:])
                cells.append(Paragraph("<br/>".join(marked_up(half) for half in halves), code))
            elif column in grid.figures or column in grid.fixed:
                cells.append(printable(cell, LONGEST_CELL))
            else:
                cells.append(Paragraph(marked_up(cell, LONGEST_CELL), muted if row.muted else plain))
        rows.append(cells)
    commands: list[tuple[Any, ...]] = [
        ("FONT", (0, 1), (-1, -1), SANS, size_pt, size_pt * 1.32),
        ("TEXTCOLOR", (0, 1), (-1, -1), HexColor(INK)),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("VALIGN", (0, 1), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 2 * PAD_PT),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, HexColor(SOFT)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, HexColor(RULE)),
    ]
    commands += [("ALIGN", (column, 0), (column, -1), "RIGHT") for column in grid.figures]
    for index, row in enumerate(grid.rows, 1):
        if row.muted:
            commands.append(("BACKGROUND", (0, index), (-1, index), HexColor(MUTED_GROUND)))
            commands.append(("TEXTCOLOR", (0, index), (-1, index), HexColor(SOFT)))
    return LongTable(
        rows,
        colWidths=widths_pt,
        repeatRows=1,
        splitByRow=1,
        splitInRow=0,
        hAlign="LEFT",
        style=commands,
        spaceAfter=3,
    )


def fits_upright(grid: Grid, width_pt: float) -> bool:
    """Tell whether a table is still easy to read at this width."""
    return _fitting(grid, width_pt)[0] >= EASY_PT


def _fitting(grid: Grid, width_pt: float) -> tuple[float, list[float]]:
    """Return the largest size of letters at which the table fits, and its columns' widths."""
    tried = [(size_pt, ROOMY_PT) for size_pt in SIZES_PT if size_pt >= EASY_PT]
    tried += [(size_pt, WIDE_LEAST_PT) for size_pt in SIZES_PT if size_pt <= EASY_PT]
    for size_pt, least_pt in tried:
        found = _widths(grid, width_pt, size_pt, least_pt)
        if found is not None:
            return size_pt, found
    each = width_pt / len(grid.headings)
    return SIZES_PT[-1], [each] * len(grid.headings)


def _widths(grid: Grid, width_pt: float, size_pt: float, least_pt: float) -> list[float] | None:
    """Return the columns' widths, None where they do not fit at this size."""
    from reportlab.pdfbase.pdfmetrics import stringWidth  # noqa: PLC0415

    def longest(texts: list[str], font: str) -> float:
        return max((stringWidth(printable(text), font, size_pt) for text in texts), default=0.0)

    needed: list[float] = []
    natural: list[float] = []
    for column, heading in enumerate(grid.headings):
        cells = [row.cells[column] for row in grid.rows]
        head = longest(heading.split(), BOLD) + 2 * PAD_PT + 1
        if column in grid.code:
            body = stringWidth("0" * DIGEST_HALF, MONO, size_pt * 0.86) + 2 * PAD_PT + 2
            needed.append(max(head, body))
            natural.append(needed[-1])
            continue
        body = longest(cells, SANS) + 2 * PAD_PT + 1
        natural.append(max(head, body))
        narrow = column in grid.figures or column in grid.fixed
        needed.append(natural[-1] if narrow else max(head, min(body, least_pt)))
    spare = width_pt - sum(needed)
    if spare < 0:
        return None
    wishes = [max(wish - need, 0.0) for wish, need in zip(natural, needed, strict=True)]
    total = sum(wishes)
    share = 1.0 if total <= spare else spare / total
    return [need + share * wish for need, wish in zip(needed, wishes, strict=True)]
