"""From a report's content to the pages of a PDF."""

from __future__ import annotations

import io
from collections.abc import Callable
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from benchtemp.reports.charts.output import chart_pages
from benchtemp.reports.content import Report
from benchtemp.reports.pdf.layout import CHART_HEIGHT_PT, TURNED, UPRIGHT, Layout
from benchtemp.reports.pdf.styles import RULE, SANS, SOFT, register_fonts
from benchtemp.reports.printable import printable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import PageTemplate

MARGIN_PT = 45.0
FOOT_PT = 52.0
_TITLE_LONGEST = 60
_FOOT_SIZE_PT, _PAGE_NUMBER_PT = 7.5, 70.0


class Paper(StrEnum):
    """What it is printed on."""

    A4 = "a4"
    LETTER = "letter"


def pdf_bytes(report: Report, *, paper: Paper = Paper.A4) -> bytes:
    """Return the whole document.

    It is laid out twice, since the foot of a page tells how many there are; charts are drawn once.
    """
    from reportlab.lib.pagesizes import A4, LETTER  # noqa: PLC0415  (start-up time)

    register_fonts()
    size_pt = {Paper.A4: A4, Paper.LETTER: LETTER}[paper]
    _, _, pages = _laid_out(report, size_pt, pages=0)
    laid_out, layout, _ = _laid_out(report, size_pt, pages=pages)
    return _with_charts(laid_out, layout, report)


def _laid_out(report: Report, size_pt: tuple[float, float], *, pages: int) -> tuple[bytes, Layout, int]:
    """Return the pages without charts, where those belong, and how many pages there are."""
    from reportlab.platypus import BaseDocTemplate  # noqa: PLC0415

    width_pt, height_pt = size_pt
    layout = Layout(width_pt - 2 * MARGIN_PT, height_pt - 2 * MARGIN_PT)
    held = io.BytesIO()
    document = BaseDocTemplate(
        held,
        pagesize=size_pt,
        title=printable(report.title),
        author="",
        subject=printable("; ".join(report.byline)),
        creator=report.program,
        lang="en",
        invariant=1,
    )
    document.addPageTemplates(
        [
            _page(UPRIGHT, (width_pt, height_pt), report, pages),
            _page(TURNED, (height_pt, width_pt), report, pages),
        ]
    )
    document.build(layout.story(report))
    return held.getvalue(), layout, document.page


def _page(name: str, size_pt: tuple[float, float], report: Report, pages: int) -> PageTemplate:
    from reportlab.platypus import Frame, PageTemplate  # noqa: PLC0415

    width_pt, height_pt = size_pt
    frame = Frame(
        MARGIN_PT,
        FOOT_PT,
        width_pt - 2 * MARGIN_PT,
        height_pt - MARGIN_PT - FOOT_PT,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    return PageTemplate(id=name, frames=[frame], onPage=_foot(report, width_pt, pages), pagesize=size_pt)


def _foot(report: Report, width_pt: float, pages: int) -> Callable[[Canvas, Any], None]:
    from reportlab.pdfbase.pdfmetrics import stringWidth  # noqa: PLC0415  (start-up time)

    made = f", {report.made}" if report.made else ""
    number = f"report {report.number}  ·  " if report.number else ""
    rest = f"  ·  {number}{report.program}{printable(made)}"
    room_pt = width_pt - 2 * MARGIN_PT - _PAGE_NUMBER_PT
    title = _fitted(report.title, room_pt - stringWidth(rest, SANS, _FOOT_SIZE_PT))
    left = f"{title}{rest}"

    def draw(canvas: Canvas, _document: Any) -> None:
        canvas.saveState()
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.5)
        canvas.line(MARGIN_PT, FOOT_PT - 12, width_pt - MARGIN_PT, FOOT_PT - 12)
        canvas.setFont(SANS, _FOOT_SIZE_PT)
        canvas.setFillColor(SOFT)
        canvas.drawString(MARGIN_PT, FOOT_PT - 24, left)
        number = f"page {canvas.getPageNumber()} of {pages}"
        canvas.drawRightString(width_pt - MARGIN_PT, FOOT_PT - 24, number)
        canvas.restoreState()

    return draw


def _fitted(title: str, room_pt: float) -> str:
    """Return as much of a title as fits into the foot of a page."""
    from reportlab.pdfbase.pdfmetrics import stringWidth  # noqa: PLC0415

    for longest in range(_TITLE_LONGEST, 8, -1):
        shown = printable(title, longest)
        if stringWidth(shown, SANS, _FOOT_SIZE_PT) <= room_pt:
            return shown
    return ""


def _with_charts(laid_out: bytes, layout: Layout, report: Report) -> bytes:
    """Put every chart, a page of its own size, onto the page where room was left for it."""
    from pypdf import PdfReader, PdfWriter, Transformation  # noqa: PLC0415

    charts = [chart for _, _, _, chart in layout.places]
    if not charts:
        return laid_out
    writer = PdfWriter(clone_from=io.BytesIO(laid_out))
    size_in = (layout.width_pt / 72.0, CHART_HEIGHT_PT / 72.0)
    drawn_pages = PdfReader(io.BytesIO(chart_pages(charts, unit=report.unit, size_in=size_in))).pages
    for (page, x_pt, y_pt, _), drawn in zip(layout.places, drawn_pages, strict=True):
        writer.pages[page - 1].merge_transformed_page(drawn, Transformation().translate(x_pt, y_pt))
    writer.compress_identical_objects()
    held = io.BytesIO()
    writer.write(held)
    return held.getvalue()
