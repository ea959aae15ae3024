"""The way to a serial interface for a check: the ports, and the layout of its lines beside them."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QSizePolicy, QStackedWidget, QWidget

from benchtemp.window.sources.serial_card import SerialCard, SerialPick

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from benchtemp.readings.layout import Layout
    from benchtemp.units import TempUnit
    from benchtemp.window.sources.layout_view import LayoutView
    from benchtemp.window.theme import Theme


class PortWays(QStackedWidget):
    """Shows what it was given first, then the ports, then the layout, each made when it is first wanted.

    Signals:
        picked: A `SerialPick` and the `Layout` its lines have.
        wide: Whether the layout is shown, which wants the whole width and has a button of its own to go back.
    """

    picked = Signal(object, object)
    wide = Signal(bool)

    def __init__(
        self,
        first: QWidget,
        theme: Theme,
        unit: TempUnit,
        remembered: Callable[[], Mapping[str, Mapping[str, object]]],
        parent: QWidget | None = None,
    ) -> None:
        """Show `first`; `remembered` gives the layouts confirmed earlier, by adapter."""
        super().__init__(parent)
        self._first = first
        self._theme, self._unit = theme, unit
        self._remembered = remembered
        self._pick: SerialPick | None = None
        self.addWidget(first)
        self.currentChanged.connect(self._make_room)

    @cached_property
    def serial(self) -> SerialCard:
        """The choice of a serial port."""
        card = SerialCard()
        card.show_interface_alone()
        card.set_remembered(self._remembered())
        card.set_theme(self._theme)
        card.picked.connect(self.take)
        self.addWidget(card)
        return card

    @cached_property
    def layout_view(self) -> LayoutView:
        """The view that guesses and confirms a layout."""
        self.wide.emit(True)  # noqa: FBT003 - before it takes the room by force
        from benchtemp.window.sources.layout_view import LayoutView  # noqa: PLC0415 - rarely needed

        view = LayoutView()
        view.set_theme(self._theme)
        view.set_unit(self._unit)
        view.confirmed.connect(self._take_layout)
        view.left.connect(self.show_ports)
        view.layouts_changed.connect(self.serial.reload_layouts)
        self.addWidget(view)
        return view

    def _made(self) -> list[SerialCard | LayoutView]:
        return [self.__dict__[name] for name in ("serial", "layout_view") if name in self.__dict__]

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        self._theme = theme
        for view in self._made():
            view.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        self._unit = unit
        if "layout_view" in self.__dict__:
            self.layout_view.set_unit(unit)

    @property
    def at_home(self) -> bool:
        """Tell whether what it was given first is shown."""
        return self.currentWidget() is self._first

    def go_home(self) -> None:
        """Show what it was given first; a layout under way is let go."""
        if "layout_view" in self.__dict__ and not self.at_home:
            self.layout_view.end()
        self.setCurrentWidget(self._first)

    @Slot()
    def show_ports(self) -> None:
        """Show the ports."""
        self.setCurrentWidget(self.serial)

    @Slot(object)
    def take(self, pick: SerialPick) -> None:
        """Take a port; where its layout is not sure, guess and confirm it first."""
        self._pick = pick
        if pick.layout is None or pick.check:
            self.setCurrentWidget(self.layout_view)
            self.layout_view.begin(pick.port, pick.layout)
        else:
            self._hand_out(pick.layout)

    @Slot(object)
    def _take_layout(self, layout: Layout) -> None:
        if self._pick is not None:
            self._hand_out(layout)

    def _hand_out(self, layout: Layout) -> None:
        self.setCurrentWidget(self._first)
        self.picked.emit(self._pick, layout)

    @Slot()
    def _make_room(self) -> None:
        view = self.__dict__.get("layout_view")
        wide = view is not None and self.currentWidget() is view
        if view is not None:
            # A stack is as wide as its widest page, seen or not, unless that page says it does not matter.
            matters = QSizePolicy.Policy.Preferred if wide else QSizePolicy.Policy.Ignored
            view.setSizePolicy(matters, matters)
            ancestor: QWidget | None = self
            while ancestor is not None and not ancestor.isWindow():
                ancestor.updateGeometry()  # each remembers how wide it had to be
                ancestor = ancestor.parentWidget()
        self.wide.emit(wide)

    def end(self) -> None:
        """Let go of ports and threads, for good."""
        for view in self._made():
            view.end()
