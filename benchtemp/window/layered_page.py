"""A page behind the rail over which others can be laid: they stand in its place until they are left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QStackedWidget

if TYPE_CHECKING:
    from benchtemp.units import TempUnit
    from benchtemp.window.pages import Behind
    from benchtemp.window.theme import Theme


class LayeredPage:
    """Stands behind a button of the rail; shows the page below, or one that was laid over it."""

    def __init__(self, below: Behind) -> None:
        self.place = QStackedWidget()
        self._below = below
        self._layers: list[Behind] = [below]
        self._front = below
        self.place.addWidget(below.place)

    def add(self, layer: Behind) -> None:
        """Let a page be laid over the one below."""
        self._layers.append(layer)
        self.place.addWidget(layer.place)

    @property
    def front(self) -> Behind:
        """Return what is shown."""
        return self._front

    def lay(self, layer: Behind) -> None:
        """Lay a page over the one below, up to date and with the focus."""
        layer.read()
        self._front = layer
        self.place.setCurrentWidget(layer.place)
        layer.take_focus()

    def uncover(self) -> None:
        """Show the page below again, up to date and with the focus."""
        if self._front is not self._below:
            self.lay(self._below)

    def set_theme(self, theme: Theme) -> None:
        """Hand a theme to all."""
        for layer in self._layers:
            layer.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand a unit to all."""
        for layer in self._layers:
            layer.set_unit(unit)

    def read(self) -> None:
        """Bring up to date what is shown."""
        self._front.read()

    def take_focus(self) -> None:
        """Put the focus into what is shown."""
        self._front.take_focus()

    def close_down(self) -> None:
        """Close all down, what lies above first."""
        for layer in reversed(self._layers):
            layer.close_down()
