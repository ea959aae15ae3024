"""The line at the top of the bench page: where readings come from, how it does, where they are kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from benchtemp.readings.reading import NoticeKind
from benchtemp.window.logbook_page.elided import Elided
from benchtemp.window.panel import Panel
from benchtemp.window.theme import repolish

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.theme import Theme


def status_texts(snapshot: Snapshot | None) -> tuple[str, str]:
    """Return how the source does, with a sign and in words, and the look of the words."""
    if snapshot is None:
        return "… opening", "quiet"
    if snapshot.status is NoticeKind.LOST:
        return "✕ lost, trying again", "bad"
    if snapshot.status is NoticeKind.GARBAGE:
        return "✕ no readings in what arrives", "bad"
    if snapshot.status is NoticeKind.FINISHED:
        return "■ over", "quiet"
    if snapshot.last_s is None:
        return "… waiting", "quiet"
    if snapshot.stale:
        return "✕ silent", "bad"
    rate = f", {1 / snapshot.period_s:.3g} readings/s" if snapshot.period_s else ""
    return f"● reading{rate}", "good"


class SourceStrip(Panel):
    """Name and state of the source, name of the recording, and the way to another source.

    Signals:
        sources_asked: Another source is wanted.
    """

    sources_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Source")
        self.name = QLabel()
        self.status = QLabel()
        self.status.setAccessibleName("State of the source")
        self.kept = Elided()
        self.kept.setProperty("look", "quiet")
        self.kept.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.raw_button = QPushButton("Raw lines")
        self.raw_button.setProperty("look", "flat")
        self.raw_button.setCheckable(True)
        self.raw_button.setToolTip("The lines as they arrive (L)")
        self.raw_button.hide()
        self.change_button = QPushButton("Change source")
        self.change_button.setToolTip("Choose another source; what runs is closed and kept (Ctrl+O)")
        self.change_button.clicked.connect(self.sources_asked)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(2, 0, 0, 0)
        layout.setSpacing(12)
        layout.addWidget(self.name)
        layout.addWidget(self.status)
        layout.addWidget(self.kept, 1)
        layout.addWidget(self.raw_button)
        layout.addWidget(self.change_button)
        self._keeps = True

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.name.setFont(theme.font(1.05, bold=True))
        self.status.setFont(theme.font(figures=True))

    def begin(self, choice: SourceChoice) -> None:
        """Name the source of a sitting."""
        self._keeps = choice.keep
        name = choice.source.name
        if choice.machine and choice.machine not in name:
            name = f"{choice.machine}, {name}"
        self.name.setText(name if len(name) <= 48 else name[:47] + "…")
        self.name.setToolTip(name)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show how the source does."""
        text, look = status_texts(snapshot)
        if self.status.text() != text:
            self.status.setText(text)
        if self.status.property("look") != look:
            self.status.setProperty("look", look)
            repolish(self.status)
        if snapshot is None or snapshot.recording is None:
            kept, tip = "" if self._keeps else "nothing is written", ""
        else:
            kept, tip = f"kept in {snapshot.recording.name}", str(snapshot.recording)
        if self.kept.text() != kept:
            self.kept.setText(kept)
            self.kept.setToolTip(tip)
