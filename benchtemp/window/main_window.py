"""The window: the rail, the pages, standing messages above them, and the wires between all of it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QMainWindow, QVBoxLayout, QWidget

from benchtemp.window.bench_place import BenchPlace
from benchtemp.window.commands import commands
from benchtemp.window.exchange import Exchange
from benchtemp.window.keys import HeldKeys, KeyTable
from benchtemp.window.large_view import LargeView
from benchtemp.window.looks import Looks
from benchtemp.window.messages import Message, MessageBoard, Weight
from benchtemp.window.pages import LatePage, Pages
from benchtemp.window.planning import Planning
from benchtemp.window.practising import Practising
from benchtemp.window.pressing import Pressing
from benchtemp.window.probes_page.shelf import ProbeShelf
from benchtemp.window.rail import Rail
from benchtemp.window.sittings import Sittings
from benchtemp.window.start_page import StartPage
from benchtemp.window.tags_used import TagsUsed
from benchtemp.window.window_place import keep_place, keep_reference, kept_reference, restore_place

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtGui import QCloseEvent, QPaintEvent, QResizeEvent, QShowEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.virtual.pot import Bath
    from benchtemp.window.bench_page import BenchPage
    from benchtemp.window.choices import Choices
    from benchtemp.window.events import Reporter
    from benchtemp.window.key_list import KeyList
    from benchtemp.window.logbook_page.page import LogbookPage
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.probes_page.page import ProbesPage
    from benchtemp.window.session import Session
    from benchtemp.window.theme import Themes


class MainWindow(QMainWindow):
    """Shows the pages and passes on what the user wants.

    Attributes:
        held: Which keys are being held down.
        looks: Theme and unit of the whole window.
        pressing: What presses do that concern more than one page.
        sittings: What the course of a sitting means for the pages.

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
        self.held = HeldKeys()
        self.large = LargeView(themes, self.held, self)
        self.large.closed.connect(self._leave_presentation)

        self.board = MessageBoard()
        self._painted = False
        self._book = logbook
        self._shelf = ProbeShelf(logbook, self)
        self.planning = Planning(logbook, choices, self)
        self.practising = Practising(logbook, self._shelf, self)
        self.start = StartPage(logbook, choices)
        self._bench_place = BenchPlace(self.start, self._connect_bench)
        self._probes_place = LatePage(self._make_probes)
        self._logbook_place = LatePage(self._make_logbook)
        self.exchange = Exchange(logbook, self._logbook_place, self.planning.findings_place, self)
        self.planning.findings_made.connect(self.exchange.take_findings)
        self._pages = Pages(
            {
                "Bench": self._bench_place,
                "Plan": self.planning.plan_place,
                "Findings": self.exchange.findings_place,
                "Probes": self._probes_place,
                "Logbook": self.exchange.logbook_place,
                "Practice": self.practising.place,
            }
        )
        self.rail = Rail(self._pages.names)
        self._lay_out()
        self.looks = Looks(themes, choices, self._pages, self.rail, self.large)
        self.sittings = Sittings(self, choices, self._shelf, self._probes_place)
        self._connect()
        self.pressing = Pressing(self)
        self._keys = KeyTable(self, commands(self))
        self._tags = TagsUsed(logbook, self)
        self._tags.changed.connect(self._take_tags)
        self.exchange.imported.connect(self._tags.read)
        if choices.warning:
            self.board.put(Message("preferences", Weight.NOTE, choices.warning))
        self.bring("Bench")
        restore_place(self)
        self._tags.read()

    # -- building ------------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
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

    @property
    def bench(self) -> BenchPage:
        """The live page, made when it is needed or after the first paint."""
        return self._bench_place.bench

    def _connect_bench(self, bench: BenchPage) -> None:
        bench.plot.set_reference(kept_reference())
        bench.entered.connect(self.session.enter)
        bench.noted.connect(self.session.note)
        bench.tare_asked.connect(self.session.tare)
        bench.sources_asked.connect(self.choose_source)
        bench.uncertainty_asked.connect(self.pressing.show_uncertainty)
        bench.plot.reference_chosen.connect(keep_reference)
        bench.notes_of = self.practising.notes_of
        bench.teaching.changed.connect(self.sittings.teach)
        bench.contents.exercise_asked.connect(self.sittings.make_exercise)
        self.large.made.connect(bench.replay_bar.add_keys_to)
        self.large.made.connect(self.planning.take_large)
        self.planning.take_strip(bench.plan_strip)
        bench.tags.set_known(self._tags.used)

    @property
    def snapshot(self) -> Snapshot | None:
        """Where the bench stood when it was last looked at, None without a source."""
        return self.sittings.snapshot

    @property
    def probes(self) -> ProbesPage:
        """The Probes page, made when it is first wanted."""
        return self._probes_place.page

    def _make_probes(self) -> ProbesPage:
        from benchtemp.window.probes_page.page import ProbesPage  # noqa: PLC0415 - see above

        page = ProbesPage(self._book, self._choices, self._shelf)
        page.bench_asked.connect(self.back_to_bench)
        page.show_sitting(self.snapshot, self.session.choice)
        return page

    @property
    def logbook(self) -> LogbookPage:
        """The Logbook page, made when it is first wanted."""
        return self._logbook_place.page

    @Slot()
    def _import(self) -> None:
        """Show the import, where the logbook is."""
        self.bring("Logbook")
        self.exchange.show_import()

    def _make_logbook(self) -> LogbookPage:
        from benchtemp.window.logbook_page.page import LogbookPage  # noqa: PLC0415 - see above

        page = LogbookPage(self._book)
        self.exchange.take_logbook(page)
        page.replay_asked.connect(self.session.begin)
        self.practising.offer_in(page)
        return page

    @Slot(str, object)
    def _check_for_practice(self, probe: str, bath: Callable[[Bath], SourceChoice]) -> None:
        """Lead through the check of a probe that belongs to a machine to diagnose."""
        self.bring("Probes")
        self.probes.begin_practice_check(probe, bath)

    @cached_property
    def key_list(self) -> KeyList:
        """The list of keys and cautions."""
        from benchtemp.window.key_list import KeyList  # noqa: PLC0415 - not needed to paint

        return KeyList(self, pages=len(self._pages.names))

    @cached_property
    def reporter(self) -> Reporter:
        """What turns events into messages."""
        from benchtemp.window.events import Reporter  # noqa: PLC0415 - it brings the engine with it

        reporter = Reporter(self.board, self._book, self)
        self.session.happened.connect(reporter.report)
        reporter.shot_settled.connect(self._tags.read)
        reporter.probes_asked.connect(lambda: self.bring("Probes"))
        return reporter

    @Slot()
    def complete(self) -> None:
        """Make what was not needed for the first picture."""
        assert self.bench
        assert self.key_list
        assert self.reporter

    def _connect(self) -> None:
        session, start = self.session, self.start
        self._choices.complaint.connect(self._tell_preferences)
        start.source_chosen.connect(session.begin)
        start.back_asked.connect(self.back_to_bench)
        start.unknown_asked.connect(self.practising.offer_case)
        start.import_asked.connect(self._import)
        self.planning.entered.connect(session.enter)
        self.planning.bench_asked.connect(self._go_to_bench)
        self.planning.findings_asked.connect(lambda: self.bring("Findings"))
        self.planning.failed.connect(self.sittings.fail)
        self.practising.page_asked.connect(lambda: self.bring("Practice"))
        self.practising.bench_asked.connect(self.back_to_bench)
        self.practising.sitting_asked.connect(self.sittings.begin_case)
        self.practising.check_asked.connect(self._check_for_practice)
        rail = self.rail
        rail.page_chosen.connect(self.show_page)
        rail.unit_asked.connect(self.looks.next_unit)
        rail.look_asked.connect(self.looks.next_look)
        rail.presentation_asked.connect(self.toggle_presentation)
        rail.keys_asked.connect(self.toggle_keys)

    # -- pages ---------------------------------------------------------------------------------------------

    @Slot(int)
    def show_page(self, place: int) -> None:
        """Bring a page to the front, by its place on the rail."""
        self._pages.bring(place)
        self.rail.show_page(place)

    def bring(self, name: str) -> None:
        """Bring a page to the front, by its name."""
        self.show_page(self._pages.names.index(name))

    @property
    def page(self) -> int:
        """Return which page is in front."""
        return self._pages.currentIndex()

    @Slot()
    def choose_source(self) -> None:
        """Show the choice of sources; a sitting goes on until another source is chosen."""
        self._bench_place.show_start(running=self.session.running)
        self.bring("Bench")

    @Slot()
    def back_to_bench(self) -> None:
        """Go back to the sitting under way."""
        if self.session.running:
            self._bench_place.show_bench()
            self.bring("Bench")

    @Slot()
    def _go_to_bench(self) -> None:
        self.bring("Bench")

    @Slot()
    def _take_tags(self) -> None:
        if self._bench_place.has_bench:
            self.bench.tags.set_known(self._tags.used)
        self.start.set_machines(self._tags.machines)

    # -- commands ------------------------------------------------------------------------------------------

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
        self.large.toggle(self.screen(), self.snapshot)

    @Slot()
    def _leave_presentation(self) -> None:
        self.bench.show_snapshot(self.snapshot)
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
        self.held.watch(self.windowHandle())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Make the rest of the window once its first picture is there."""
        super().paintEvent(event)
        if not self._painted:
            self._painted = True
            QTimer.singleShot(0, self.complete)

    def closeEvent(self, event: QCloseEvent) -> None:
        """End in order: the bench and its files first, then timers, then windows."""
        self.session.close()
        self.exchange.close_down()
        self._pages.close_down()
        self.planning.close_down()
        self._shelf.close_down()
        self.reporter.close_down()
        self.board.clear()
        self._tags.close_down()
        keep_place(self)
        self._choices.keep()
        self.large.close_down()
        super().closeEvent(event)
        self.closed.emit()
