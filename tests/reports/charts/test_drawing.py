import io
import re
from xml.etree import ElementTree as ET

import msgspec
import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader

from benchtemp.reports.charts.drawing import draw, drawing_rules
from benchtemp.reports.charts.output import chart_pages, figure_bytes, inline_svg
from benchtemp.reports.charts.palette import DARK, LIGHT, PALETTES, TRANSPARENT
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.units import TempUnit

SVG = "{http://www.w3.org/2000/svg}"
X = (1.0, 2.0, 3.0)
Y = (92.5, 92.8, 91.9)


@pytest.fixture(scope="module")
def every_look():
    """One chart with everything in it that can be drawn, and names with bad intent."""
    low, high = tuple(y - 0.3 for y in Y), tuple(y + 0.3 for y in Y)
    return Chart(
        title="Title <b>bold</b>",
        summary="Summary & </desc><script>1</script>",
        x=Axis(quantity=Quantity.SHOT, title="shot $x^2$"),
        y=Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature"),
        series=(
            Series(name="line", look=Look.LINE, x=X, y=(92.5, float("nan"), 91.9), faint=True),
            Series(
                name="_points <script>", look=Look.POINTS, x=X, y=Y, marked=(2,), labels=("a", "b", "</text>")
            ),
            Series(name=r"$\frac{", look=Look.BAND, x=X, low=low, high=high, group=1),
            Series(
                name="漢字 \N{COFFIN}\0",
                look=Look.INTERVALS,
                x=X,
                y=Y,
                low=(-np.inf, *low[1:]),
                high=(*high[:2], np.inf),
                group=2,
            ),
            Series(name="bars", look=Look.BARS, x=X, y=Y, low=low, high=high, group=9),
        ),
        levels=(
            Level(name="band", at=90.5, to=96.0, faint=True),
            Level(name="mean", at=92.4),
            Level(name="from", at=1.5, upright=True),
            Level(name="stretch", at=1.2, to=1.8, upright=True),
            Level(name="nowhere", at=float("nan")),
        ),
    )


@pytest.fixture(scope="module")
def svg(every_look):
    return inline_svg(every_look, unit=TempUnit.DEGC, key="k")


def texts(svg):
    return [element.text for element in ET.fromstring(svg).iter(f"{SVG}text")]


def test_names_stay_text_and_are_neither_markup_nor_formulas(svg):
    shown = texts(svg)
    assert {"shot $x^2$", " _points <script>", r"$\frac{", "</text>", "brew temperature (°C)"} <= set(shown)
    assert "漢字 \N{COFFIN}\ufffd" in shown
    assert "<script" not in svg
    assert "stands out" in shown
    assert "nowhere" not in shown


def test_every_colour_is_left_to_the_page(svg):
    named = set(re.findall(r"var\(--chart-([a-z0-9-]+), (#[0-9a-f]{6})\)", svg))
    assert named <= {(name, colour) for name, colour in {**LIGHT.named(), "ground": LIGHT.ground}.items()}
    bare = set(re.findall(r"#[0-9a-f]{6}\b", re.sub(r"var\([^)]*\)", "", svg)))
    assert bare == set()
    assert "DejaVu" not in svg


def test_a_chart_is_told_in_words_and_its_ids_are_its_own(every_look, svg):
    first = ET.fromstring(svg)
    second = ET.fromstring(inline_svg(every_look, unit=TempUnit.DEGC, key="two"))
    assert first.get("role") == "img"
    assert first.get("aria-labelledby") == "k-title k-desc"
    assert [first[0].text, first[1].text] == [every_look.title, every_look.summary]
    ids = [[element.get("id") for element in root.iter() if element.get("id")] for root in (first, second)]
    assert len(set(ids[0]) | set(ids[1])) == len(ids[0]) + len(ids[1])
    for root, own in ((first, set(ids[0])), (second, set(ids[1]))):
        written = ET.tostring(root, encoding="unicode")
        used = re.findall(r'href="#([^"]+)"', written) + re.findall(r"url\(#([^)]+)\)", written)
        assert used
        assert set(used) <= own


