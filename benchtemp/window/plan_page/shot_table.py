"""The shots of a plan in the order in which they are pulled, and how those pulled came out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Slot
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from benchtemp.units import TempUnit, temp_text

if TYPE_CHECKING:
    from PySide6.QtGui import QResizeEvent

    from benchtemp.studies.plans.plan import Plan
    from benchtemp.studies.plans.status import PlanStatus
    from benchtemp.window.theme import Theme

COLUMNS = ("Shot", "Repeat", "Settings", "Pulled", "Brew temperature", "How it went")
_PLANNED = 3
_ONE_LINE_CHARS = 12
_Index = QModelIndex | QPersistentModelIndex


def rows_of(plan: Plan, status: PlanStatus | None, unit: TempUnit) -> list[tuple[str, ...]]:
    """Return what was pulled, in order of time, and then what is still to do, as texts."""
    repeats = plan.repeats > 1 and len(plan.shots) > 1
    rows: list[tuple[str, ...]] = []
    for done in status.done if status is not None else ():
        sign = "↺ put back:" if done.put_back else "✓"
        remarks = "; ".join(done.remarks)
        rows.append(
            (
                str(done.step.number),
                str(done.step.repeat) if repeats else "",
                done.step.shot.said(unit),
                done.shot.pulled[:16].replace("T", " "),
                temp_text(done.shot.brew_temp_degc, unit, 2),
                f"{sign} {remarks}".strip(),
            )
        )
    steps = plan.sequence() if status is None else status.queue
    rows += [
        (str(step.number), str(step.repeat) if repeats else "", step.shot.said(unit), "", "", "")
        for step in steps
    ]
    if status is not None and status.queue:
        place = len(status.done)
        rows[place] = (*rows[place][:5], "→ next")
    return rows


class _Rows(QAbstractTableModel):
    def __init__(self) -> None:
        super().__init__()
        self.rows: list[tuple[str, ...]] = []

    def show(self, rows: list[tuple[str, ...]]) -> None:
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if orientation is Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section]
        return None

    def data(self, index: _Index, role: int = 0) -> Any:
        if role in {Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole}:
            return self.rows[index.row()][index.column()] or None
        return None


class ShotTable(QTableView):
    """Shows a plan's shots."""

    def __init__(self) -> None:
        super().__init__()
        self._model = _Rows()
        self._plan: Plan | None = None
        self._status: PlanStatus | None = None
        self._unit = TempUnit.DEGC
        self.setModel(self._model)
        self.setAccessibleName("Shots of the plan in order")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setWordWrap(True)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.sectionResized.connect(self._fit_rows)

    @property
    def rows(self) -> list[tuple[str, ...]]:
        """Return the texts shown."""
        return self._model.rows

    def set_theme(self, theme: Theme) -> None:
        """Take fonts."""
        self.setFont(theme.font(figures=True))
        height = int(self.fontMetrics().lineSpacing() * 1.7)
        self.verticalHeader().setMinimumSectionSize(height)
        self.verticalHeader().setDefaultSectionSize(height)
        self.resizeColumnsToContents()
        self._fit_rows()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit rows to the width the last column has now."""
        super().resizeEvent(event)
        self._fit_rows()

    @Slot()
    def _fit_rows(self) -> None:
        """Give a row whose remarks are long the lines they need: a key cannot ask for a tool tip."""
        last = self._last_column()
        for row, texts in enumerate(self.rows):
            if len(texts[last]) > _ONE_LINE_CHARS:
                self.resizeRowToContents(row)

    def _last_column(self) -> int:
        return _PLANNED - 1 if self._status is None else len(COLUMNS) - 1

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        self._unit = unit
        self._fill()

    def show_plan(self, plan: Plan | None, status: PlanStatus | None) -> None:
        """Show a plan's shots; without a status only what is planned."""
        self._plan, self._status = plan, status
        self._fill()

    def _fill(self) -> None:
        plan = self._plan
        self._model.show([] if plan is None else rows_of(plan, self._status, self._unit))
        repeats = plan is not None and plan.repeats > 1 and len(plan.shots) > 1
        self.setColumnHidden(1, not repeats)
        for column in range(_PLANNED, len(COLUMNS)):
            self.setColumnHidden(column, self._status is None)
        self.resizeColumnsToContents()
        last = self._last_column()
        header = self.horizontalHeader()
        for column in range(len(COLUMNS)):
            mode = QHeaderView.ResizeMode.Stretch if column == last else QHeaderView.ResizeMode.Interactive
            header.setSectionResizeMode(column, mode)
        self._fit_rows()
