"""A practice round under way: the trace, what to do next, the answer, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from benchtemp.errors import BadInput
from benchtemp.teaching.marking import Part
from benchtemp.teaching.practice import RoundStage
from benchtemp.window.practice_page.player import Player
from benchtemp.window.practice_page.round_sheet import RoundSheet
from benchtemp.window.practice_page.sentences import LEAVING, next_step

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtGui import QHideEvent, QKeyEvent, QShowEvent

    from benchtemp.teaching.practice import Round
    from benchtemp.units import TempUnit

TICK_MS = 40
_SIDE_CHARS = 47


class RoundPanel(RoundSheet):
    """Leads through a round.

    Signals:
        ended: The round is over, finished or left.
    """

    ended = Signal()

    def __init__(self, parent: QWidget | None = None, *, player: Player | None = None) -> None:
        super().__init__(parent)
        self.round: Round | None = None
        self.player = player or Player()
        self._number = 0
        self._was_over = False
        self._leaving = False
        self._temp_passed = False
        self._timer = QTimer(self)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._tick)
        self._connect()

    def _connect(self) -> None:
        form, marking = self.form, self.marking
        form.pump_on_pressed.connect(self.press_pump)
        form.plateau_pressed.connect(self.press_plateau)
        form.take_back_asked.connect(self.take_back)
        form.temp_given.connect(self._say_temp)
        form.temp_passed.connect(self._pass_temp)
        form.counts_given.connect(self._say_counts)
        form.submitted.connect(self._submit)
        form.skipped.connect(self._skip)
        marking.again_asked.connect(self._watch_again)
        marking.went_on.connect(self._go_on)
        self.bar.play_toggled.connect(self.toggle_play)
        self.bar.beginning_asked.connect(self.from_beginning)
        self.bar.end_asked.connect(self.to_end)
        self.head.leave_asked.connect(self.leave)
        self.bar.speed_chosen.connect(self._take_speed)
        keys: dict[str, Callable[[], None]] = {
            "K": self.toggle_play,
            "Home": self.from_beginning,
            "End": self.to_end,
            "Backspace": self.take_back,
            "Z": self.plot.near_button.toggle,
        }
        for key, act in keys.items():
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(act)

    # -- look ----------------------------------------------------------------------------------------------

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        for panel in (self.plot, self.form, self.marking):
            panel.set_unit(unit)
        if self.round is not None:
            self.round.use_unit(unit)
            self.show_round()

    # -- the round -----------------------------------------------------------------------------------------

    @property
    def watching(self) -> bool:
        """Tell whether marks are taken now."""
        return self.round is not None and self.round.view.stage is RoundStage.WATCHING

    def begin(self, practice: Round, words: str = "") -> None:
        """Lead through a round from its first shot.

        Args:
            practice: The round.
            words: The teacher's, to be read before the first trace runs.
        """
        self.round = practice
        self.words.setText(words)
        practice.use_unit(self.unit)
        self._number = 0
        self._leaving = False
        self.head.trouble.say("")
        self._load()

    def _load(self) -> None:
        """Take the round's present shot, at its beginning."""
        assert self.round is not None
        item = self.round.item
        self.player.load(item.length_s)
        self.show_item(item, self.round.view.title)
        self._was_over = self._temp_passed = False
        self.round.replay_at(0.0)
        self.show_round()
        self.take_focus()

    def show_round(self) -> None:
        """Show where the round stands."""
        if self.round is None:
            return
        view, player = self.round.view, self.player
        self._say_step()
        self.show_view(view, self.round.item, may_mark=player.position_s > 0.0)
        self.bar.show_player(player)
        if player.playing != self._timer.isActive():
            (self._timer.start if player.playing else self._timer.stop)()

    def _say_step(self) -> None:
        assert self.round is not None
        sentence = LEAVING
        if not self._leaving:
            player, passed = self.player, self._temp_passed
            sentence = next_step(
                self.round.view, playing=player.playing, over=player.over, temp_passed=passed
            )
        if self.head.say_step(sentence):
            self.plot.describe(sentence)

    @Slot()
    def _tick(self) -> None:
        self.look()

    def look(self) -> None:
        """Bring the round up to where the trace stands now."""
        if not self.watching:
            return
        assert self.round is not None
        self.round.replay_at(self.player.position_s)
        over = self.player.over
        if over and not self._was_over and self.plot.canvas.hasFocus():
            self.form.go_to_temp()
        self._was_over = over
        self.show_round()

    # -- what the trainee does -----------------------------------------------------------------------------

    def _press(self, part: Part) -> None:
        if not self.watching or self.player.position_s <= 0.0:
            return
        assert self.round is not None
        self._leaving = False
        self.round.press(part, self.player.position_s)
        self.look()

    @Slot()
    def press_pump(self) -> None:
        """Mark pump on, at this moment."""
        self._press(Part.PUMP_ON)

    @Slot()
    def press_plateau(self) -> None:
        """Mark that the plateau is reached, at this moment."""
        self._press(Part.PLATEAU_START)

    @Slot()
    def take_back(self) -> None:
        """Take the last mark back."""
        if self.watching and self.round is not None:
            self.round.take_back()
            self.show_round()

    @Slot(object)
    def _say_temp(self, temp_degc: float | None) -> None:
        if self.watching and self.round is not None:
            try:
                self.round.say_brew_temp(temp_degc)
            except BadInput as error:
                self.head.trouble.say(str(error))
                return
            self.head.trouble.say("")
            self.show_round()

    @Slot()
    def _pass_temp(self) -> None:
        self._temp_passed = True
        self.show_round()

    @Slot(bool)
    def _say_counts(self, counts: bool) -> None:  # noqa: FBT001 - a Qt slot
        if self.watching and self.round is not None:
            self.round.say_counts(counts)
            self.show_round()

    @Slot()
    def _submit(self) -> None:
        if self.watching and self.round is not None:
            self.player.pause()
            self.round.submit()
            self._show_marking()

    @Slot()
    def _skip(self) -> None:
        if self.watching and self.round is not None:
            self.player.pause()
            self.round.skip()
            self._show_marking()

    def _show_marking(self) -> None:
        self._leaving = False
        self.plot.show_whole()
        self.show_round()
        self.marking.on_button.setFocus()

    @Slot()
    def _watch_again(self) -> None:
        assert self.round is not None
        self.round.watch_again()
        self._load()

    @Slot()
    def _go_on(self) -> None:
        assert self.round is not None
        if self.round.go_on().stage is RoundStage.OVER:
            self._end()
        else:
            self._load()

    @Slot()
    def leave(self) -> None:
        """Leave the round; what was handed in stays."""
        if self.round is not None:
            self.round.abort()
            self._end()

    def close_down(self) -> None:
        """Stand still for good."""
        self.player.pause()
        self._timer.stop()

    def _end(self) -> None:
        self.player.pause()
        self._timer.stop()
        self.ended.emit()

    # -- the trace -----------------------------------------------------------------------------------------

    @Slot()
    def toggle_play(self) -> None:
        """Let the trace run, or pause."""
        if self.watching:
            self._leaving = False
            if self.player.over:
                self._was_over = False
            self.player.toggle()
            self.look()

    @Slot()
    def from_beginning(self) -> None:
        """Play the trace again; what was answered stays."""
        if self.watching:
            self._was_over = False
            self.player.seek(0.0)
            self.player.play()
            self.plot.canvas.setFocus()
            self.look()

    @Slot()
    def to_end(self) -> None:
        """Show all of the trace."""
        if self.watching:
            self.player.seek(self.player.length_s)
            self.plot.canvas.setFocus()
            self.look()

    @Slot(float)
    def _take_speed(self, speed: float) -> None:
        self.player.set_speed(speed)
        self.plot.canvas.setFocus()

    # -- keys ----------------------------------------------------------------------------------------------

    def take_focus(self) -> None:
        """Put the focus where the keys of this moment work."""
        if self.round is not None and self.round.view.stage is RoundStage.SHOWN:
            self.marking.on_button.setFocus()
        else:
            self.plot.canvas.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take Enter while the trace has the focus, and Esc from anywhere."""
        key = event.key()
        if key == Qt.Key.Key_Escape:
            self._escape()
        elif key in {Qt.Key.Key_Return, Qt.Key.Key_Enter} and self.plot.canvas.hasFocus():
            if not event.isAutoRepeat():
                self._enter()
        else:
            event.ignore()

    def _enter(self) -> None:
        if not self.watching:
            self._go_on()
        elif self.player.over:
            self.form.go_to_temp()
        elif not self.player.playing:
            self.toggle_play()
        else:
            self.press_plateau()

    def _escape(self) -> None:
        if self._leaving:
            self.leave()
        elif not self.plot.canvas.hasFocus() and self.watching:
            self.plot.canvas.setFocus()
        else:
            self._leaving = True
            self.show_round()

    # -- coming and going ----------------------------------------------------------------------------------

    def hideEvent(self, event: QHideEvent) -> None:
        """Stand still while nobody looks."""
        super().hideEvent(event)
        if self.player.playing:
            self.player.pause()
        self._timer.stop()

    def showEvent(self, event: QShowEvent) -> None:
        """Show where the round stands."""
        super().showEvent(event)
        self.show_round()