def test_nothing_in_a_chart_points_outside(svg):
    addresses = set(re.findall(r"https?://[^\s\"'<]+", svg))
    assert addresses == {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert "metadata" not in svg
    assert "<!DOCTYPE" not in svg


def test_the_same_chart_gives_the_same_bytes(every_look, svg):
    assert inline_svg(every_look, unit=TempUnit.DEGC, key="k") == svg


def test_fahrenheit_is_shown_where_it_is_wanted(every_look):
    svg = inline_svg(every_look, unit=TempUnit.DEGF, key="k")
    assert "brew temperature (°F)" in texts(svg)
    ticks = [float(text.replace("−", "-")) for text in texts(svg) if re.fullmatch(r"−?\d+(\.\d+)?", text)]
    assert max(ticks) > 195


def test_pdf_pages_have_the_size_asked_for_and_share_their_fonts(every_look):
    def document(*charts):
        return chart_pages(charts, unit=TempUnit.DEGC, size_in=(6.0, 3.0))

    two = document(every_look, every_look)
    pages = PdfReader(io.BytesIO(two)).pages
    assert len(pages) == 2
    for page in pages:
        box = page.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx((432, 216), abs=0.5)
        assert "brew temperature (°C)" in page.extract_text()
    assert len(two) < 1.4 * len(document(every_look))


def drawn(chart, palette):
    with drawing_rules():
        made = figure_bytes(draw(chart, palette=palette, title="A title"), "png")
    return np.asarray(Image.open(io.BytesIO(made)).convert("RGBA"))


@pytest.fixture(scope="module")
def pictures(every_look):
    """Return the chart as pixels, by palette."""
    return {palette.ground: drawn(every_look, palette) for palette in PALETTES.values()}


@pytest.mark.parametrize("palette", PALETTES.values())
def test_the_ground_is_the_palettes(pictures, palette):
    corner = pictures[palette.ground][0, 0]
    if palette.ground is None:
        assert corner[3] == 0
    else:
        assert corner.tolist() == [*bytes.fromhex(palette.ground[1:]), 255]


def test_transparent_charts_have_an_edge_that_shows_on_white_and_on_black(pictures):
    picture = pictures[TRANSPARENT.ground].astype(float)
    solid = picture[picture[..., 3] > 250][:, :3].mean(axis=1)
    assert (solid < 60).sum() > 200
    assert (solid > 200).sum() > 200


def contrast(first, second):
    def luminance(colour):
        parts = [byte / 255 for byte in bytes.fromhex(colour[1:])]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_texts_and_lines_stand_out_from_the_ground(palette):
    # WCAG 2.2: texts 4.5 to 1 (1.4.3), lines that must be told 3 to 1 (1.4.11).
    assert min(contrast(text, palette.ground) for text in (palette.ink, palette.soft)) >= 4.5
    assert min(contrast(look.colour, palette.ground) for look in palette.series) >= 3.0
    assert contrast(palette.alarm, palette.ground) >= 3.0


@pytest.mark.parametrize("palette", PALETTES.values())
def test_no_two_series_look_alike_without_their_colour_and_no_two_colours_are_the_same(palette):
    assert len({look.dash for look in palette.series}) == len(palette.series)
    assert len({look.marker for look in palette.series}) == len(palette.series)
    assert len(set(palette.named().values())) == len(palette.named())
    assert palette.ground not in palette.named().values()


def test_many_and_long_names_stay_in_the_picture(every_look):
    names = tuple(f"a machine with a very long name indeed, number {number}" for number in range(9))
    x = tuple(float(number) for number in range(9))
    chart = msgspec.structs.replace(
        every_look,
        x=Axis(quantity=Quantity.NAME, title="machine", names=names),
        series=(Series(name="shots", look=Look.POINTS, x=x, y=x),),
        levels=(),
    )
    shown = texts(inline_svg(chart, unit=TempUnit.DEGC, key="k"))
    assert sum(text is not None and text.startswith("a machine with a") for text in shown) == 9
    with drawing_rules():
        figure = draw(chart)
        figure.canvas.draw()
        box = figure.axes[0].get_window_extent()
    assert box.height > 0.4 * figure.bbox.height
