"""The list of probes at the page's left edge, the form for a new one, and when a check is called old."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidgetItem,
    QSizePolicy,
    QSpacerItem,
    QVBoxLayout,
    QWidget,
)

from benchtemp.probes.check import when_from
from benchtemp.probes.probe import DEFAULT_CHECK_DAYS
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.texts import list_detail, looked_at, now_text
from benchtemp.window.sources.two_lines import TwoLineList
from benchtemp.window.theme import figure_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.probes.probe import Probe
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_NAME = Qt.ItemDataRole.UserRole
NEW_NAME_MAX = 100
_MINIMUM, _EXPANDING = QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Expanding


class ProbeList(Panel):
    """Every probe with its last check, its correction with its uncertainty, and whether its check is old.

    Signals:
        chosen: Name of the probe to show.
        opened: Enter on a probe: go to its details.
        made: Name of a new probe.
        check_days_chosen: After how many days a check is called old.
    """

    chosen = Signal(str)
    opened = Signal(str)
    made = Signal(str)
    check_days_chosen = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Probes")
        self._probes: tuple[Probe, ...] = ()
        self._check_days = DEFAULT_CHECK_DAYS
        self.list = TwoLineList("Probes")
        self.list.currentItemChanged.connect(self._choose)
        self.list.itemActivated.connect(self._open)
        self.empty = quiet("No probe is known yet. Name the first one below, then check it.", wrap=True)
        self.ahead = quiet(wrap=True)
        self.ahead.hide()
        self.name_field = TextField(name="Name of a new probe", hint="new probe: its name")
        self.name_field.setMaxLength(NEW_NAME_MAX)
        self.name_field.returnPressed.connect(self._make)
        self.add_button = button("Add", tip="Add a probe of this name (Enter)")
        self.add_button.clicked.connect(self._make)
        self.complaint = Sentence(look="bad", name="Probes")
        self.days_field = NumberField(name="number of days", low=1, high=3650, decimals=0, may_be_empty=False)
        self.days_field.setFixedWidth(figure_width(self.days_field.font(), "0000") + 22)
        self.days_field.taken.connect(self._take_days)
        self.days_field.complaint.connect(self.complaint.say)
        self._lay_out()

    def _lay_out(self) -> None:
        new = QHBoxLayout()
        new.setSpacing(6)
        new.addWidget(self.name_field, 1)
        new.addWidget(self.add_button)
        days = QHBoxLayout()
        days.setSpacing(6)
        label = QLabel("Check old after")
        label.setBuddy(self.days_field)
        days.addWidget(label)
        days.addWidget(self.days_field)
        days.addWidget(quiet("days"))
        days.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(6)
        column.addWidget(heading("Probes"))
        column.addWidget(self.empty)
        column.addWidget(self.list, 1)
        column.addLayout(new)
        column.addLayout(days)
        column.addWidget(self.ahead)
        column.addWidget(self.complaint)
        self._space = QSpacerItem(0, 0, _MINIMUM, _EXPANDING)
        column.addItem(self._space)
        self._column = column

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        super().set_theme(theme)
        self.list.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Show corrections in another unit."""
        super().set_unit(unit)
        self.show_probes(self._probes)

    def set_check_days(self, days: float) -> None:
        """Take after how many days a check is called old."""
        self._check_days = days
        self.days_field.show_value(days)
        self.show_probes(self._probes)

    @property
    def chosen_name(self) -> str:
        """Return the name of the probe chosen, empty where there is none."""
        item = self.list.currentItem()
        return "" if item is None else str(item.data(_NAME))

    def show_probes(self, probes: Sequence[Probe]) -> None:
        """Show these probes; the one chosen stays chosen."""
        first = bool(probes) and not self._probes
        self._probes = tuple(probes)
        chosen, now = self.chosen_name, looked_at(self._probes)
        self.list.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        self.list.clear()
        for probe in self._probes:
            detail = list_detail(probe, now, self._check_days, self.unit)
            tip = probe.check_warning(now, self._check_days) or detail
            item = self.list.add(probe.name, detail, tip)
            item.setData(_NAME, probe.name)
            if probe.name == chosen:
                self.list.setCurrentItem(item)
        if self.list.currentItem() is None and self._probes:
            self.list.setCurrentRow(0)
        self.list.blockSignals(False)  # noqa: FBT003
        self.list.setVisible(bool(self._probes))
        self.empty.setVisible(not self._probes)
        self._space.changeSize(0, 0, _MINIMUM, _MINIMUM if self._probes else _EXPANDING)
        self._column.invalidate()
        ahead = bool(self._probes) and when_from(now) > when_from(now_text())
        self.ahead.setText(
            f"Ages are counted from {now[:10]}, the newest check: it lies ahead of this computer's clock."
        )
        self.ahead.setVisible(ahead)
        if first and self.name_field.hasFocus() and not self.name_field.text():
            self.list.setFocus()

    def choose(self, name: str) -> None:
        """Choose a probe by its name."""
        for row in range(self.list.count()):
            if str(self.list.item(row).data(_NAME)) == name:
                self.list.setCurrentRow(row)

    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""
        (self.list if self._probes else self.name_field).setFocus()

    @Slot(QListWidgetItem)
    def _choose(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.chosen.emit(str(item.data(_NAME)))

    @Slot(QListWidgetItem)
    def _open(self, item: QListWidgetItem) -> None:
        self.opened.emit(str(item.data(_NAME)))

    @Slot()
    def _make(self) -> None:
        name = " ".join(self.name_field.text().split())
        if not name:
            self.complaint.say("A new probe needs a name, such as 'basket 1'; type one first.")
            self.name_field.setFocus()
            return
        if any(probe.name.casefold() == name.casefold() for probe in self._probes):
            self.complaint.say(f"There is a probe '{name}' already; give the new one another name.")
            return
        self.complaint.say("")
        self.name_field.clear()
        self.made.emit(name)

    @Slot(object)
    def _take_days(self, days: float | None) -> None:
        if days is not None:
            self._check_days = days
            self.show_probes(self._probes)
            self.check_days_chosen.emit(days)
