"""Narrowing shots down by tags: one row for each tag, and an empty one for the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchtemp.window.panels.choice import Choice

if TYPE_CHECKING:
    from collections.abc import Mapping

    from benchtemp.window.findings_page.asking import Scope

MOST = 6
_ANY = ""


class TagFilters(QWidget):
    """Chooses tags and their values; a shot must have all of them.

    Signals:
        changed: Other tags or values were chosen.
    """

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Tags that shots must have")
        self.rows: list[TagRow] = []
        self._scope: Scope | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(6)
        self._add()
        self.setFocusProxy(self.rows[0].tag)

    @property
    def tags(self) -> dict[str, str]:
        """Return the tags chosen, with their values."""
        return {name: value for row in self.rows if (name := row.name) and (value := row.wanted)}

    def show_scope(self, scope: Scope) -> None:
        """Offer the tags there are; what is chosen stays chosen."""
        self.select(self.tags, scope)

    def select(self, tags: Mapping[str, str], scope: Scope | None = None) -> None:
        """Choose tags, without a signal."""
        self._scope = scope or self._scope
        wanted = list(tags.items())[:MOST]
        while len(self.rows) > max(1, len(wanted)):
            self._drop(self.rows[-1])
        while len(self.rows) < len(wanted):
            self._add()
        for row, (name, value) in zip(self.rows, [*wanted, (_ANY, _ANY)], strict=False):
            row.select(name, value, self._names_for(row, dict(wanted)), self._scope)
        self._tidy()

    def _names_for(self, row: TagRow, chosen: Mapping[str, str]) -> list[str]:
        """Return the tags a row may choose from: each tag at most once."""
        names = self._scope.tag_names if self._scope is not None else ()
        mine = self.rows.index(row)
        taken = [name for place, name in enumerate(chosen) if place != mine]
        return [name for name in names if name not in taken]

    def _add(self) -> None:
        row = TagRow(len(self.rows) + 1)
        row.changed.connect(self._take)
        self.rows.append(row)
        self._layout.addWidget(row)
        if len(self.rows) > 1:
            before = self.rows[-2]
            QWidget.setTabOrder(before.value, row.tag)

    def _drop(self, row: TagRow) -> None:
        self.rows.remove(row)
        self._layout.removeWidget(row)
        row.hide()
        row.deleteLater()

    def _tidy(self) -> None:
        """Keep one empty row at the end, as long as there is a tag to choose in it."""
        if self.rows[-1].name and len(self.rows) < MOST:
            self._add()
        last = self.rows[-1]
        if not last.name:
            last.select(
                _ANY, _ANY, self._names_for(last, {row.name: "" for row in self.rows[:-1]}), self._scope
            )
            last.setVisible(len(self.rows) == 1 or last.tag.count() > 1)

    @Slot()
    def _take(self) -> None:
        for row in [row for row in self.rows[:-1] if not row.name]:
            self._drop(row)
        self.select(self.tags)
        self.changed.emit()


class TagRow(QWidget):
    """One tag and its value.

    Signals:
        changed: Another tag or value was chosen.
    """

    changed = Signal()

    def __init__(self, number: int) -> None:
        super().__init__()
        which = "" if number == 1 else f" {number}"
        self._quiet = False
        self._scope: Scope | None = None
        self.tag = Choice(f"Tag{which}", least_chars=7)
        self.value = Choice(f"Value of tag{which}", least_chars=7)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(3)
        layout.addWidget(self.tag)
        layout.addWidget(self.value)
        self.tag.currentIndexChanged.connect(self._change_tag)
        self.value.currentIndexChanged.connect(self._change_value)

    @property
    def name(self) -> str:
        """Return the tag chosen, empty for none."""
        return str(self.tag.currentData() or _ANY)

    @property
    def wanted(self) -> str:
        """Return the value chosen."""
        return str(self.value.currentData() or _ANY)

    def select(self, name: str, value: str, names: list[str], scope: Scope | None) -> None:
        """Offer tags and choose one, without a signal."""
        self._quiet = True
        self._scope = scope
        self.tag.offer([(_ANY, "any"), *((one, one) for one in names)])
        self.tag.select(name)
        self._offer_values(value)
        self._quiet = False

    def _offer_values(self, value: str) -> None:
        values = self._scope.tag_values(self.name) if self._scope is not None and self.name else ()
        self.value.offer([(one, one) for one in values])
        if value in values:
            self.value.select(value)
        self.value.setVisible(bool(values))

    @Slot()
    def _change_tag(self) -> None:
        if not self._quiet:
            self._quiet = True
            self._offer_values(_ANY)
            self._quiet = False
            self.changed.emit()

    @Slot()
    def _change_value(self) -> None:
        if not self._quiet:
            self.changed.emit()
