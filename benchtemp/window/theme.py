"""How the window looks: one theme object with colours and fonts for light and dark, and who hands it round.

Channel colours are those of Okabe and Ito (Color Universal Design, 2008), chosen per theme for contrast
with the ground; every channel has a dash pattern and a label beside its colour, so colour is never alone.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from benchtemp.logbook.preferences import Appearance
from benchtemp.window.style_sheet import style_sheet


@dataclass(frozen=True, slots=True)
class ChannelLook:
    """How one channel is drawn.

    Attributes:
        colour: Of its line, at least 3:1 on the surface.
        dash: Lengths in pixels; empty for a whole line.
        ink: Of its name, nearer to the text's colour where the line's does not reach 4.5:1.
    """

    colour: str
    dash: tuple[float, ...] = ()
    ink: str = ""


@dataclass(frozen=True)
class Theme:
    """Colours as `#rrggbb`, and fonts made from the system's own.

    Attributes:
        page, surface, sunken: Grounds of the window, of panels and cards, of fields.
        line: Hairlines and the borders of fields (3:1 against the surface where it marks a control).
        text, soft: Text and quieter text, both at least 4.5:1 on page and surface.
        hint: What stands in an empty field: readable, and not to be taken for what was typed.
        accent, on_accent: Focus and the one action that leads on; text on it.
        good, bad, caution: Verdicts and warnings as text; always with a word or sign beside.
        good_ground, bad_ground, caution_ground: The same as a quiet ground under text.
        grid, band, plateau, reference, mark: In the plot.
        channels: Looks of T1…T8.
    """

    dark: bool
    page: str
    surface: str
    sunken: str
    line: str
    text: str
    soft: str
    hint: str
    accent: str
    on_accent: str
    good: str
    bad: str
    caution: str
    good_ground: str
    bad_ground: str
    caution_ground: str
    grid: str
    band: str
    plateau: str
    reference: str
    mark: str
    channels: tuple[ChannelLook, ...]

    @property
    def name(self) -> str:
        """Return `light` or `dark`."""
        return "dark" if self.dark else "light"

    def channel(self, index: int) -> ChannelLook:
        """Return the look of a channel by its index from 0."""
        return self.channels[index % len(self.channels)]

    def font(self, scale: float = 1.0, *, bold: bool = False, figures: bool = False) -> QFont:
        """Return the system's font scaled, with tabular figures where `figures` is set."""
        return scaled_font(scale, bold=bold, figures=figures)

    def palette(self) -> QPalette:
        """Return the Qt palette made of these colours."""
        palette = QPalette()
        roles = QPalette.ColorRole
        for role, colour in {
            roles.Window: self.page,
            roles.Base: self.sunken,
            roles.AlternateBase: self.surface,
            roles.Button: self.surface,
            roles.ToolTipBase: self.surface,
            roles.WindowText: self.text,
            roles.Text: self.text,
            roles.ButtonText: self.text,
            roles.ToolTipText: self.text,
            roles.BrightText: self.bad,
            roles.PlaceholderText: self.hint,
            roles.Highlight: self.accent,
            roles.HighlightedText: self.on_accent,
            roles.Accent: self.accent,
            roles.Link: self.accent,
            roles.LinkVisited: self.accent,
            roles.Light: self.surface,
            roles.Midlight: self.line,
            roles.Mid: self.line,
            roles.Dark: self.line,
            roles.Shadow: self.line,
        }.items():
            palette.setColor(role, QColor(colour))
        for role in (roles.WindowText, roles.Text, roles.ButtonText):
            palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(self.soft))
        return palette


_BLUE, _SKY, _GREEN, _ORANGE = "#0072b2", "#56b4e9", "#009e73", "#e69f00"
_VERMILLION, _PURPLE, _YELLOW = "#d55e00", "#cc79a7", "#f0e442"
_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (8, 4),
    (2, 3),
    (8, 3, 2, 3),
    (14, 4),
    (4, 4),
    (8, 3, 2, 3, 2, 3),
    (1, 2),
)


def _looks(*colours: str, inks: str) -> tuple[ChannelLook, ...]:
    named = zip(colours, _DASHES, inks.split(), strict=True)
    return tuple(ChannelLook(colour, dash, ink) for colour, dash, ink in named)


LIGHT = Theme(
    dark=False,
    page="#f2f3f1",
    surface="#ffffff",
    sunken="#fbfbfa",
    line="#c4c9cb",
    text="#15191c",
    soft="#50595f",
    hint="#6c7479",
    accent="#00557f",
    on_accent="#ffffff",
    good="#00614a",
    bad="#a33a00",
    caution="#6f4e00",
    good_ground="#e0f2ec",
    bad_ground="#fbe7dc",
    caution_ground="#fbf0d3",
    grid="#dfe3e4",
    band="#009e73",
    plateau="#0072b2",
    reference="#7b858b",
    mark="#50595f",
    channels=_looks(
        *(_BLUE, _VERMILLION, _GREEN, _PURPLE, "#b87f00", "#15191c", "#3a97cf", "#7b858b"),
        inks="#0072b2 #be5603 #048362 #9c6083 #976b06 #15191c #327ba8 #6d767b",
    ),
)

