"""One row per channel of a source: which probe is on it, and what it gives now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QLabel, QWidget

from benchtemp.window.panels.choice import Choice

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

NO_PROBE = ""


class ChannelRows(QWidget):
    """Asks which probe is on each channel.

    Attributes:
        choices: One per channel.
        values: What each channel gives now, as text.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.choices: list[Choice] = []
        self.values: list[QLabel] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(10)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(2, 1)

    def show_channels(
        self, channels: Sequence[str], names: Sequence[str], on: Mapping[int, str], *, fixed: bool
    ) -> None:
        """Make a row for each channel.

        Args:
            channels: Their names.
            names: The probes to choose from.
            on: The probe to begin with, by channel index.
            fixed: They are not to be changed any more.
        """
        while self._grid.count():
            item = self._grid.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.choices, self.values = [], []
        for row, channel in enumerate(channels):
            choice = Choice(f"Probe on {channel}", least_chars=18)
            choice.addItem("no probe to check", NO_PROBE)
            for name in names:
                choice.addItem(name, name)
            choice.select(on.get(row, NO_PROBE))
            choice.setEnabled(not fixed)
            label, value = QLabel(channel), QLabel("—")
            label.setBuddy(choice)
            self._grid.addWidget(label, row, 0)
            self._grid.addWidget(choice, row, 1)
            self._grid.addWidget(value, row, 2)
            self.choices.append(choice)
            self.values.append(value)

    def show_values(self, texts: Sequence[str]) -> None:
        """Show what the channels give now."""
        for value, text in zip(self.values, texts, strict=False):
            if value.text() != text:
                value.setText(text)

    def assigned(self) -> dict[int, str]:
        """Return the probes chosen, by channel index."""
        found = {index: str(choice.currentData()) for index, choice in enumerate(self.choices)}
        return {index: name for index, name in found.items() if name != NO_PROBE}
