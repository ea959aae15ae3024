"""The story of a PDF: a report's content as what the layout library puts on pages one after the other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.reports.content import Answer, Block, Bullets, Drawing, Facts, Grid, Paragraph, Report, Section
from benchtemp.reports.pdf.styles import (
    ACCENT,
    BOLD,
    CONCERN,
    INK,
    RULE,
    SOFT,
    VERDICT_GROUND,
    marked_up,
    style,
)
from benchtemp.reports.pdf.tables import fits_upright, grid_table
from benchtemp.reports.printable import printable
from benchtemp.studies.chart import Chart

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

UPRIGHT, TURNED = "upright", "turned"
"""Names of the two kinds of page."""
CHART_HEIGHT_PT = 178.0
ROOM_FOR_A_TABLE_PT = 90.0
"""A table's title, its heads and some rows stand together, or all of it begins on the next page."""
_ROOM_FOR_A_SECTION_PT = 110.0
_FACT_NAMES_PT = 130.0
_TITLE_LONGEST = 80
_ROWS_TOGETHER = 16
"""A table of no more rows is not parted."""


class Layout:
    """Makes the story of one report.

    Attributes:
        width_pt: Between the margins of an upright page.
        turned_width_pt: Between the margins of a page turned sideways.
        places: (page, x, y, chart) of every chart, filled in while the pages are built.
    """

    def __init__(self, width_pt: float, turned_width_pt: float) -> None:
        self.width_pt = width_pt
        self.turned_width_pt = turned_width_pt
        self.places: list[tuple[int, float, float, Chart]] = []

    def story(self, report: Report) -> list[Flowable]:
        """Return everything in order."""
        from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415  (start-up time)

        story: list[Flowable] = [Laid(marked_up(report.title), style(19, font=BOLD, after_pt=4))]
        story += [Laid(marked_up(line), style(9.5, colour=SOFT, after_pt=1)) for line in report.byline]
        for answer in report.answers:
            story += self._answer(answer)
        for number, section in enumerate(report.sections):
            story += self._section(section, f"part-{number}")
        return story

    def _answer(self, answer: Answer) -> list[Flowable]:
        from reportlab.lib.colors import HexColor  # noqa: PLC0415
        from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415
        from reportlab.platypus import Spacer, Table  # noqa: PLC0415

        lines = [
            Laid(marked_up(answer.title), style(9, font=BOLD, colour=SOFT, after_pt=0)),
            Laid(marked_up(answer.sentence), style(12, after_pt=0)),
        ]
        if answer.limits:
            lines.append(Laid(marked_up("; ".join(answer.limits)), style(8.5, colour=SOFT, after_pt=0)))
        if answer.concerns:
            against = style(9, font=BOLD, colour=CONCERN, after_pt=0)
            lines.append(Laid("Before you take it at its word:", against))
        lines += [
            Laid(marked_up(concern), style(9, colour=CONCERN, after_pt=0, indent_pt=10), bulletText="•")
            for concern in answer.concerns
        ]
        # One row for each paragraph, so that a long answer can go on on the next page.
        box = Table(
            [[line] for line in lines],
            colWidths=[self.width_pt],
            style=[
                ("BACKGROUND", (0, 0), (-1, -1), HexColor(VERDICT_GROUND)),
                ("LINEBEFORE", (0, 0), (0, -1), 3, HexColor(ACCENT)),
                ("LEFTPADDING", (0, 0), (-1, -1), 12),
                ("RIGHTPADDING", (0, 0), (-1, -1), 12),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
                ("TOPPADDING", (0, 0), (-1, 0), 8),
                ("BOTTOMPADDING", (0, -1), (-1, -1), 9),
            ],
        )
        return [Spacer(1, 10), box]

    def _section(self, section: Section, key: str) -> list[Flowable]:
        from reportlab.lib.colors import HexColor  # noqa: PLC0415
        from reportlab.platypus import CondPageBreak, HRFlowable, Spacer  # noqa: PLC0415

        begins_with_a_chart = bool(section.blocks) and isinstance(section.blocks[0], Drawing)
        found: list[Flowable] = [
            CondPageBreak(_ROOM_FOR_A_SECTION_PT + (CHART_HEIGHT_PT if begins_with_a_chart else 0.0)),
            Spacer(1, 14),
            HRFlowable(width="100%", thickness=0.6, color=HexColor(RULE), spaceBefore=0, spaceAfter=6),
            _heading(section.heading, key),
        ]
        for block in section.blocks:
            found += self._block(block)
        return found

    def _block(self, block: Block) -> list[Flowable]:
        from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415

        match block:
            case Paragraph(text, quiet):
                leads_on = text.endswith(":")
                return [
                    Laid(marked_up(text), style(colour=SOFT if quiet else INK, after_pt=4, keep=leads_on))
                ]
            case Bullets(items):
                bullet = style(after_pt=2.5, indent_pt=10)
                return [Laid(marked_up(item), bullet, bulletText="•") for item in items]
            case Facts():
                return [self._facts(block)]
            case Grid():
                return self._grid(block)
            case Drawing(chart):
                return [self._drawing(chart)]

    def _facts(self, block: Facts) -> Flowable:
        from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415
        from reportlab.platypus import Table  # noqa: PLC0415

        names, values = style(colour=SOFT, after_pt=0), style(after_pt=0)
        return Table(
            [[Laid(marked_up(name), names), Laid(marked_up(value), values)] for name, value in block.rows],
            colWidths=[_FACT_NAMES_PT, self.width_pt - _FACT_NAMES_PT],
            hAlign="LEFT",
            spaceAfter=4,
            style=[
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 8),
                ("TOPPADDING", (0, 0), (-1, -1), 1),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ],
        )

    def _grid(self, block: Grid) -> list[Flowable]:
        from reportlab.platypus import CondPageBreak, KeepTogether, NextPageTemplate, PageBreak  # noqa: PLC0415
        from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415

        upright = fits_upright(block, self.width_pt)
        table = grid_table(block, self.width_pt if upright else self.turned_width_pt)
        found: list[Flowable] = [
            Laid(marked_up(block.title), style(9.5, font=BOLD, before_pt=9, after_pt=3)),
            table,
        ]
        if block.note:
            found.append(Laid(marked_up(block.note), style(8, colour=SOFT, after_pt=4)))
        if upright and len(block.rows) <= _ROWS_TOGETHER:
            return [KeepTogether(found)]
        if upright:
            return [CondPageBreak(ROOM_FOR_A_TABLE_PT), *found]
        return [NextPageTemplate(TURNED), PageBreak(), *found, NextPageTemplate(UPRIGHT), PageBreak()]

    def _drawing(self, chart: Chart) -> Flowable:
        from reportlab.platypus import Flowable as Space  # noqa: PLC0415
        from reportlab.platypus import KeepTogether  # noqa: PLC0415
        from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415

        layout = self

        class ChartSpace(Space):
            """Room for a chart, which is put there once all pages are laid out."""

            def wrap(self, _width: float, _height: float) -> tuple[float, float]:
                return layout.width_pt, CHART_HEIGHT_PT

            def draw(self) -> None:
                x_pt, y_pt = self.canv.absolutePosition(0, 0)
                layout.places.append((self.canv.getPageNumber(), x_pt, y_pt, chart))

        return KeepTogether(
            [
                Laid(marked_up(chart.title), style(9.5, font=BOLD, before_pt=9, after_pt=2)),
                ChartSpace(),
                Laid(marked_up(chart.summary), style(8, colour=SOFT, before_pt=2, after_pt=4)),
            ]
        )


def _heading(text: str, key: str) -> Flowable:
    from reportlab.platypus import Paragraph as Laid  # noqa: PLC0415

    class Heading(Laid):
        """A heading that the reader's list of contents knows."""

        def draw(self) -> None:
            self.canv.bookmarkPage(key)
            self.canv.addOutlineEntry(printable(text, _TITLE_LONGEST), key, level=0)
            super().draw()

    return Heading(marked_up(text), style(13, font=BOLD, after_pt=5, keep=True))
