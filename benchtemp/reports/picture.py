"""A shot or a comparison as a picture for an article or a film: PNG or SVG of any size."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from xml.etree import ElementTree as ET

from benchtemp.errors import BadInput
from benchtemp.reports.charts.drawing import draw, drawing_rules
from benchtemp.reports.charts.output import figure_bytes
from benchtemp.reports.charts.palette import PALETTES, PictureLook
from benchtemp.reports.charts.shot_charts import overlay_chart, plateau_chart, plateaus_chart, shot_chart
from benchtemp.reports.charts.size import check_size, dots_per_inch, size_in_inches
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.phrases import machines
from benchtemp.reports.tested import TestedShot
from benchtemp.studies.chart import Chart
from benchtemp.units import TempUnit, degc_to, delta_to

TEXT_PT = 9.0


class PictureKind(StrEnum):
    """A picture's file format."""

    PNG = "png"
    SVG = "svg"


def picture_chart(
    shots: Sequence[TestedShot], *, plateau: bool = False, unit: TempUnit = TempUnit.DEGC
) -> Chart:
    """Return what to draw of one shot, or of several laid over each other.

    Args:
        shots: At least one.
        plateau: Only the plateau.
        unit: For the sentence that describes it.

    Raises:
        BadInput: There is nothing to draw.
    """
    if len(shots) == 1:
        chart = plateau_chart(shots[0], unit) if plateau else shot_chart(shots[0], unit)
    else:
        chart = plateaus_chart(shots) if plateau else overlay_chart(shots)
    if chart is None:
        what = "plateau" if plateau else "trace"
        raise BadInput(f"There is no {what} to draw in {shots[0].file if shots else 'these files'}.")
    return chart


def picture_title(shots: Sequence[TestedShot], unit: TempUnit = TempUnit.DEGC) -> str:
    """Return the title a picture gets where none is given: the machine, and what one shot brewed at."""
    named = machines(tuple(dict.fromkeys(one.record.machine for one in shots if one.record.machine)))
    brew_degc = shots[0].record.brew_temp_degc if len(shots) == 1 else None
    if brew_degc is None:
        return named
    told = f"{degc_to(brew_degc, unit):.1f}"
    half_k = shots[0].record.expanded_uncertainty_k
    told += f" ± {delta_to(half_k, unit):.1f}" if half_k is not None else ""
    return f"{named or 'brew temperature'}: {told} {unit.symbol}"


def picture_bytes(
    chart: Chart,
    kind: PictureKind,
    *,
    size_px: tuple[int, int] = (1600, 900),
    look: PictureLook = PictureLook.LIGHT,
    unit: TempUnit = TempUnit.DEGC,
    title: str = "",
) -> bytes:
    """Return a chart as a picture file.

    Args:
        chart: What to draw.
        kind: PNG, or SVG with its texts as text.
        size_px: Width and height; letters and lines keep their share of it.
        look: On what it is to stand.
        unit: Shown.
        title: Written above; nothing where empty.

    Raises:
        BadInput: The size cannot be.
    """
    check_size(size_px)
    with drawing_rules(TEXT_PT):
        figure = draw(
            chart,
            unit=unit,
            palette=PALETTES[look],
            size_in=size_in_inches(size_px),
            dpi=dots_per_inch(size_px),
            title=title,
            heavy=1.15,
            pad_in=0.12,
        )
        drawn = figure_bytes(figure, kind)
    return _sized(drawn, size_px, chart) if kind is PictureKind.SVG else drawn


def _sized(drawn: bytes, size_px: tuple[int, int], chart: Chart) -> bytes:
    """Return an SVG with its size in pixels, and told in words for those who do not see it."""
    namespace = "http://www.w3.org/2000/svg"
    root = ET.fromstring(drawn)  # noqa: S314  (written a moment ago by the plotting library)
    root.set("width", str(size_px[0]))
    root.set("height", str(size_px[1]))
    root.set("role", "img")
    for position, (name, text) in enumerate((("title", chart.title), ("desc", chart.summary))):
        element = ET.Element(f"{{{namespace}}}{name}")
        element.text = printable(text)
        root.insert(position, element)
    ET.register_namespace("", namespace)
    ET.register_namespace("xlink", "http://www.w3.org/1999/xlink")
    written: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return written
