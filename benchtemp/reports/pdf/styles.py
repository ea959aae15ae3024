"""Fonts, sizes and colours of the PDF; it is always light, as paper is."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from benchtemp.reports.charts.palette import LIGHT
from benchtemp.reports.printable import printable

if TYPE_CHECKING:
    from reportlab.lib.styles import ParagraphStyle

SANS, BOLD, ITALIC, MONO = "BenchSans", "BenchSans-Bold", "BenchSans-Italic", "BenchMono"
INK, SOFT, RULE = LIGHT.ink, LIGHT.soft, LIGHT.grid
LONGEST_TEXT = 1500
ACCENT, CONCERN = "#00557f", "#6f4400"
VERDICT_GROUND, MUTED_GROUND = "#eef4f8", "#f4f6f6"

_FILES = {
    SANS: "DejaVuSans.ttf",
    BOLD: "DejaVuSans-Bold.ttf",
    ITALIC: "DejaVuSans-Oblique.ttf",
    MONO: "DejaVuSansMono.ttf",
}


@lru_cache(maxsize=1)
def register_fonts() -> None:
    """Make the fonts known that come with the plotting library: they hold °, ±, − and most alphabets."""
    import matplotlib as mpl  # noqa: PLC0415  (start-up time)
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(SANS, normal=SANS, bold=BOLD, italic=ITALIC, boldItalic=BOLD)


def style(
    size_pt: float = 9.0,
    *,
    font: str = SANS,
    colour: str = INK,
    before_pt: float = 0.0,
    after_pt: float = 2.0,
    keep: bool = False,
    right: bool = False,
    indent_pt: float = 0.0,
) -> ParagraphStyle:
    """Return a paragraph's style.

    Args:
        size_pt: Of its letters.
        font: One of this module's.
        colour: `#rrggbb`.
        before_pt: Space above.
        after_pt: Space below.
        keep: On one page with what follows.
        right: Flush right.
        indent_pt: From the left, with the bullet hanging before it.
    """
    from reportlab.lib.colors import HexColor  # noqa: PLC0415
    from reportlab.lib.styles import ParagraphStyle  # noqa: PLC0415

    return ParagraphStyle(
        "plain",
        fontName=font,
        fontSize=size_pt,
        leading=size_pt * 1.32,
        textColor=HexColor(colour),
        spaceBefore=before_pt,
        spaceAfter=after_pt,
        keepWithNext=int(keep),
        alignment=2 if right else 0,
        leftIndent=indent_pt,
        bulletIndent=max(indent_pt - 9.0, 0.0),
        bulletFontName=font,
        bulletFontSize=size_pt,
        bulletColor=HexColor(colour),
        splitLongWords=1,
    )


def marked_up(text: str, longest: int = LONGEST_TEXT) -> str:
    """Return a text for the layout library, which reads markup: nothing a person typed may be any.

    Args:
        text: Any text.
        longest: Characters that are shown of it; a box or a table's row must fit on a page.
    """
    return escape(printable(text, longest))
