"""Figures as files: SVG to stand alone or inside a page, PDF for a page, PNG of any size."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from benchtemp.reports.charts.drawing import draw, drawing_rules
from benchtemp.reports.charts.palette import LIGHT, Palette
from benchtemp.reports.printable import printable
from benchtemp.studies.chart import Chart
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_UNWANTED = {
    "svg": ("Date", "Creator", "Format", "Type"),
    "pdf": ("CreationDate", "Creator", "Producer"),
    "png": ("Software",),
}
"""What the plotting library would write into a file of its own accord."""
_SVG = "http://www.w3.org/2000/svg"
_XLINK = "http://www.w3.org/1999/xlink"
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_COLOUR = re.compile(r"#[0-9a-f]{6}\b")
_FONT_FAMILY = re.compile(r"(?:'DejaVu Sans'|DejaVu Sans)")


def figure_bytes(figure: Figure, kind: str) -> bytes:
    """Return a figure as `svg`, `pdf` or `png`, the same bytes every time; call it under `drawing_rules`."""
    nothing: str | None = None
    metadata = dict.fromkeys(_UNWANTED[kind], nothing)
    held = io.BytesIO()
    figure.savefig(held, format=kind, metadata=metadata, facecolor=figure.get_facecolor(), edgecolor="none")
    return held.getvalue()


def chart_pages(charts: Iterable[Chart], *, unit: TempUnit, size_in: tuple[float, float]) -> bytes:
    """Return charts as a PDF with a page for each, all of one size; they share their fonts."""
    from matplotlib.backends.backend_pdf import PdfPages  # noqa: PLC0415  (start-up time)

    held = io.BytesIO()
    nothing: str | None = None
    metadata: Any = dict.fromkeys(_UNWANTED["pdf"], nothing)
    with drawing_rules(8.0), PdfPages(held, metadata=metadata) as pages:
        for chart in charts:
            pages.savefig(draw(chart, unit=unit, palette=LIGHT, size_in=size_in))
    return held.getvalue()


def inline_svg(
    chart: Chart,
    *,
    unit: TempUnit,
    key: str,
    size_in: tuple[float, float] = (7.0, 3.3),
) -> str:
    """Return a chart as an `<svg>` element to stand in an HTML page.

    Its colours are CSS variables (`--chart-ink`, `--chart-series-0`…, with the light colours as fallback), so
    that the page decides; its ids begin with `key`, so that several charts do not meet; title and summary are
    there for those who do not see it.
    """
    with drawing_rules(9.0):
        drawn = figure_bytes(draw(chart, unit=unit, palette=LIGHT, size_in=size_in), "svg")
    root = _parsed(drawn)
    _prefix_ids(root, key)
    _use_variables(root, LIGHT)
    described = {f"{key}-title": chart.title, f"{key}-desc": chart.summary}
    for position, (name, text) in enumerate(described.items()):
        element = ET.Element(f"{{{_SVG}}}{name.rpartition('-')[2]}", {"id": name})
        element.text = printable(text)
        root.insert(position, element)
    root.set("role", "img")
    root.set("aria-labelledby", " ".join(described))
    root.set("class", "chart")
    for name in ("width", "height", "version"):
        root.attrib.pop(name, None)
    return _written(root)


def _parsed(drawn: bytes) -> ET.Element:
    """Return the figure without prolog and metadata; it is our own drawing, with no entities in it."""
    root = ET.fromstring(drawn)  # noqa: S314  (written a moment ago by the plotting library)
    for element in root.findall(f"{{{_SVG}}}metadata"):
        root.remove(element)
    return root


def _prefix_ids(root: ET.Element, key: str) -> None:
    for element in root.iter():
        if "id" in element.attrib:
            element.set("id", f"{key}-{element.attrib['id']}")
        for name, value in element.attrib.items():
            if name == f"{{{_XLINK}}}href" and value.startswith("#"):
                element.set(name, f"#{key}-{value[1:]}")
            elif "url(#" in value:
                element.set(name, _REFERENCE.sub(rf"url(#{key}-\1)", value))


def _use_variables(root: ET.Element, palette: Palette) -> None:
    names = {colour: name for name, colour in palette.named().items()}
    if palette.ground:
        names[palette.ground] = "ground"

    def variable(found: re.Match[str]) -> str:
        name = names.get(found[0])
        return f"var(--chart-{name}, {found[0]})" if name else found[0]

    for element in root.iter():
        for name in ("style", "fill", "stroke"):
            value = element.get(name)
            if value:
                element.set(name, _FONT_FAMILY.sub("var(--chart-font)", _COLOUR.sub(variable, value)))
    for style in root.iter(f"{{{_SVG}}}style"):
        # It would hold for the whole page; the page's own style says the same for charts only.
        style.text = ""


def _written(root: ET.Element) -> str:
    ET.register_namespace("", _SVG)
    ET.register_namespace("xlink", _XLINK)
    return ET.tostring(root, encoding="unicode")
