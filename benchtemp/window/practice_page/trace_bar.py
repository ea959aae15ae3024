"""Below the trace of a practice shot: let it run, from its beginning, to its end, and how fast."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import button
from benchtemp.window.practice_page.player import SPEEDS
from benchtemp.window.sources.replay_bar import speed_text

if TYPE_CHECKING:
    from benchtemp.window.practice_page.player import Player


class TraceBar(Panel):
    """Tells what is wanted of the trace. It does not show how much of it there is: that would be a hint.

    Signals:
        play_toggled: Let it run, or pause.
        beginning_asked, end_asked: As they say.
        speed_chosen: One of `SPEEDS`.
    """

    play_toggled = Signal()
    beginning_asked = Signal()
    end_asked = Signal()
    speed_chosen = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("The trace")
        self.play_button = button("Start", name="Play or pause", tip="Let the trace run, or pause (K)")
        self.begin_button = button("From the beginning", tip="Play the trace again (Home)")
        self.end_button = button("To the end", tip="Show all of the trace (End)")
        entries = [(speed, speed_text(speed)) for speed in SPEEDS]
        self.speed = Choice("Speed of the trace", entries, least_chars=3)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        for widget in (self.play_button, self.begin_button, self.end_button, self.speed):
            row.addWidget(widget)
        row.addStretch(1)
        self.play_button.clicked.connect(self.play_toggled)
        self.begin_button.clicked.connect(self.beginning_asked)
        self.end_button.clicked.connect(self.end_asked)
        self.speed.activated.connect(self._take_speed)

    def show_player(self, player: Player) -> None:
        """Show what the next press does."""
        text = "Pause" if player.playing else "Start" if player.position_s == 0.0 else "Play"
        if self.play_button.text() != text:
            self.play_button.setText(text)

    @Slot(int)
    def _take_speed(self, index: int) -> None:
        self.speed_chosen.emit(SPEEDS[index])
