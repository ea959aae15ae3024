"""The first thing seen: where readings shall come from. One press of Enter leads to the first shot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import button
from benchtemp.window.sources.picker import SourcePicker

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent

    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.layout import Layout
    from benchtemp.window.choices import Choices
    from benchtemp.window.theme import Theme


class StartPage(Panel):
    """The source picker with what is remembered of earlier sittings.

    Signals:
        source_chosen: Carries a `SourceChoice`.
        back_asked: Back to the sitting under way.
        unknown_asked: A machine to diagnose is wanted.
        import_asked: Text files of other meters are to be imported.
    """

    source_chosen = Signal(object)
    back_asked = Signal()
    unknown_asked = Signal()
    import_asked = Signal()

    def __init__(self, logbook: Logbook, choices: Choices, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self._choices = choices
        self._logbook = logbook
        self._machines: tuple[str, ...] = ()
        self.title = QLabel("Where shall readings come from?")
        self.back_button = QPushButton("Back to the Bench (Esc)")
        self.back_button.clicked.connect(self.back_asked)
        self.import_button = button("Import text files…", look="flat", tip="Files that other meters wrote")
        self.import_button.clicked.connect(self.import_asked)
        self.picker = SourcePicker()
        self.picker.chosen.connect(self.source_chosen)
        self.picker.cancelled.connect(self.back_asked)
        self.picker.unknown_asked.connect(self.unknown_asked)
        self.picker.layout_confirmed.connect(self._remember_layout)
        head = QHBoxLayout()
        head.setContentsMargins(12, 0, 12, 0)
        head.addWidget(self.title, 1)
        head.addWidget(self.import_button)
        head.addWidget(self.back_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(6, 12, 6, 6)
        layout.setSpacing(4)
        layout.addLayout(head)
        layout.addWidget(self.picker, 1)
        self.prepare(running=False)

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.picker.set_theme(theme)

    def prepare(self, *, running: bool) -> None:
        """Offer what is remembered now, and the way back while a sitting runs."""
        self.back_button.setVisible(running)
        self._offer()

    def _offer(self) -> None:
        now = self._choices.now
        self.picker.set_known(
            logbook=self._logbook,
            recent=now.recent_recordings,
            layouts=now.layouts,
            last_source=now.last_source,
            machines=self._machines,
        )

    def set_machines(self, machines: tuple[str, ...]) -> None:
        """Offer names of machines used earlier."""
        if machines != self._machines:
            self._machines = machines
            self._offer()

    @Slot(str, object)
    def _remember_layout(self, adapter: str, layout: Layout) -> None:
        self._choices.change(layouts={**self._choices.now.layouts, adapter: msgspec.to_builtins(layout)})

    @Slot()
    def take_focus(self) -> None:
        """Put the focus where Enter leads on."""
        self.picker.focus_first()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go back with Esc."""
        if event.key() == Qt.Key.Key_Escape and self.back_button.isVisible():
            self.back_asked.emit()
        else:
            event.ignore()

    def close_down(self) -> None:
        """Let go of ports and threads."""
        self.picker.end()
