"""What holds for the whole window: light or dark, °C or °F."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Slot

from benchtemp.logbook.preferences import Appearance
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.window.choices import Choices
    from benchtemp.window.large_view import LargeView
    from benchtemp.window.pages import Pages
    from benchtemp.window.rail import Rail
    from benchtemp.window.theme import Theme, Themes

_LOOKS = tuple(Appearance)


class Looks(QObject):
    """Hands theme and unit to all that shows them, and remembers what was chosen."""

    def __init__(self, themes: Themes, choices: Choices, pages: Pages, rail: Rail, large: LargeView) -> None:
        super().__init__(rail)
        self._themes = themes
        self._choices = choices
        self._pages = pages
        self._rail = rail
        self._large = large
        themes.changed.connect(self.set_theme)
        self.set_theme(themes.theme)
        self.set_unit(choices.now.unit)
        rail.show_look(themes.choice)

    @Slot(object)
    def set_theme(self, theme: Theme) -> None:
        """Hand a theme to every page."""
        self._pages.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand a unit to every page, and remember it."""
        self._pages.set_unit(unit)
        self._large.set_unit(unit)
        self._rail.show_unit(unit)
        self._choices.change(unit=unit)

    @Slot()
    def next_unit(self) -> None:
        """Show °F instead of °C, or the other way round."""
        self.set_unit(TempUnit.DEGF if self._choices.now.unit is TempUnit.DEGC else TempUnit.DEGC)

    @Slot()
    def next_look(self) -> None:
        """Go on from the system's look to light, to dark, and back."""
        choice = _LOOKS[(_LOOKS.index(self._themes.choice) + 1) % len(_LOOKS)]
        self._themes.choose(choice)
        self._choices.change(theme=choice)
        self._rail.show_look(choice)
