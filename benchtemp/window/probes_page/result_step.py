"""The last step: what came of the check, and the question whether to save it. Nothing is saved before."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BadInput
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.result_words import (
    COMPARISON_COLUMNS,
    POINT_COLUMNS,
    comparison_rows,
    correction_sentence,
    join_text,
    joinable,
    point_row,
)
from benchtemp.window.probes_page.texts import verdict_text
from benchtemp.window.probes_page.tick import Tick

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.probes.check import Check
    from benchtemp.probes.checking import ProbeCheck
    from benchtemp.probes.probe import Probe
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_TABLE_CHARS = 130


class ResultStep(Panel):
    """Error, uncertainty, verdict and correction for every probe; asks what is to become of them.

    Signals:
        agreed: The user said yes: the checks to save, by probe (a dict).
        another_asked: A further point in another bath is wanted.
        dropped: The check is set aside; nothing is saved.
    """

    agreed = Signal(object)
    another_asked = Signal()
    dropped = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._check: ProbeCheck | None = None
        self._known: tuple[Probe, ...] = ()
        self._checked = self._operator = ""
        self.checks: dict[str, Check] = {}
        self._wanted: dict[str, Tick] = {}
        self.join_buttons: list[QPushButton] = []
        self.points = _table(POINT_COLUMNS, "Points of the check")
        self.comparison = _table(COMPARISON_COLUMNS, "Probes against each other")
        self.comparison_heading = heading("Against each other")
        self.remark = quiet(wrap=True)
        self.complaint = Sentence(look="bad", name="Check")
        self.note_field = TextField(name="Note", hint="a note to keep with the check, if you like")
        self.save_button = button("Yes, save it in the probe's file", look="primary")
        self.save_button.clicked.connect(self._agree)
        self.note_field.returnPressed.connect(self.save_button.setFocus)
        self.another_button = button(
            "Take another point", tip="In another bath: two points give offset and slope"
        )
        self.another_button.clicked.connect(self.another_asked)
        self.drop_button = button("Set it aside, save nothing")
        self.drop_button.clicked.connect(self.dropped)
        self._lay_out()

    def _lay_out(self) -> None:
        self._sentences = QVBoxLayout()
        self._sentences.setSpacing(8)
        inner = QWidget()
        body = QVBoxLayout(inner)
        body.setContentsMargins(0, 0, 6, 0)
        body.setSpacing(8)
        body.addLayout(self._sentences)
        body.addWidget(self.points)
        body.addWidget(self.comparison_heading)
        body.addWidget(self.comparison)
        body.addWidget(self.remark)
        body.addWidget(self.complaint)
        body.addStretch(1)
        self.scroller = QScrollArea()
        self.scroller.setWidgetResizable(True)
        self.scroller.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.scroller.setFrameShape(QFrame.Shape.NoFrame)
        self.scroller.setWidget(inner)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self.drop_button)
        row.addStretch(1)
        row.addWidget(self.another_button)
        row.addWidget(self.save_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.scroller, 1)
        column.addWidget(self.note_field)
        column.addLayout(row)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        for table in (self.points, self.comparison):
            table.setFont(theme.font(figures=True))
        self._show()

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self._show()

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, check: ProbeCheck, *, checked: str, operator: str, known: tuple[Probe, ...]) -> None:
        """Show what came of a check.

        Args:
            check: With at least one bath.
            checked: When, ISO 8601.
            operator: Who.
            known: The probes there are, for their earlier checks and their classes.
        """
        self._check, self._checked, self._operator, self._known = check, checked, operator, known
        self.note_field.clear()
        self._work_out()
        self.scroller.verticalScrollBar().setValue(0)
        (self.note_field if self.checks else self.drop_button).setFocus()

    def _probe(self, name: str) -> Probe | None:
        return next((probe for probe in self._known if probe.name == name), None)

    def _work_out(self) -> None:
        check = self._check
        self.checks = {}
        self.complaint.say("")
        if check is not None and check.points(check.names[0]):
            try:
                self.checks = check.checks(checked=self._checked, operator=self._operator)
            except BadInput as error:
                self.complaint.say(str(error))
        self._show()

    def _show(self) -> None:
        check, unit = self._check, self.unit
        if check is None:
            return
        self._show_sentences(check)
        rows = [point_row(name, point, unit) for name in check.names for point in check.points(name)]
        _fill(self.points, rows)
        comparison = check.comparisons[-1] if check.comparisons else None
        for widget in (self.comparison_heading, self.comparison, self.remark):
            widget.setVisible(comparison is not None)
        if comparison is not None:
            _fill(self.comparison, comparison_rows(comparison, unit))
            self.remark.setText(comparison.remark)
        several = len(check.names) > 1
        self.save_button.setText(
            "Yes, save those ticked in their files" if several else "Yes, save it in the probe's file"
        )
        self.save_button.setVisible(bool(self.checks))
        self.note_field.setVisible(bool(self.checks))
        self.another_button.setVisible(bool(check.points(check.names[0])))
        self.drop_button.setText(
            "Set it aside, save nothing" if self.checks else "Done: there is nothing to save"
        )

    def _show_sentences(self, check: ProbeCheck) -> None:
        ticked = {name: box.isChecked() for name, box in self._wanted.items()}
        self._clear_sentences()
        for name, made in self.checks.items():
            probe = self._probe(name)
            row = QHBoxLayout()
            if len(self.checks) > 1:
                box = Tick(name)
                box.setChecked(ticked.get(name, True))
                box.setToolTip("Save this one; Enter switches it")
                self._wanted[name] = box
                row.addWidget(box)
            else:
                row.addWidget(heading(name))
            row.addStretch(1)
            self._sentences.addLayout(row)
            verdict = self._sentence("Verdict", *verdict_text(made.verdict, self.unit))
            verdict.setFont(self.theme.font(1.25, bold=True, figures=True))
            self._sentence("Correction", correction_sentence(made, self.unit), "")
            classed = () if probe is None else (probe.tolerance_class,)
            for remark in check.remarks(name, *classed):
                self._sentence("Caution", f"! {remark}", "caution")
            earlier = joinable(probe, made)
            if earlier is not None:
                join = button(join_text(name, earlier))
                join.clicked.connect(partial(self._join, name, earlier))
                self.join_buttons.append(join)
                self._sentences.addWidget(join, 0, Qt.AlignmentFlag.AlignLeft)

    def _sentence(self, name: str, text: str, look: str) -> Sentence:
        made = Sentence(look=look, name=name)
        # Into its place before it is shown: a label without a parent would flash as a window.
        self._sentences.addWidget(made)
        made.say(text)
        return made

    def _clear_sentences(self) -> None:
        self._wanted, self.join_buttons = {}, []
        while self._sentences.count():
            item = self._sentences.takeAt(0)
            if item is None:
                break
            inner = item.layout()
            widgets = [item.widget()]
            if inner is not None:
                widgets = [place.widget() for at in range(inner.count()) if (place := inner.itemAt(at))]
            for widget in widgets:
                if widget is not None:
                    widget.hide()
                    widget.deleteLater()

    # -- what the user wants -------------------------------------------------------------------------------

    def _join(self, name: str, earlier: Check, _checked: bool = False) -> None:  # noqa: FBT001, FBT002 - a Qt slot
        if self._check is not None:
            self._check.join(name, earlier)
            self._work_out()
            self.note_field.setFocus()

    @Slot()
    def _agree(self) -> None:
        note = " ".join(self.note_field.text().split())
        wanted = {
            name: msgspec.structs.replace(check, note=note)
            for name, check in self.checks.items()
            if name not in self._wanted or self._wanted[name].isChecked()
        }
        if wanted:
            self.agreed.emit(wanted)
        else:
            self.complaint.say("No probe is ticked; tick one, or set the check aside.")


def _table(columns: tuple[str, ...], name: str) -> QTableWidget:
    table = QTableWidget(0, len(columns))
    table.setAccessibleName(name)
    table.setHorizontalHeaderLabels(columns)
    table.verticalHeader().hide()
    table.setTabKeyNavigation(False)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    header = table.horizontalHeader()
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)  # a long name is cut, nothing else
    return table


def _fill(table: QTableWidget, rows: Sequence[tuple[str, ...]]) -> None:
    table.setVisible(bool(rows))
    table.setRowCount(len(rows))
    height = int(table.fontMetrics().lineSpacing() * 1.7)
    table.setMaximumWidth(table.fontMetrics().averageCharWidth() * _TABLE_CHARS)
    table.verticalHeader().setDefaultSectionSize(height)
    for row, texts in enumerate(rows):
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text)
            item.setToolTip(text)
            table.setItem(row, column, item)
    table.setFixedHeight(len(rows) * height + table.horizontalHeader().sizeHint().height() + 4)
