"""The live page: headline, trace, scale and timer, tags and recipe, this sitting's shots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchtemp.readings.replay import ReplaySource
from benchtemp.window.guidance import guidance
from benchtemp.window.headline import Headline
from benchtemp.window.lesson.contents import ReplayContents
from benchtemp.window.lesson.hidden_card import HiddenCard
from benchtemp.window.lesson.note_board import NoteBoard
from benchtemp.window.lesson.teaching import Teaching
from benchtemp.window.machine_strip import MachineStrip
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Wrapped
from benchtemp.window.panels.note import NoteEntry
from benchtemp.window.panels.recipe import RecipePanel
from benchtemp.window.panels.scale_timer import ScaleTimerPanel
from benchtemp.window.panels.tags import TagsPanel
from benchtemp.window.plan_strip import PlanStrip
from benchtemp.window.shot_cards import ShotCards
from benchtemp.window.source_strip import SourceStrip
from benchtemp.window.sources.raw_lines import RawLinesView
from benchtemp.window.sources.replay_bar import ReplayBar, ReplaySteering
from benchtemp.window.trace_plot import Mode, TracePlot

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.shots.shot import Shot
    from benchtemp.units import TempUnit
    from benchtemp.window.lesson.notes_kept import NotesKept
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.theme import Theme

_SIDE_CHARS = 47
_TAGS, _RECIPE, _NOTES = range(3)


class BenchPage(Panel):
    """Everything that is looked at and done while shots are pulled.

    Attributes:
        notes_of: Finds where a teacher's notes on a replay are kept; None keeps none.

    Signals:
        entered: Text of a `set` mark.
        noted: Text of a note.
        tare_asked: The scale is to show zero.
        sources_asked: Another source is wanted.
        uncertainty_asked: What the uncertainty of the shot shown is made of.
    """

    entered = Signal(str)
    noted = Signal(str)
    tare_asked = Signal()
    sources_asked = Signal()
    uncertainty_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.notes_of: Callable[[ReplaySource], NotesKept] | None = None
        self._choice: SourceChoice | None = None
        self._snapshot: Snapshot | None = None
        self.strip = SourceStrip()
        self.headline = Headline()
        self.plan_strip = PlanStrip()
        self.guide = Wrapped()
        self.guide.setAccessibleName("What to do next")
        self.note = NoteEntry()
        self.plot = TracePlot()
        self.replay_bar = ReplayBar()
        self.replay_bar.hide()
        self.machine_strip = MachineStrip()
        self._steering: ReplaySteering | None = None
        self.raw = RawLinesView()
        self.raw.hide()
        self.cards = ShotCards()
        self.scale = ScaleTimerPanel()
        self.tags = TagsPanel()
        self.recipe = RecipePanel()
        self.contents = ReplayContents()
        self.note_board = NoteBoard()
        self.note_board.hide()
        self.hidden_card = HiddenCard()
        self.hidden_card.hide()
        self.teaching = Teaching(self.contents, self.note_board, self)
        self._panels: tuple[Panel, ...] = (
            self.strip,
            self.headline,
            self.plan_strip,
            self.plot,
            self.cards,
            self.scale,
            self.tags,
            self.recipe,
            self.note,
            self.replay_bar,
            self.machine_strip,
            self.raw,
            self.contents,
            self.note_board,
            self.hidden_card,
        )
        self._lay_out()
        self._connect()

    # -- building ------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self._guide_row = QStackedWidget()
        self._guide_row.addWidget(self.guide)
        self._guide_row.addWidget(self.note)
        self._guide_row.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

        left = QVBoxLayout()
        left.setSpacing(8)
        left.addWidget(self.note_board)
        left.addWidget(self.plot, 3)
        left.addWidget(self.replay_bar)
        left.addWidget(self.machine_strip)
        left.addWidget(self.raw, 2)
        left.addWidget(self.cards)

        side = QVBoxLayout()
        side.setSpacing(8)
        side.addWidget(self.scale)
        side.addWidget(self.hidden_card)
        side.addLayout(self._make_switch())
        side.addWidget(self._drawer, 1)
        self._side = QWidget()
        self._side.setLayout(side)
        side.setContentsMargins(0, 0, 0, 0)

        body = QHBoxLayout()
        body.setSpacing(10)
        body.addLayout(left, 1)
        body.addWidget(self._side)

        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 8, 12, 10)
        layout.setSpacing(8)
        layout.addWidget(self.strip)
        layout.addWidget(self.headline)
        layout.addWidget(self.plan_strip)
        layout.addWidget(self._guide_row)
        layout.addLayout(body, 1)

    def _make_switch(self) -> QHBoxLayout:
        """Make the row that chooses between tags, recipe and a replay's notes, and the drawer it switches."""
        self._drawer = QStackedWidget()
        row = QHBoxLayout()
        row.setSpacing(4)
        # No button group: in one, Tab would pass over the button that is not checked.
        self.drawer_buttons: list[QPushButton] = []
        named = (("Tags", self.tags), ("Recipe", self.recipe), ("Notes", self.contents))
        for place, (name, panel) in enumerate(named):
            button = QPushButton(name)
            button.setProperty("look", "flat")
            button.setCheckable(True)
            button.clicked.connect(lambda _checked=False, place=place: self.open_drawer(place))
            self.drawer_buttons.append(button)
            row.addWidget(button)
            scroll = QScrollArea()
            scroll.setWidgetResizable(True)
            scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
            scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            scroll.setFrameShape(QFrame.Shape.NoFrame)
            scroll.setMinimumHeight(32)  # messages above may take the room for a while
            scroll.setWidget(panel)
            self._drawer.addWidget(scroll)
        row.addStretch(1)
        self.drawer_buttons[_NOTES].hide()
        self.open_drawer(_TAGS)
        return row

    def open_drawer(self, place: int) -> None:
        """Show the tags (0), the recipe (1) or a replay's notes and marks (2)."""
        self._drawer.setCurrentIndex(place)
        for index, button in enumerate(self.drawer_buttons):
            button.setChecked(index == place)

    def _connect(self) -> None:
        self.scale.entered.connect(self.entered)
        self.scale.tare_asked.connect(self.tare_asked)
        self.tags.entered.connect(self.entered)
        self.recipe.entered.connect(self.entered)
        self.note.noted.connect(self._take_note)
        self.note.left.connect(self.leave_note)
        self.cards.shot_chosen.connect(self._show_shot)
        self.cards.uncertainty_asked.connect(self.uncertainty_asked)
        self.plot.mode_changed.connect(self._show_mode)
        self.strip.sources_asked.connect(self.sources_asked)
        self.strip.raw_button.toggled.connect(self.raw.setVisible)
        self.replay_bar.add_keys_to(self)
        self.contents.seek_asked.connect(self.replay_bar.seek_asked)
        self.teaching.writing_asked.connect(self._write_note)
        self.teaching.changed.connect(self._show_lesson)
        self.hidden_card.shown_asked.connect(self.teaching.toggle_results)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme to every part."""
        super().set_theme(theme)
        self.guide.setFont(theme.font(1.2))
        self._guide_row.setFixedHeight(int(self.guide.fontMetrics().lineSpacing() * 1.7) + 4)
        self._side.setFixedWidth(self.fontMetrics().averageCharWidth() * _SIDE_CHARS)
        for panel in self._panels:
            panel.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit to every part."""
        super().set_unit(unit)
        for panel in self._panels:
            panel.set_unit(unit)
        self.show_snapshot(self._snapshot)

    # -- content -------------------------------------------------------------------------------------------

    def begin(self, choice: SourceChoice) -> None:
        """Get ready for a sitting."""
        self._choice = choice
        self.strip.begin(choice)
        self.plot.begin_again(replay=not choice.keep)
        self._steer(choice)
        supply = getattr(choice.source, "raw_lines", None)
        self.raw.set_supply(supply if callable(supply) else None)
        self.strip.raw_button.setVisible(callable(supply))
        self.strip.raw_button.setChecked(False)
        self.show_snapshot(None)

    def _steer(self, choice: SourceChoice | None) -> None:
        if self._steering is not None:
            self._steering.let_go()
            self._steering = None
        source = choice.source if choice is not None else None
        if isinstance(source, ReplaySource):
            self._steering = ReplaySteering(self.replay_bar, source)
            self.teaching.begin(source, self.notes_of(source) if self.notes_of is not None else None)
        else:
            self.teaching.end()
        self.machine_strip.follow(source)
        replay = self._steering is not None
        self.replay_bar.setVisible(replay)
        self.note.say_where(replay=replay)
        if self.drawer_buttons[_NOTES].isHidden() == replay:
            self.drawer_buttons[_NOTES].setVisible(replay)
            self.open_drawer(_NOTES if replay else _TAGS)

    def focus_start(self) -> None:
        """Put the focus where the sitting's keys work: on the plot, or on the replay's play button."""
        if self._steering is not None:
            self.replay_bar.play_button.setFocus()
        else:
            self.plot.canvas.setFocus()

    def end(self) -> None:
        """Tidy up after a sitting."""
        self._choice = None
        self._steer(None)
        self.raw.set_supply(None)
        self.show_snapshot(None)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Hand the snapshot to every part."""
        self._snapshot = snapshot
        for panel in self._panels:
            panel.show_snapshot(snapshot)
        if self._steering is not None:
            self._steering.show_snapshot(snapshot)
            self.teaching.show_moment()
            self.plot.show_notes(self.teaching.own_come())
        choice = self._choice
        text = ""
        if choice is not None:
            text = guidance(snapshot, virtual=not choice.hardware, replay=not choice.keep)
        if text != self.guide.text():
            self.guide.setText(text)
        self.plan_strip.show_guide(text)
        self._fit_guide()

    def _fit_guide(self) -> None:
        """Give the guide's room to the plot while the plan's strip says what is next."""
        needed = self.plan_strip.isHidden() or self._guide_row.currentWidget() is self.note
        if self._guide_row.isHidden() == needed:
            self._guide_row.setVisible(needed)

    @Slot(object)
    def _show_shot(self, shot: Shot) -> None:
        self.plot.show_shot(shot)
        self.cards.show_chosen(shot.key)

    @Slot(object)
    def _show_mode(self, mode: Mode) -> None:
        if mode is Mode.FOLLOW:
            self.cards.show_chosen(None)

    @Slot()
    def _show_lesson(self) -> None:
        """Hide the results or show them, and draw the teacher's notes."""
        hidden = self.teaching.lesson.hidden
        self.headline.hide_results(hidden)
        self.cards.hide_results(hidden)
        self.plot.hide_results(hidden)
        self.scale.setVisible(not hidden)
        self.hidden_card.setVisible(hidden)
        if self.teaching.running:
            self.replay_bar.show_notes(self.teaching.lesson.notes)
        else:
            self.plot.show_notes(())
        self.show_snapshot(self._snapshot)

    # -- commands ------------------------------------------------------------------------------------------

    @Slot(str)
    def _take_note(self, text: str) -> None:
        if self.teaching.running:
            self.teaching.finish_note(text)
        else:
            self.noted.emit(text)

    @Slot(str)
    def _write_note(self, text: str) -> None:
        self._open_note_field()
        self.note.field.setText(text)
        self.note.field.selectAll()

    @Slot()
    def open_note(self) -> None:
        """Show the field for a note and go there; in a replay it becomes the teacher's own."""
        if self._snapshot is None:
            return
        if self.teaching.running:
            self.teaching.begin_note()
        else:
            self._open_note_field()

    def _open_note_field(self) -> None:
        self._guide_row.setCurrentWidget(self.note)
        self._fit_guide()
        self.note.field.setFocus()

    @Slot()
    def leave_note(self) -> None:
        """Put the field for a note away and go back to the plot."""
        if self._guide_row.currentWidget() is self.note:
            self._guide_row.setCurrentWidget(self.guide)
            self._fit_guide()
            self.plot.canvas.setFocus()

    @Slot()
    def toggle_raw(self) -> None:
        """Show the raw lines of an interface, or hide them."""
        if self.strip.raw_button.isVisible():
            self.strip.raw_button.toggle()

    @Slot()
    def toggle_replay(self) -> None:
        """Play or pause, in a replay."""
        if self._steering is not None:
            self.replay_bar.toggle()

    @Slot()
    def go_to_dose(self) -> None:
        """Put the focus into the dose that is wanted next."""
        self.scale.go_to_dose()

    @Slot()
    def go_to_yield(self) -> None:
        """Put the focus into the yield, where it can be typed already."""
        self.scale.go_to_yield()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave a field with Esc; from the plot, Esc follows again."""
        if event.key() != Qt.Key.Key_Escape:
            event.ignore()
            return
        if self._guide_row.currentWidget() is self.note:
            self.leave_note()
        elif not self.plot.canvas.hasFocus():
            self.plot.canvas.setFocus()
        else:
            self.plot.follow()
