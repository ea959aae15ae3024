import io
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from benchtemp.errors import BadInput
from benchtemp.reports.charts.palette import PictureLook
from benchtemp.reports.charts.size import check_size, size_from
from benchtemp.reports.picture import PictureKind, picture_bytes, picture_chart, picture_title
from benchtemp.units import TempUnit

SMALL = (480, 270)


@pytest.fixture(scope="module")
def chart(single):
    return picture_chart(single.shots)


def opened(content):
    return Image.open(io.BytesIO(content))


@pytest.mark.parametrize("size_px", [(641, 359), (333, 777), (120, 120)])
def test_a_picture_has_exactly_the_size_asked_for(chart, size_px):
    assert opened(picture_bytes(chart, PictureKind.PNG, size_px=size_px)).size == size_px
    root = ET.fromstring(picture_bytes(chart, PictureKind.SVG, size_px=size_px))
    assert (root.get("width"), root.get("height")) == (str(size_px[0]), str(size_px[1]))
    _, _, width, height = map(float, root.get("viewBox").split())
    assert width / height == pytest.approx(size_px[0] / size_px[1], rel=0.001)


def test_a_transparent_picture_shows_what_is_behind_it(chart):
    made = picture_bytes(chart, PictureKind.PNG, look=PictureLook.TRANSPARENT, size_px=SMALL)
    picture = np.asarray(opened(made))
    assert picture.shape[2] == 4
    assert (picture[..., 3] == 0).mean() > 0.5
    assert (picture[..., 3] == 255).mean() > 0.005


@pytest.mark.parametrize(("look", "bright"), [(PictureLook.LIGHT, True), (PictureLook.DARK, False)])
def test_the_ground_is_light_or_dark_and_nothing_shows_through(chart, look, bright):
    made = picture_bytes(chart, PictureKind.PNG, look=look, size_px=SMALL)
    picture = np.asarray(opened(made).convert("RGBA"))
    assert (picture[..., 3] == 255).all()
    assert (np.median(picture[..., :3]) > 128) == bright


def test_an_svg_keeps_its_texts_and_is_told_in_words(chart):
    content = picture_bytes(chart, PictureKind.SVG, title="<b>A title</b> & more").decode()
    assert "<b>" not in content
    root = ET.fromstring(content)
    name = "{http://www.w3.org/2000/svg}"
    assert (root.find(f"{name}title").text, root.find(f"{name}desc").text) == (chart.title, chart.summary)
    texts = [element.text for element in root.iter(f"{name}text")]
    assert "<b>A title</b> & more" in texts
    assert "plateau" in texts
    assert "<metadata" not in content


def test_the_same_picture_is_the_same_bytes(chart):
    # The other kind is tested where charts are drawn.
    once, again = (picture_bytes(chart, PictureKind.PNG, size_px=SMALL) for _ in range(2))
    assert once == again
    assert opened(picture_bytes(chart, PictureKind.PNG)).size == (1600, 900)


def test_one_shots_title_tells_what_it_brewed_at(single, series):
    assert picture_title(single.shots) == "Ferrowick Two: 92.6 ± 3.1 °C"
    assert picture_title(single.shots, TempUnit.DEGF) == "Ferrowick Two: 198.7 ± 5.6 °F"
    assert picture_title(series.shots) == "Ferrowick Two"


def test_several_shots_are_laid_over_each_other(series):
    assert len(picture_chart(series.shots).series) == 6
    plateaus = picture_chart(series.shots, plateau=True)
    assert min(min(line.y) for line in plateaus.series) > 90


def test_nothing_to_draw_is_told():
    with pytest.raises(BadInput, match="no trace"):
        picture_chart([])


@pytest.mark.parametrize("text", ["1600x900", " 1600 × 900 "])
def test_sizes_are_read(text):
    assert size_from(text) == (1600, 900)


@pytest.mark.parametrize(
    "text", ["", "1600", "1600x", "ax9", "0x0", "50x50", "9000x9000", "8192x8192", "-5x900"]
)
def test_sizes_that_cannot_be_are_told(text):
    with pytest.raises(BadInput, match="pixels"):
        size_from(text)


def test_the_largest_sizes_are_allowed():
    check_size((7680, 4320))
