"""The pages behind the rail: made when first wanted, dressed, brought up to date, given the focus."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

from PySide6.QtWidgets import QStackedWidget, QWidget

from benchtemp.units import TempUnit
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


class Page(Protocol):
    """What the window asks of a page; any `Panel` with `read`, `take_focus` and `close_down` is one."""

    def set_theme(self, theme: Theme) -> None:
        """Take another look."""

    def set_unit(self, unit: TempUnit) -> None:
        """Take another unit for temperatures."""

    def read(self) -> None:
        """Bring up to date what is about to be seen."""

    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""

    def close_down(self) -> None:
        """Wait for what is being done, and let go of everything."""


class Behind(Page, Protocol):
    """What stands behind a button of the rail: a page with a place in the stack from the beginning."""

    @property
    def place(self) -> QWidget:
        """The widget that is brought to the front."""


P = TypeVar("P", bound=Page)


class LatePage(Generic[P]):
    """A page that is made when it is first wanted: most bring plots or studies with them."""

    def __init__(self, make: Callable[[], P], *, read: Callable[[P], None] | None = None) -> None:
        """Keep what is needed to make the page.

        Args:
            make: Makes the page, a widget, and connects it; its imports belong in there.
            read: Brings it up to date, where its own `read` is not all there is to do.
        """
        self.place = QStackedWidget()
        self._make = make
        self._read = read
        self._theme: Theme = LIGHT
        self._unit = TempUnit.DEGC
        self.made: P | None = None

    @property
    def page(self) -> P:
        """The page, made now if it was not there."""
        if self.made is None:
            page = self._make()
            assert isinstance(page, QWidget)
            # Into its place before it is dressed: moving a widget under a style sheet takes its fonts away.
            self.place.addWidget(page)
            page.set_theme(self._theme)
            page.set_unit(self._unit)
            self.made = page
        return self.made

    def set_theme(self, theme: Theme) -> None:
        """Dress the page, or remember how to."""
        self._theme = theme
        if self.made is not None:
            self.made.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit to the page, or remember it."""
        self._unit = unit
        if self.made is not None:
            self.made.set_unit(unit)

    def read(self) -> None:
        """Bring the page up to date, made now if it was not there."""
        page = self.page
        if self._read is not None:
            self._read(page)
        else:
            page.read()

    def take_focus(self) -> None:
        """Put the focus into the page."""
        self.page.take_focus()

    def close_down(self) -> None:
        """Wait for what the page is doing, if there is one."""
        if self.made is not None:
            self.made.close_down()


class Pages(QStackedWidget):
    """Everything behind the rail, one at a time in front."""

    def __init__(self, behind: Mapping[str, Behind]) -> None:
        """Take what stands behind the rail's buttons, by their names and in their order."""
        super().__init__()
        self.names = tuple(behind)
        self._behind = tuple(behind.values())
        for one in self._behind:
            self.addWidget(one.place)

    def bring(self, place: int) -> None:
        """Bring one to the front, up to date and with the focus.

        Args:
            place: Counted from 0, as on the rail.
        """
        one = self._behind[place]
        one.read()
        self.setCurrentIndex(place)
        one.take_focus()

    def set_theme(self, theme: Theme) -> None:
        """Hand a theme to all."""
        for one in self._behind:
            one.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand a unit to all."""
        for one in self._behind:
            one.set_unit(unit)

    def close_down(self) -> None:
        """Close all down, in the order of the rail."""
        for one in self._behind:
            one.close_down()
