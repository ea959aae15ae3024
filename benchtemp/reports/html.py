"""A report as one HTML file: opens without a network, prints well, runs nothing."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from benchtemp.reports.charts.output import inline_svg
from benchtemp.reports.charts.palette import DARK, LIGHT, Palette
from benchtemp.reports.content import Block, Bullets, Drawing, Facts, Grid, Paragraph, Report
from benchtemp.reports.printable import printable

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

CHART_SIZE_IN = (7.0, 3.3)


def html_bytes(report: Report) -> bytes:
    """Return the whole document, UTF-8.

    Every text is escaped; there is no script and nothing is loaded from anywhere, and the page forbids both.
    """
    from markupsafe import Markup  # noqa: PLC0415  (start-up time)

    environment = _environment()
    template = environment.get_template("report.html")

    def show(block: Block, part: int, place: int) -> Markup:
        return _block(block, report, f"chart-{part}-{place}")

    css = environment.get_template("report.css").render(light=_variables(LIGHT), dark=_variables(DARK))
    style = Markup(css)  # noqa: S704  (nothing in it comes from outside)
    return template.render(report=report, style=style, show=show).encode("utf-8")


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined  # noqa: PLC0415

    return Environment(
        loader=PackageLoader("benchtemp.reports", "templates"),
        autoescape=True,
        finalize=_shown,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )


def _shown(value: object) -> object:
    """Make every text that goes into the page printable; what is markup already stays."""
    return printable(value) if type(value) is str else value


def _variables(palette: Palette) -> Markup:
    from markupsafe import Markup  # noqa: PLC0415

    colours = {"ground": palette.ground or "transparent"} | palette.named()
    # Our own colours.
    return Markup("  " + " ".join(f"--chart-{name}: {colour};" for name, colour in colours.items()))  # noqa: S704


def _block(block: Block, report: Report, key: str) -> Markup:
    from markupsafe import Markup  # noqa: PLC0415

    parts = _environment().get_template("blocks.html").module
    if isinstance(block, Drawing):
        # Written by the plotting library, which escapes texts; checked by tests.
        svg = Markup(inline_svg(block.chart, unit=report.unit, key=key, size_in=CHART_SIZE_IN))  # noqa: S704
        made = parts.drawing(block, svg)  # type: ignore[attr-defined]
    else:
        name = {Paragraph: "paragraph", Bullets: "bullets", Facts: "facts", Grid: "grid"}[type(block)]
        made = getattr(parts, name)(block)
    assert isinstance(made, Markup)
    return made
