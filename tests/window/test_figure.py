from __future__ import annotations

from PySide6.QtGui import QFontMetricsF

from benchtemp.window.figure import Figure, parted, width_of
from benchtemp.window.theme import scaled_font


def test_a_unit_is_told_from_its_number():
    assert parted("92.5 °C") == ("92.5", "°C")
    assert parted("— °F") == ("—", "°F")
    assert parted("12.0 s") == ("12.0", "s")
    assert parted("Standby") == ("Standby", "")
    assert parted("no plateau") == ("no plateau", "")


def test_a_smaller_unit_leaves_room_for_a_larger_number(qapp):  # noqa: ARG001 - fonts need an application
    font = scaled_font(5.0, bold=True, figures=True)
    room = width_of(font, "000.0 °C")
    assert room < QFontMetricsF(font).horizontalAdvance("888.8 °C") * 0.9
    assert all(width_of(font, f"{digit * 3}.{digit} °C") <= room for digit in "0123456789")


def test_nothing_jumps_while_figures_change_and_all_of_it_is_told(qtbot):
    figure = Figure()
    qtbot.addWidget(figure)
    font, tallest = scaled_font(4.0, bold=True, figures=True), scaled_font(5.0, bold=True, figures=True)
    figure.restyle(font, "000.0 °C", tallest)
    sizes = set()
    for text in ("— °C", "1.1 °C", "88.8 °C", "108.8 °C"):
        figure.setText(text)
        sizes.add(figure.sizeHint().toTuple())
        assert figure.text() == text
    assert len(sizes) == 1
    assert figure.minimumSizeHint() == figure.sizeHint()


def test_the_unit_is_drawn_smaller_on_the_same_base_line(qtbot):
    figure = Figure("88.8 °C")
    qtbot.addWidget(figure)
    font = scaled_font(6.0, bold=True, figures=True)
    figure.restyle(font, "000.0 °C", font)
    figure.resize(figure.sizeHint())
    picture = figure.grab().toImage()
    ground = picture.pixelColor(picture.width() - 1, 0)
    inked = [
        (x, y)
        for x in range(picture.width())
        for y in range(picture.height())
        if picture.pixelColor(x, y) != ground
    ]
    part_at = QFontMetricsF(font).horizontalAdvance("88.8")
    number = [y for x, y in inked if x < part_at - 2]
    unit = [y for x, y in inked if x > part_at + 2]
    assert abs(max(number) - max(unit)) <= 2
    assert max(unit) - min(unit) < 0.75 * (max(number) - min(number))
