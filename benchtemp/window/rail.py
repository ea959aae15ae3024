"""The slim rail at the left edge: the pages, and below them what holds for the whole window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Signal, Slot
from PySide6.QtWidgets import QFrame, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchtemp.logbook.preferences import Appearance
from benchtemp.units import TempUnit
from benchtemp.window.theme import scaled_font

if TYPE_CHECKING:
    from collections.abc import Sequence

_LOOKS = {Appearance.SYSTEM: "Auto look", Appearance.LIGHT: "Light look", Appearance.DARK: "Dark look"}


class Rail(QFrame):
    """Pages and switches.

    Signals:
        page_chosen: Carries the page's place.
        unit_asked, look_asked: The next unit or look is wanted.
        presentation_asked, keys_asked: The large view or the key list is wanted, or no longer.
    """

    page_chosen = Signal(int)
    unit_asked = Signal()
    look_asked = Signal()
    presentation_asked = Signal()
    keys_asked = Signal()

    def __init__(self, pages: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "rail")
        self.setAccessibleName("Pages and switches")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(6, 10, 6, 8)
        layout.setSpacing(4)
        self.pages: list[QPushButton] = []
        for place, name in enumerate(pages):
            button = self._button(name, f"{name} page (Ctrl+{place + 1})")
            button.setCheckable(True)
            button.setFont(scaled_font(1.05, bold=True))
            # No button group: in one, Tab would pass over every button but the checked one.
            button.clicked.connect(lambda _checked=False, place=place: self.page_chosen.emit(place))
            self.pages.append(button)
            layout.addWidget(button)
        layout.addStretch(1)
        self.unit = self._button("Unit °C", "Show temperatures in °C or °F (Ctrl+U)")
        self.look = self._button("Auto look", "Light or dark look (Ctrl+L)")
        self.presentation = self._button("Large view", "Large view over the whole screen (F11)")
        self.keys = self._button("Keys (F1)", "All keys, and cautions (F1)")
        for button, signal in (
            (self.unit, self.unit_asked),
            (self.look, self.look_asked),
            (self.presentation, self.presentation_asked),
            (self.keys, self.keys_asked),
        ):
            button.clicked.connect(signal)
            layout.addWidget(button)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)

    @staticmethod
    def _button(text: str, tip: str) -> QPushButton:
        button = QPushButton(text)
        button.setProperty("look", "flat")
        button.setToolTip(tip)
        button.setAccessibleDescription(tip)
        return button

    def sizeHint(self) -> QSize:
        """Return as little width as the longest page name needs."""
        hint = super().sizeHint()
        return QSize(
            max(hint.width(), self.fontMetrics().horizontalAdvance("Large view") + 26), hint.height()
        )

    @Slot(int)
    def show_page(self, place: int) -> None:
        """Show which page is in front."""
        for index, button in enumerate(self.pages):
            button.setChecked(index == place)

    def show_unit(self, unit: TempUnit) -> None:
        """Show the unit in force."""
        other = TempUnit.DEGF if unit is TempUnit.DEGC else TempUnit.DEGC
        self.unit.setText(f"Unit {unit.symbol}")
        self.unit.setAccessibleName(f"Temperatures in {unit.symbol}; press for {other.symbol}")

    def show_look(self, choice: Appearance) -> None:
        """Show the look in force."""
        self.look.setText(_LOOKS[choice])
        self.look.setToolTip(f"{_LOOKS[choice]}. Press for the next (Ctrl+L)")
        self.look.setAccessibleName(f"{_LOOKS[choice]}; press for the next")
