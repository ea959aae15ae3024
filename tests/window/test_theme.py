from __future__ import annotations

import itertools

import pytest
from PySide6.QtGui import QColor, QFontMetricsF
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from benchtemp.logbook.preferences import Appearance
from benchtemp.window.theme import DARK, LIGHT, Themes, figure_width, repolish, scaled_font


def luminance(colour):
    """Relative luminance, WCAG 2.1 (W3C Recommendation, 2018), definition 'relative luminance'."""
    parts = [
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4
        for part in QColor(colour).getRgbF()[:3]
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one, other):
    """Contrast ratio, WCAG 2.1, definition 'contrast ratio'."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_of_contrast_itself():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_text_can_be_read(theme):
    # WCAG 2.1, 1.4.3: at least 4.5:1 for text
    for text, ground in itertools.product(
        ("text", "soft", "good", "bad", "caution", "accent"), ("page", "surface", "sunken")
    ):
        assert contrast(getattr(theme, text), getattr(theme, ground)) >= 4.5, (text, ground)
    assert contrast(theme.on_accent, theme.accent) >= 4.5
    assert contrast(theme.hint, theme.sunken) >= 4.5
    assert contrast(theme.text, theme.sunken) > 2.5 * contrast(theme.hint, theme.sunken)  # no typed text
    for kind in ("good", "bad", "caution"):
        assert contrast(theme.text, getattr(theme, f"{kind}_ground")) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_lines_can_be_seen(theme):
    # WCAG 2.1, 1.4.11: at least 3:1 for graphics
    for look in theme.channels:
        assert contrast(look.colour, theme.surface) >= 3.0, look
        assert contrast(look.ink, theme.surface) >= 4.5, look  # names beside the lines are text
    assert contrast(theme.reference, theme.surface) >= 3.0


@pytest.mark.parametrize("appearance", [Appearance.LIGHT, Appearance.DARK])
@pytest.mark.parametrize(("look", "checked"), [("primary", False), ("flat", True), ("", True), ("", False)])
def test_a_button_with_the_focus_is_told_from_one_without(qtbot, qapp, appearance, look, checked):
    Themes(qapp, appearance).apply()
    place = QWidget()
    qtbot.addWidget(place)
    row = QHBoxLayout(place)
    button, other = QPushButton("Go on"), QPushButton("Back")
    for one in (button, other):
        one.setProperty("look", look)
        row.addWidget(one)
    button.setCheckable(checked)
    button.setChecked(checked)
    place.show()
    place.activateWindow()
    other.setFocus()
    qtbot.waitUntil(other.hasFocus)
    without, size = place.grab(button.geometry()).toImage(), button.size()
    button.setFocus()
    qtbot.waitUntil(button.hasFocus)
    focused = place.grab(button.geometry()).toImage()
    assert button.size() == size  # nothing beside it moves
    changed = sum(
        contrast(without.pixelColor(x, y), focused.pixelColor(x, y)) >= 3.0
        for x in range(size.width())
        for y in range(size.height())
    )
    # WCAG 2.2, 2.4.13: as much as a line one pixel wide along its edge changes by 3:1, corners apart
    assert changed >= 1.7 * (size.width() + size.height())


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_no_two_channels_look_alike_even_without_colour(theme):
    assert len(theme.channels) == 8
    assert len({look.dash for look in theme.channels}) == 8
    assert len({look.colour for look in theme.channels}) == 8


def test_themes_tell_of_a_change_once(qapp):
    themes = Themes(qapp, Appearance.LIGHT)
    told = []
    themes.changed.connect(told.append)
    themes.apply()
    themes.choose(Appearance.LIGHT)
    themes.choose(Appearance.DARK)
    themes.choose(Appearance.DARK)
    assert told == [DARK]
    assert qapp.palette().window().color().name() == DARK.page
    themes.choose(Appearance.LIGHT)
    themes.deleteLater()


def test_the_system_is_followed_by_its_palette_where_it_says_nothing(qapp):
    qapp.setStyleSheet("")
    qapp.setPalette(DARK.palette())
    themes = Themes(qapp, Appearance.SYSTEM)
    assert themes.theme is DARK
    qapp.setPalette(LIGHT.palette())
    themes.deleteLater()
    again = Themes(qapp, Appearance.SYSTEM)
    assert again.theme is LIGHT
    again.deleteLater()


@pytest.mark.usefixtures("qapp")
def test_figures_do_not_make_a_label_jump():
    font = scaled_font(3.0, bold=True, figures=True)
    room = figure_width(font, "000.0 °C")
    for text in ("111.1 °C", "888.8 °C", "444.4 °C"):
        assert QFontMetricsF(font).horizontalAdvance(text) <= room


def test_sizes_follow_the_system_font(qapp):
    before = qapp.font()
    larger = qapp.font()
    larger.setPointSizeF(18.0)
    qapp.setFont(larger)
    try:
        assert scaled_font(2.0).pointSizeF() == pytest.approx(36.0)
    finally:
        qapp.setFont(before)


def test_a_label_keeps_its_font_when_its_look_changes(qtbot, qapp):
    themes = Themes(qapp, Appearance.LIGHT)
    themes.apply()
    label = QLabel("93.0 °C")
    qtbot.addWidget(label)
    label.show()
    label.setFont(scaled_font(4.0, bold=True))
    label.setProperty("look", "bad")
    repolish(label)
    assert label.font() == scaled_font(4.0, bold=True)
    themes.choose(Appearance.DARK)
    assert label.font().pointSizeF() == scaled_font(4.0).pointSizeF()
    themes.choose(Appearance.LIGHT)
    themes.deleteLater()