DARK = Theme(
    dark=True,
    page="#101418",
    surface="#1a2026",
    sunken="#141a1f",
    line="#3d4750",
    text="#eef1f2",
    soft="#aab4bb",
    hint="#87929a",
    accent="#7cc6f2",
    on_accent="#08131a",
    good="#54cfa5",
    bad="#ff9f66",
    caution="#f2c65a",
    good_ground="#12322a",
    bad_ground="#3c2013",
    caution_ground="#352a0e",
    grid="#2b343b",
    band="#009e73",
    plateau="#56b4e9",
    reference="#87929a",
    mark="#aab4bb",
    channels=_looks(
        *(_SKY, _ORANGE, "#19b88c", _PURPLE, _YELLOW, "#eef1f2", _VERMILLION, "#87929a"),
        inks="#56b4e9 #e69f00 #19b88c #cc79a7 #f0e442 #eef1f2 #d76a13 #87929a",
    ),
)


@lru_cache(maxsize=64)
def _scaled(family: str, size_pt: float, scale: float, bold: bool, figures: bool) -> QFont:  # noqa: FBT001 - cache key
    font = QFont(family)
    font.setPointSizeF(size_pt * scale)
    if bold:
        font.setWeight(QFont.Weight.DemiBold)
    if figures:
        font.setFeature(QFont.Tag("tnum"), 1)
    return font


def scaled_font(scale: float = 1.0, *, bold: bool = False, figures: bool = False) -> QFont:
    """Return the system's font scaled, with tabular figures where `figures` is set."""
    base = QApplication.font()
    size_pt = base.pointSizeF()
    if size_pt <= 0:  # the system gives its font in pixels
        size_pt = base.pixelSize() * 0.75
    return QFont(_scaled(base.family(), size_pt, scale, bold, figures))


def figure_width(font: QFont, pattern: str) -> int:
    """Return how wide a text of figures can become in pixels: each `0` in `pattern` stands for any figure.

    Fonts without tabular figures ignore the wish for them; a widget as wide as this does not jump either way.
    """
    metrics = QFontMetricsF(font)
    widest = max("0123456789", key=metrics.horizontalAdvance)
    return int(metrics.horizontalAdvance(pattern.replace("0", widest)) + 2)


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """Keep Python's collector out while Qt walks its widgets.

    WORKAROUND: plots leave menus without a parent in cycles. Walking the widgets runs Python code (to wrap
    them, and in their events), and if that sets off the collector, widgets are gone before their turn comes,
    and the program with them.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _has_own_font(widget: QWidget) -> bool:
    return widget.testAttribute(Qt.WidgetAttribute.WA_SetFont)


def repolish(widget: QWidget) -> None:
    """Make a widget look again at the properties its style depends on; its own font stays."""
    own_font = QFont(widget.font()) if _has_own_font(widget) else None
    style = widget.style()
    style.unpolish(widget)
    style.polish(widget)
    if own_font is not None:
        # WORKAROUND: taking a style sheet off gives a widget the font it had when the sheet was put on.
        widget.setFont(own_font)
    widget.update()


class Themes(QObject):
    """Knows which theme holds, follows the system if so wished, and tells everyone when it changes.

    Signals:
        changed: Carries the new `Theme`, after palette and style sheet of the application were set.
    """

    changed = Signal(object)

    def __init__(self, app: QApplication, choice: Appearance = Appearance.SYSTEM) -> None:
        super().__init__()
        self._app = app
        self._system_dark = self._looks_dark()
        self._choice = choice
        self.theme = self._chosen()
        app.styleHints().colorSchemeChanged.connect(self._follow)

    @property
    def choice(self) -> Appearance:
        """Return what the user wants."""
        return self._choice

    def choose(self, choice: Appearance) -> None:
        """Take another choice and restyle everything if that changes the theme."""
        self._choice = choice
        self._renew()

    @Slot()
    def _follow(self) -> None:
        scheme = self._app.styleHints().colorScheme()
        if scheme is not Qt.ColorScheme.Unknown:
            self._system_dark = scheme is Qt.ColorScheme.Dark
        self._renew()

    def _looks_dark(self) -> bool:
        scheme = self._app.styleHints().colorScheme()
        if scheme is not Qt.ColorScheme.Unknown:
            return scheme is Qt.ColorScheme.Dark
        palette = self._app.palette()  # asked before ours is set: it still is the system's
        window, text = palette.color(QPalette.ColorRole.Window), palette.color(QPalette.ColorRole.WindowText)
        return window.lightnessF() < text.lightnessF()

    def _chosen(self) -> Theme:
        dark = self._choice is Appearance.DARK or (self._choice is Appearance.SYSTEM and self._system_dark)
        return DARK if dark else LIGHT

    def _renew(self) -> None:
        theme = self._chosen()
        if theme is not self.theme:
            self.theme = theme
            self.apply()
            self.changed.emit(theme)

    def apply(self) -> None:
        """Dress the application; quickest once all widgets are in their places."""
        with _nothing_collected():
            # WORKAROUND: another style sheet gives widgets back the fonts they had under their first one.
            widgets = self._app.allWidgets()
            own = [(widget, QFont(widget.font())) for widget in widgets if _has_own_font(widget)]
            self._app.setPalette(self.theme.palette())
            self._app.setStyleSheet(style_sheet(self.theme))
            for widget, font in own:
                widget.setFont(font)
