"""The replay bar: play, pause, step, seek and speed, by pointer and by keys."""

from __future__ import annotations

from math import inf, isinf
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import button
from benchtemp.window.sources.marked_slider import MarkedSlider
from benchtemp.window.theme import figure_width

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.readings.reading import Mark
    from benchtemp.readings.replay import ReplaySource
    from benchtemp.window.theme import Theme

SPEEDS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, inf)
SKIP_S = 5.0


def speed_text(speed: float) -> str:
    """Return a speed as people write it, `0.25×`, or `max`."""
    return "max" if isinf(speed) else f"{speed:g}×"


def clock_text(seconds: float) -> str:
    """Return a time in a recording, `1:05.3`, with hours where they are needed."""
    tenths = round(max(seconds, 0.0) * 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    tail = f"{rest // 10:02d}.{rest % 10}"
    return f"{hours}:{minutes:02d}:{tail}" if hours else f"{minutes}:{tail}"


def key_help() -> list[tuple[str, str]]:
    """Return the replay's keys and what they do, for the key list."""
    return [
        ("K", "Replay: play or pause."),
        (".", "Replay: pause and go on by one reading."),
        ("Ctrl+Left, Ctrl+Right", f"Replay: {SKIP_S:g} s back or on."),
        ("Ctrl+Shift+Left, Ctrl+Shift+Right", "Replay: to the mark before or after."),
        ("Ctrl+Up, Ctrl+Down", "Replay: faster or slower; + and − while the replay bar has the focus."),
        ("Ctrl+Home", "Replay: to the beginning."),
        ("F2, Del", "Replay: other words for your note chosen in the list, or delete it."),
    ]


class ReplayBar(Panel):
    """Shows where a replay stands and takes what the user wants of it.

    Signals:
        play_asked, pause_asked, step_asked: As they say.
        seek_asked: Go to a time in the recording's own time, s.
        speed_asked: 0.25 to 64, or infinity for as fast as it goes.
    """

    play_asked = Signal()
    pause_asked = Signal()
    step_asked = Signal()
    seek_asked = Signal(float)
    speed_asked = Signal(float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Replay")
        self._paused = True
        self._start_s = self._end_s = self._position_s = 0.0
        self.follow(None)
        self._marks: tuple[Mark, ...] = ()
        self._notes: tuple[Mark, ...] = ()
        self.play_button = button("Pause", name="Play or pause", tip="Play or pause (K)")
        self.step_button = button("Step", tip="Pause and go on by one reading (.)")
        self.slider = MarkedSlider()
        self.position = QLabel("0:00.0 of 0:00.0")
        self.position.setAccessibleName("Position")
        self.position.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        entries = [(speed, speed_text(speed)) for speed in SPEEDS]
        self.speed_choice = Choice("Speed of the replay", entries, least_chars=5)
        self.speed_choice.setToolTip("Speed (+ and -)")
        self.speed_choice.setCurrentIndex(SPEEDS.index(1.0))
        self.speed_choice.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 4, 10, 4)
        row.setSpacing(8)
        row.addWidget(self.play_button)
        row.addWidget(self.step_button)
        row.addWidget(self.slider, 1)
        row.addWidget(self.position)
        row.addWidget(self.speed_choice)
        self.play_button.clicked.connect(self.toggle)
        self.step_button.clicked.connect(self.step_asked)
        self.slider.chosen.connect(self.seek_asked)
        self.slider.sliderMoved.connect(self._show_position)
        self.speed_choice.activated.connect(self._take_speed)
        self.set_theme(self.theme)
        self._show_paused(paused=True)

    # -- showing -----------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours and fonts."""
        super().set_theme(theme)
        self.slider.set_theme(theme)
        font = theme.font(figures=True)
        self.position.setFont(font)
        self._fit_position()

    def set_recording(self, source: ReplaySource) -> None:
        """Show another recording: its length and its marks."""
        self._start_s, self._end_s = source.start_s, source.end_s
        self._marks, self._notes = source.stream.marks, ()
        self.slider.set_stretch(source.start_s, source.end_s, self._marks)
        self._fit_position()
        self.show_state(source.now_s(), paused=source.paused, speed=source.speed)

    def show_notes(self, notes: tuple[Mark, ...]) -> None:
        """Show a teacher's notes among the marks, and let the keys jump to them too."""
        if notes != self._notes:
            self._notes = notes
            self.slider.set_stretch(self._start_s, self._end_s, (*self._marks, *notes))

    def show_state(self, position_s: float, *, paused: bool, speed: float) -> None:
        """Show where the replay stands; cheap enough for every tick."""
        self._position_s = position_s
        self.slider.show_time(position_s)
        self._show_position()
        if paused != self._paused:
            self._show_paused(paused=paused)
        index = min(range(len(SPEEDS)), key=lambda nth: abs(min(SPEEDS[nth], 1e9) - min(speed, 1e9)))
        if self.speed_choice.currentIndex() != index and not self.speed_choice.view().isVisible():
            self.speed_choice.setCurrentIndex(index)

    def _show_paused(self, *, paused: bool) -> None:
        self._paused = paused
        self.play_button.setText("Play" if paused else "Pause")
        self.play_button.setMinimumWidth(self.play_button.sizeHint().width())

    def _fit_position(self) -> None:
        length = clock_text(self._end_s - self._start_s)
        pattern = "".join("0" if sign.isdigit() else sign for sign in f"{length} of {length}")
        self.position.setMinimumWidth(figure_width(self.position.font(), pattern))

    @Slot()
    def _show_position(self) -> None:
        text = (
            f"{clock_text(self.slider.time_s - self._start_s)} of {clock_text(self._end_s - self._start_s)}"
        )
        if self.position.text() != text:
            self.position.setText(text)

    # -- what the user wants -----------------------------------------------------------------------------

    def add_keys_to(self, page: QWidget) -> None:
        """Make the replay's keys work while the focus is anywhere on `page` and this bar is shown."""
        on_page: dict[str, Callable[[], None]] = {
            "K": self.toggle,
            ".": self.step_asked.emit,
            "Ctrl+Left": lambda: self._skip(-SKIP_S),
            "Ctrl+Right": lambda: self._skip(SKIP_S),
            "Ctrl+Shift+Left": lambda: self._to_mark(forward=False),
            "Ctrl+Shift+Right": lambda: self._to_mark(forward=True),
            "Ctrl+Up": lambda: self._change_speed(1),
            "Ctrl+Down": lambda: self._change_speed(-1),
            "Ctrl+Home": lambda: self.seek_asked.emit(self._start_s),
        }
        on_bar: dict[str, Callable[[], None]] = {
            "+": lambda: self._change_speed(1),
            "=": lambda: self._change_speed(1),
            "-": lambda: self._change_speed(-1),
        }
        for widget, keys in ((page, on_page), (self, on_bar)):
            for key, act in keys.items():
                shortcut = QShortcut(QKeySequence(key), widget)
                shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                shortcut.activated.connect(lambda act=act: act() if self.isVisible() else None)

    @Slot()
    def toggle(self) -> None:
        """Ask for play where it stands still, else for a pause; at the end, from the beginning."""
        if not self._paused:
            self.pause_asked.emit()
            return
        if self._where_s() >= self._end_s - 1e-6:
            self.seek_asked.emit(self._start_s)
        self.play_asked.emit()

    def follow(self, where_s: Callable[[], float] | None) -> None:
        """Take what tells where the replay stands at any moment: the bar itself may be behind, or hidden."""
        self._where_s = where_s or (lambda: self._position_s)

    def _skip(self, by_s: float) -> None:
        self.seek_asked.emit(min(max(self._where_s() + by_s, self._start_s), self._end_s))

    def _to_mark(self, *, forward: bool) -> None:
        found_s = self.slider.mark_beside(self._where_s(), forward=forward)
        if found_s is not None:
            self.seek_asked.emit(found_s)

    def _change_speed(self, by: int) -> None:
        index = min(max(self.speed_choice.currentIndex() + by, 0), len(SPEEDS) - 1)
        self.speed_choice.setCurrentIndex(index)
        self.speed_asked.emit(SPEEDS[index])

    @Slot(int)
    def _take_speed(self, index: int) -> None:
        self.speed_asked.emit(SPEEDS[index])


class ReplaySteering(QObject):
    """Joins a replay bar and the replay it steers; delete it, or `let_go`, when the replay ends."""

    def __init__(self, bar: ReplayBar, source: ReplaySource) -> None:
        super().__init__(bar)
        self._bar = bar
        self._source = source
        bar.set_recording(source)
        bar.follow(source.now_s)
        bar.play_asked.connect(self._play)
        bar.pause_asked.connect(self._pause)
        bar.step_asked.connect(self._step)
        bar.seek_asked.connect(self._seek)
        bar.speed_asked.connect(self._set_speed)

    def let_go(self) -> None:
        """Part bar and replay."""
        bar = self._bar
        bar.play_asked.disconnect(self._play)
        bar.pause_asked.disconnect(self._pause)
        bar.step_asked.disconnect(self._step)
        bar.seek_asked.disconnect(self._seek)
        bar.speed_asked.disconnect(self._set_speed)
        bar.follow(None)
        self.deleteLater()

    @Slot(object)
    def show_snapshot(self, _snapshot: Snapshot | None) -> None:
        """Bring the bar up to where the replay stands now."""
        source = self._source
        self._bar.show_state(source.now_s(), paused=source.paused, speed=source.speed)

    @Slot()
    def _play(self) -> None:
        self._source.play()
        self.show_snapshot(None)

    @Slot()
    def _pause(self) -> None:
        self._source.pause()
        self.show_snapshot(None)

    @Slot()
    def _step(self) -> None:
        self._source.step()
        self.show_snapshot(None)

    @Slot(float)
    def _seek(self, t_s: float) -> None:
        self._source.seek(t_s)
        self.show_snapshot(None)

    @Slot(float)
    def _set_speed(self, speed: float) -> None:
        self._source.speed = speed
        self.show_snapshot(None)
