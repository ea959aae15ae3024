"""What presses of keys do that concern more than one page: the pump, a note, the uncertainty of a shot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Slot

from benchtemp.window.lesson.hidden import HIDDEN_SENTENCE
from benchtemp.window.messages import Message, Weight

if TYPE_CHECKING:
    from benchtemp.window.main_window import MainWindow

_LASTS_MS = 6000


class Pressing(QObject):
    """Carries out presses, or says in a passing message why one is refused."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window

    def _refuse(self, sentence: str) -> None:
        self._window.board.put(Message("refused", Weight.NOTE, sentence, lasts_ms=_LASTS_MS))

    @Slot()
    def press(self) -> None:
        """Press Space: in a practice round it marks the practice shot, else it is the pump key."""
        if self._window.held.repeating:
            return
        if self._window.practising.takes_space:
            self._window.practising.page.press()
        else:
            self.pump()

    @Slot()
    def pump(self) -> None:
        """Press the pump key; in a replay, play or pause."""
        if self._window.held.repeating:
            return
        choice = self._window.session.choice
        if choice is None:
            self._refuse("No source is open, so there is no pump to mark: choose a source first (Enter).")
        elif choice.keep:
            self._window.session.press()
        else:
            self._window.bench.toggle_replay()

    @Slot()
    def show_uncertainty(self) -> None:
        """Show what the uncertainty of a shot is made of: of the one in the plot, or of the last one."""
        if self._window.bench.teaching.lesson.hidden:
            self._refuse(HIDDEN_SENTENCE)
            return
        shots = () if self._window.snapshot is None else self._window.snapshot.shots
        shots = tuple(shot for shot in shots if shot.result.brew_temp_degc is not None and not shot.is_flush)
        if not shots:
            self._refuse("No shot of this sitting has a brew temperature yet; pull one first.")
            return
        shown = self._window.bench.plot.shot
        self._window.bring("Probes")
        self._window.probes.show_budget_of_shot((shots[-1] if shown not in shots else shown).key)

    @Slot()
    def open_note(self) -> None:
        """Go to the field for a note, on the Bench."""
        if self._window.session.running:
            self._window.back_to_bench()
            self._window.session.begin_note()
            self._window.bench.open_note()
