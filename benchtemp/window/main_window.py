"""The window: the rail, the pages, standing messages above them, and the wires between all of it."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.logbook.preferences import Appearance
from benchtemp.units import TempUnit
from benchtemp.window.commands import commands
from benchtemp.window.keys import HeldKeys, KeyTable
from benchtemp.window.large_view import LargeView
from benchtemp.window.logbook_page import LogbookPage
from benchtemp.window.messages import Message, MessageBoard, Weight
from benchtemp.window.planning import Planning
from benchtemp.window.probes_page.shelf import ProbeShelf, time_constant_s
from benchtemp.window.rail import Rail
from benchtemp.window.sources.background import Background
from benchtemp.window.start_page import StartPage
from benchtemp.window.window_place import keep_place, keep_reference, kept_reference, restore_place

if TYPE_CHECKING:
    from PySide6.QtGui import QCloseEvent, QPaintEvent, QResizeEvent, QShowEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.window.bench_page import BenchPage
    from benchtemp.window.choices import Choices
    from benchtemp.window.events import Reporter
    from benchtemp.window.key_list import KeyList
    from benchtemp.window.panel import Panel, SourceChoice
    from benchtemp.window.probes_page.page import ProbesPage
    from benchtemp.window.session import Session
    from benchtemp.window.theme import Theme, Themes

PAGES = ("Bench", "Plan", "Findings", "Probes", "Logbook")
_BENCH, _PLAN, _FINDINGS, _PROBES, _LOGBOOK = range(len(PAGES))
_LOOKS = tuple(Appearance)


class MainWindow(QMainWindow):
    """Shows the pages and passes on what the user wants.

    Signals:
        closed: The window was closed, after the sitting had ended and its files were whole.
    """

    closed = Signal()

    def __init__(
        self, session: Session, themes: Themes, choices: Choices, logbook: Logbook, *, title: str = ""
    ) -> None:
        super().__init__()
        self.setWindowTitle(title or "benchtemp")
        self.session = session
        self._themes = themes
        self._choices = choices
        self._held = HeldKeys()
        self.large = LargeView(themes, self._held, self)
        self.large.closed.connect(self._leave_presentation)
        self._snapshot: Snapshot | None = None
        self._probes_on: tuple[str, ...] = ()

        self.rail = Rail(PAGES)
        self.board = MessageBoard()
        self._painted = False
        self._book = logbook
        self._shelf = ProbeShelf(logbook, self)
        self._shelf.changed.connect(self._take_time_constant)
        self.planning = Planning(logbook, choices, self)
        self.start = StartPage(logbook, choices)
        self.logbook = LogbookPage(logbook)
        self._panels: list[Panel] = [self.start, self.logbook]
        self._lay_out()
        self._connect()
        self._keys = KeyTable(self, commands(self))
        self._tags_used: dict[str, list[str]] = {}
        self._tags = Background(self, name="tags used earlier")
        self._tags.done.connect(self._take_tags)
        self.set_theme(themes.theme)
        self.set_unit(choices.now.unit)
        self.rail.show_look(themes.choice)
        if choices.warning:
            self.board.put(Message("preferences", Weight.NOTE, choices.warning))
        self.show_page(0)
        restore_place(self)
        self._tags.start(logbook.tags_used)

    # -- building ------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self._bench_stack = QStackedWidget()
        self._bench_stack.addWidget(self.start)
        self._pages = QStackedWidget()
        self._pages.addWidget(self._bench_stack)
        self._probes_place = QStackedWidget()
        for page in (
            self.planning.plan_place, self.planning.findings_place, self._probes_place, self.logbook
        ):  # fmt: skip
            self._pages.addWidget(page)
        board = QVBoxLayout()
        board.setContentsMargins(12, 8, 12, 0)
        board.addWidget(self.board)
        right = QVBoxLayout()
        right.setContentsMargins(0, 0, 0, 0)
        right.setSpacing(0)
        right.addLayout(board)
        right.addWidget(self._pages, 1)
        middle = QWidget()
        middle.setProperty("look", "page")
        layout = QHBoxLayout(middle)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.rail)
        layout.addLayout(right, 1)
        self.setCentralWidget(middle)

    @cached_property
    def bench(self) -> BenchPage:
        """The live page, made when it is needed or after the first paint: it brings the plots with it."""
        from benchtemp.window.bench_page import BenchPage  # noqa: PLC0415 - see above

        bench = BenchPage()
        # Into its place before it is dressed: moving a widget under a style sheet takes its fonts away.
        self._bench_stack.addWidget(bench)
        bench.set_theme(self._themes.theme)
        bench.set_unit(self._choices.now.unit)
        bench.plot.set_reference(kept_reference())
        bench.entered.connect(self.session.enter)
        bench.noted.connect(self.session.note)
        bench.tare_asked.connect(self.session.tare)
        bench.sources_asked.connect(self.choose_source)
        bench.uncertainty_asked.connect(self.show_uncertainty)
        bench.plot.reference_chosen.connect(keep_reference)
        self.planning.take_strip(bench.plan_strip)
        bench.tags.set_known(self._tags_used)
        self._panels.append(bench)
        return bench

    @cached_property
    def probes(self) -> ProbesPage:
        """The Probes page, made when it is first wanted."""
        from benchtemp.window.probes_page.page import ProbesPage  # noqa: PLC0415 - see above

        page = ProbesPage(self._book, self._choices, self._shelf)
        self._probes_place.addWidget(page)
        page.set_theme(self._themes.theme)
        page.set_unit(self._choices.now.unit)
        page.bench_asked.connect(self.back_to_bench)
        self._panels.append(page)
        page.show_sitting(self._snapshot, self.session.choice)
        return page

    @cached_property
    def key_list(self) -> KeyList:
        """The list of keys and cautions."""
        from benchtemp.window.key_list import KeyList  # noqa: PLC0415 - not needed to paint

        return KeyList(self, pages=len(PAGES))

    @cached_property
    def reporter(self) -> Reporter:
        """What turns events into messages."""
        from benchtemp.window.events import Reporter  # noqa: PLC0415 - it brings the engine with it

        reporter = Reporter(self.board, self._book, self)
        self.session.happened.connect(reporter.report)
        reporter.shot_settled.connect(self._read_tags)
        reporter.probes_asked.connect(lambda: self.show_page(_PROBES))
        return reporter

    @Slot()
    def complete(self) -> None:
        """Make what was not needed for the first picture."""
        assert self.bench
        assert self.key_list
        assert self.reporter

    def _connect(self) -> None:
        session, start = self.session, self.start
        self._themes.changed.connect(self.set_theme)
        self._choices.complaint.connect(self._tell_preferences)
        session.begun.connect(self._begin)
        session.ended.connect(self._end)
        session.looked.connect(self.show_snapshot)
        session.failed.connect(self._fail)
        start.source_chosen.connect(session.begin)
        start.back_asked.connect(self.back_to_bench)
        self.logbook.replay_asked.connect(self._replay)
        self.planning.entered.connect(session.enter)
        self.planning.bench_asked.connect(self._go_to_bench)
        self.planning.findings_asked.connect(lambda: self.show_page(_FINDINGS))
        self.planning.failed.connect(self._fail)
        rail = self.rail
        rail.page_chosen.connect(self.show_page)
        rail.unit_asked.connect(self.next_unit)
        rail.look_asked.connect(self.next_look)
        rail.presentation_asked.connect(self.toggle_presentation)
        rail.keys_asked.connect(self.toggle_keys)

    # -- look ----------------------------------------------------------------------------------------------

    @Slot(object)
    def set_theme(self, theme: Theme) -> None:
        """Hand a theme to every page."""
        for panel in self._panels:
            panel.set_theme(theme)
        self.planning.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand a unit to every page, and remember it."""
        for panel in self._panels:
            panel.set_unit(unit)
        self.planning.set_unit(unit)
        self.large.set_unit(unit)
        self.rail.show_unit(unit)
        self._choices.change(unit=unit)

    @Slot()
    def next_unit(self) -> None:
        """Show °F instead of °C, or the other way round."""
        self.set_unit(TempUnit.DEGF if self._choices.now.unit is TempUnit.DEGC else TempUnit.DEGC)

    @Slot()
    def next_look(self) -> None:
        """Go on from the system's look to light, to dark, and back."""
        choice = _LOOKS[(_LOOKS.index(self._themes.choice) + 1) % len(_LOOKS)]
        self._themes.choose(choice)
        self._choices.change(theme=choice)
        self.rail.show_look(choice)

    # -- pages ---------------------------------------------------------------------------------------------

    @Slot(int)
    def show_page(self, place: int) -> None:
        """Bring a page to the front."""
        if place == _PROBES:
            self.probes.read()
        elif place == _PLAN:
            self.planning.plan.read()
        elif place == _FINDINGS:
            self.planning.open_findings()
        self._pages.setCurrentIndex(place)
        self.rail.show_page(place)
        if place == _LOGBOOK:
            self.logbook.read()
            self.logbook.list.setFocus()
        elif place == _PLAN:
            self.planning.plan.take_focus()
        elif place == _FINDINGS:
            self.planning.findings.take_focus()
        elif place == _PROBES:
            self.probes.take_focus()
        elif self._bench_stack.currentWidget() is self.start:
            self.start.take_focus()
        else:
            self.bench.plot.canvas.setFocus()

    @property
    def page(self) -> int:
        """Return which page is in front."""
        return self._pages.currentIndex()

    @Slot()
    def choose_source(self) -> None:
        """Show the choice of sources; a sitting goes on until another source is chosen."""
        self.start.prepare(running=self.session.running)
        self._bench_stack.setCurrentWidget(self.start)
        self.show_page(0)

    @Slot()
    def back_to_bench(self) -> None:
        """Go back to the sitting under way."""
        if self.session.running:
            self._bench_stack.setCurrentWidget(self.bench)
            self.show_page(0)

    @Slot()
    def _go_to_bench(self) -> None:
        self.show_page(_BENCH)

    # -- sittings ------------------------------------------------------------------------------------------

    @Slot()
    def _read_tags(self) -> None:
        self._tags.start(self._book.tags_used)

    @Slot(object)
    def _take_tags(self, used: dict[str, list[str]]) -> None:
        self._tags_used = used
        if "bench" in self.__dict__:
            self.bench.tags.set_known(used)
        self.start.set_machines(tuple(used.get("machine", ())))

    @Slot(object)
    def _begin(self, choice: SourceChoice) -> None:
        self.board.clear("source", "status", "refused", "dismissed")
        self._remember(choice)
        self.bench.begin(choice)
        self.large.begin(choice)
        self.reporter.begin(choice)
        self._bench_stack.setCurrentWidget(self.bench)
        self.show_page(0)
        self.bench.focus_start()

    def _remember(self, choice: SourceChoice) -> None:
        again = dict(choice.begin_again or {})
        if again:
            self._choices.change(last_source=again)
        if again.get("kind") == "replay":
            self._choices.take(self._choices.now.with_recent(Path(str(again["path"]))))

    @Slot()
    def _end(self) -> None:
        self.bench.end()
        self.bench.plot.set_time_constant(None)
        self._probes_on = ()
        self.reporter.end()
        self.large.begin(None)
        self.choose_source()

    @Slot(str)
    def _fail(self, sentence: str) -> None:
        self.board.put(Message("source", Weight.TROUBLE, sentence))

    @Slot(object)
    def _replay(self, choice: SourceChoice) -> None:
        self.session.begin(choice)

    @Slot(object)
    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show where the bench stands, in what can be seen."""
        self._snapshot = snapshot
        if self.large.shown:
            self.large.show_snapshot(snapshot)
        else:
            self.bench.show_snapshot(snapshot)
        self.planning.show_snapshot(snapshot, self.session.choice)
        self.reporter.look(snapshot)
        choice = self.session.choice
        if snapshot is not None and snapshot.probes != self._probes_on:
            self._probes_on = snapshot.probes
            self._shelf.read()
        if "probes" in self.__dict__:
            self.probes.show_sitting(snapshot, choice)
        if snapshot is not None and choice is not None and choice.keep:
            self._choices.change(recipe=snapshot.recipe, tags=self.planning.own_tags(snapshot.tags))

    @Slot()
    def _take_time_constant(self) -> None:
        """Let the plot know the time constant of the basket's probe."""
        tau_s = time_constant_s(self._shelf, self._snapshot, self.session.choice)
        self.bench.plot.set_time_constant(tau_s)

    # -- commands ------------------------------------------------------------------------------------------

    @Slot()
    def press(self) -> None:
        """Press the pump key; in a replay, play or pause."""
        if self._held.repeating:
            return
        choice = self.session.choice
        if choice is None:
            self.board.put(
                Message(
                    "refused",
                    Weight.NOTE,
                    "No source is open, so there is no pump to mark: choose a source first (Enter).",
                    lasts_ms=6000,
                )
            )
        elif choice.keep:
            self.session.press()
        else:
            self.bench.toggle_replay()

    @Slot()
    def show_uncertainty(self) -> None:
        """Show what the uncertainty of a shot is made of: of the one in the plot, or of the last one."""
        shots = () if self._snapshot is None else self._snapshot.shots
        shots = tuple(shot for shot in shots if shot.result.brew_temp_degc is not None and not shot.is_flush)
        if not shots:
            text = "No shot of this sitting has a brew temperature yet; pull one first."
            self.board.put(Message("refused", Weight.NOTE, text, lasts_ms=6000))
            return
        shown = self.bench.plot.shot
        self.show_page(_PROBES)
        self.probes.show_budget_of_shot((shots[-1] if shown not in shots else shown).key)

    @Slot()
    def open_note(self) -> None:
        """Go to the field for a note, on the Bench."""
        if self.session.running:
            self.back_to_bench()
            self.session.begin_note()
            self.bench.open_note()

    @Slot(str)
    def _tell_preferences(self, sentence: str) -> None:
        self.board.put(Message("preferences", Weight.TROUBLE, sentence))

    @Slot(str)
    def tell_fault(self, sentence: str) -> None:
        """Let the sentence about a fault of ours stand."""
        self.board.put(Message("fault", Weight.TROUBLE, sentence))

    @Slot()
    def toggle_keys(self) -> None:
        """Show the list of keys, or put it away."""
        self.key_list.toggle()

    @Slot()
    def toggle_presentation(self) -> None:
        """Show the large view over the whole screen, or close it."""
        self.large.toggle(self.screen(), self._snapshot)

    @Slot()
    def _leave_presentation(self) -> None:
        self.bench.show_snapshot(self._snapshot)
        self.activateWindow()

    # -- place and end -------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the key list in the middle."""
        super().resizeEvent(event)
        if "key_list" in self.__dict__ and self.key_list.isVisible():
            self.key_list.place()

    def showEvent(self, event: QShowEvent) -> None:
        """Watch for keys held down, from the moment there is a window to watch."""
        super().showEvent(event)
        self._held.watch(self.windowHandle())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Make the rest of the window once its first picture is there."""
        super().paintEvent(event)
        if not self._painted:
            self._painted = True
            QTimer.singleShot(0, self.complete)

    def closeEvent(self, event: QCloseEvent) -> None:
        """End in order: the bench and its files first, then timers, then windows."""
        self.session.close()
        self.start.close_down()
        self.logbook.close_down()
        if "probes" in self.__dict__:
            self.probes.close_down()
        self.planning.close_down()
        self._shelf.close_down()
        self.reporter.close_down()
        self.board.clear()
        self._tags.join()
        keep_place(self)
        self._choices.keep()
        self.large.close_down()
        super().closeEvent(event)
        self.closed.emit()
