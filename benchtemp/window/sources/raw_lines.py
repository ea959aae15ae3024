"""The lines a source really sends, as they come: for seeing what an interface says."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Slot
from PySide6.QtGui import QFontDatabase, QGuiApplication, QTextOption
from PySide6.QtWidgets import QHBoxLayout, QPlainTextEdit, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button, heading, quiet

if TYPE_CHECKING:
    from PySide6.QtGui import QHideEvent, QShowEvent

    from benchtemp.readings.serial_source import RawLine

_REFRESH_MS = 200
LINES_MAX = 400


def visible_text(line: bytes) -> str:
    """Return a line with everything that cannot be seen written out, such as `\\x00` and `\\t`."""
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError:
        text = line.decode("latin-1")
    return "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape").decode("ascii") for sign in text
    )


class RawLinesView(Panel):
    """Shows the last lines of a source in a fixed-width font, each after its time in s; can be copied.

    It asks for lines only while it can be seen.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Raw lines")
        self._supply: Callable[[], Sequence[RawLine]] | None = None
        self._shown: tuple[RawLine, ...] = ()
        self.text = QPlainTextEdit()
        self.text.setReadOnly(True)
        self.text.setAccessibleName("Lines as they come")
        self.text.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.text.setWordWrapMode(QTextOption.WrapMode.NoWrap)
        self.text.setTabChangesFocus(True)
        self.text.setMinimumHeight(self.text.fontMetrics().lineSpacing() * 3)
        self.text.setUndoRedoEnabled(False)
        self.note = quiet("", wrap=True)
        self.pause_button = button("Pause", tip="Hold the text still; reading goes on")
        self.pause_button.setCheckable(True)
        self.copy_button = button("Copy", tip="Copy what is shown")
        self.pause_button.toggled.connect(self._refresh)
        self.copy_button.clicked.connect(self._copy)
        head = QHBoxLayout()
        head.addWidget(heading("Raw lines"))
        head.addStretch(1)
        head.addWidget(self.pause_button)
        head.addWidget(self.copy_button)
        self._lay_out(head)
        self._timer = QTimer(self)
        self._timer.setInterval(_REFRESH_MS)
        self._timer.timeout.connect(self._refresh)
        self._say_why_empty()

    def _lay_out(self, head: QHBoxLayout) -> None:

        column = QVBoxLayout(self)
        column.setContentsMargins(12, 6, 12, 8)
        column.setSpacing(4)
        column.addLayout(head)
        column.addWidget(self.note)
        column.addWidget(self.text, 1)

    def set_supply(self, supply: Callable[[], Sequence[RawLine]] | None) -> None:
        """Take lines from elsewhere, for instance `source.raw_lines`; None where a source has none."""
        self._supply = supply
        self._shown = ()
        self.text.clear()
        self.pause_button.setChecked(False)
        self._say_why_empty()
        self._refresh()

    @property
    def paused(self) -> bool:
        """Tell whether the text is held still."""
        return self.pause_button.isChecked()

    def _say_why_empty(self) -> None:
        if self._supply is None:
            self.note.setText("This source sends no lines: only interfaces on a port do.")
        elif not self._shown:
            self.note.setText("No line has come yet.")
        self.note.setVisible(self._supply is None or not self._shown)
        for widget in (self.text, self.pause_button, self.copy_button):
            widget.setVisible(self._supply is not None)

    @Slot()
    def _refresh(self) -> None:
        if self._supply is None or self.paused or not self.isVisible():
            return
        if self.text.textCursor().hasSelection():  # somebody is about to copy it
            return
        lines = tuple(self._supply())[-LINES_MAX:]
        if lines == self._shown:
            return
        self._shown = lines
        bar = self.text.verticalScrollBar()
        self.text.setPlainText("\n".join(f"{line.t_s:9.2f}  {visible_text(line.raw)}" for line in lines))
        bar.setValue(bar.maximum())
        self._say_why_empty()

    @Slot()
    def _copy(self) -> None:
        chosen = self.text.textCursor().selection().toPlainText()
        QGuiApplication.clipboard().setText(chosen or self.text.toPlainText())

    def showEvent(self, event: QShowEvent) -> None:
        """Begin to ask for lines."""
        super().showEvent(event)
        self._timer.start()
        self._refresh()

    def hideEvent(self, event: QHideEvent) -> None:
        """Stop asking."""
        super().hideEvent(event)
        self._timer.stop()
