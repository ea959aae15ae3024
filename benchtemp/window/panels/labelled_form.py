"""Fields below each other, their names in one column at the left, under headings."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QLabel, QLayout, QWidget

from benchtemp.window.panels.labels import heading

_FIELD_EDGE_PX = 6
"""Border and padding above the text of a field: a name stands on the same line as what is in the field."""


class LabelledForm(QFormLayout):
    """A form whose fields begin at one edge, whatever heading they stand under."""

    def __init__(self, *, gap_px: int = 4) -> None:
        super().__init__()
        self.setContentsMargins(0, 0, 0, 0)
        self.setHorizontalSpacing(8)
        self.setVerticalSpacing(gap_px)
        self.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)

    def add_heading(self, text: str) -> None:
        """Put a heading above the fields that follow."""
        self.addRow(heading(text))

    def add_field(self, name: str, field: QWidget | QLayout) -> None:
        """Add a field, or several side by side, with its name."""
        label = QLabel(name)
        label.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        label.setContentsMargins(0, _FIELD_EDGE_PX, 0, 0)
        if isinstance(field, QWidget):
            label.setBuddy(field)
            self.addRow(label, field)
        else:
            self.addRow(label, field)
