"""The source picker: the page shown while nothing runs, reachable at any time."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QScrollArea, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.errors import BenchtempError
from benchtemp.window.panel import Panel, SourceChoice
from benchtemp.window.panels.labels import Sentence, quiet
from benchtemp.window.sources.background import Background
from benchtemp.window.sources.choices import (
    again_text,
    choice_again,
    replay_choice,
    serial_choice,
    virtual_choice,
)
from benchtemp.window.sources.offer_button import OfferButton
from benchtemp.window.sources.recordings import recordings_to_offer
from benchtemp.window.sources.recordings_card import RecordingsCard
from benchtemp.window.sources.serial_card import SerialCard, SerialPick
from benchtemp.window.sources.virtual_card import VirtualCard

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from PySide6.QtGui import QDragEnterEvent, QDropEvent, QHideEvent, QKeyEvent, QResizeEvent, QShowEvent

    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.layout import Layout
    from benchtemp.units import TempUnit
    from benchtemp.window.sources.layout_view import LayoutView
    from benchtemp.window.theme import Theme

_WIDE_CHARS = 118


class SourcePicker(Panel):
    """Offers virtual machines, serial ports and recordings; tells which one it is to be.

    Signals:
        chosen: A `SourceChoice`.
        layout_confirmed: An adapter's identity as text, and the `Layout` confirmed for it.
        cancelled: Escape: what runs is to go on.
        unknown_asked: A machine to diagnose is wanted.
    """

    chosen = Signal(object)
    layout_confirmed = Signal(str, object)
    cancelled = Signal()
    unknown_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.setAccessibleName("Source picker")
        self.setAcceptDrops(True)
        self._logbook: Logbook | None = None
        self._recent: tuple[str, ...] = ()
        self._again: dict[str, Any] = {}
        self._pick: SerialPick | None = None
        self.again_button = OfferButton("", "as last time")
        self.again_button.setVisible(False)
        self.again_button.clicked.connect(self._begin_again)
        self.complaint = Sentence(look="bad", name="Source")
        self.busy_note = quiet("")
        self.busy_note.setVisible(False)
        self.virtual = VirtualCard()
        self.serial = SerialCard()
        self.recordings = RecordingsCard()
        self._cards: tuple[Panel, ...] = (self.virtual, self.serial, self.recordings)
        self._opening = Background(self, name="opening a source")
        self._listing = Background(self, name="recordings")
        self._columns = 0
        self._lay_out()
        self._connect()

    # -- building ----------------------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self._grid = QGridLayout()
        self._grid.setSpacing(10)
        inner = QWidget()
        inner.setProperty("look", "page")
        body = QVBoxLayout(inner)
        body.setContentsMargins(12, 8, 12, 10)
        body.setSpacing(8)
        body.addWidget(self.again_button, 0, Qt.AlignmentFlag.AlignLeft)
        body.addWidget(self.complaint)
        body.addWidget(self.busy_note)
        body.addLayout(self._grid, 1)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(inner)
        self._stack = QStackedWidget()
        self._stack.addWidget(self._scroll)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._stack)
        self._arrange(3)

    def _arrange(self, columns: int) -> None:
        if columns == self._columns:
            return
        self._columns = columns
        for card in self._cards:
            self._grid.removeWidget(card)
        for place, card in enumerate(self._cards):
            self._grid.addWidget(card, place // columns, place % columns)
        for column in range(3):
            self._grid.setColumnStretch(column, 1 if column < columns else 0)

    def _connect(self) -> None:
        self.virtual.picked.connect(self._pick_virtual)
        self.virtual.unknown_asked.connect(self.unknown_asked)
        self.serial.picked.connect(self._pick_serial)
        self.recordings.picked.connect(self.open_file)
        self._opening.done.connect(self._opened)
        self._opening.failed.connect(self._refused)
        self._listing.done.connect(self.recordings.show_offers)
        self._listing.failed.connect(self.recordings.complaint.say)

    @cached_property
    def layout_view(self) -> LayoutView:
        """The view that guesses and confirms a layout, made when it is first wanted."""
        from benchtemp.window.sources.layout_view import LayoutView  # noqa: PLC0415 - not needed to paint

        view = LayoutView()
        view.set_theme(self.theme)
        view.set_unit(self.unit)
        view.confirmed.connect(self._layout_taken)
        view.left.connect(self.show_sources)
        view.layouts_changed.connect(self.serial.reload_layouts)
        self._stack.addWidget(view)
        return view

    @property
    def _made_views(self) -> tuple[LayoutView, ...]:
        return (self.layout_view,) if "layout_view" in self.__dict__ else ()

    # -- showing -----------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme to every part."""
        super().set_theme(theme)
        for card in (*self._cards, *self._made_views):
            card.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit to the layout's preview."""
        super().set_unit(unit)
        for view in self._made_views:
            view.set_unit(unit)

    def set_known(
        self,
        *,
        logbook: Logbook | None = None,
        recent: Sequence[str] = (),
        layouts: Mapping[str, Mapping[str, object]] | None = None,
        last_source: Mapping[str, object] | None = None,
        machines: Sequence[str] = (),
    ) -> None:
        """Take what is remembered: logbook, files opened lately, layouts by adapter, the last source."""
        self._logbook, self._recent = logbook, tuple(recent)
        self.serial.set_remembered(layouts or {})
        self.serial.set_machines(machines)
        self._again = dict(last_source or {})
        text = again_text(self._again)
        self.again_button.set_texts(f"Begin again: {text}", "the source used last")
        self.again_button.setVisible(bool(text))
        if self.isVisible():
            self._list_recordings()

    def show_failure(self, sentence: str) -> None:
        """Say why a source that was chosen could not be opened, until something else is chosen."""
        self.show_sources()
        self.complaint.say(sentence)
        self._scroll.verticalScrollBar().setValue(0)

    @Slot()
    def show_sources(self) -> None:
        """Go back to the three cards."""
        for view in self._made_views:
            view.end()
        self._stack.setCurrentWidget(self._scroll)

    def focus_first(self) -> None:
        """Put the focus where a new user, or a returning one, goes on with Enter."""
        if self._stack.currentWidget() is not self._scroll:
            return
        (self.again_button if not self.again_button.isHidden() else self.virtual.buttons[0]).setFocus()

    def showEvent(self, event: QShowEvent) -> None:
        """List the recordings anew: there may be more now."""
        super().showEvent(event)
        self._list_recordings()

    def hideEvent(self, event: QHideEvent) -> None:
        """Let go of a port that was only looked at."""
        super().hideEvent(event)
        if not self.isVisibleTo(self.window()):
            self.show_sources()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Set the cards side by side where there is room."""
        super().resizeEvent(event)
        wide = event.size().width() >= self.fontMetrics().averageCharWidth() * _WIDE_CHARS
        self._arrange(3 if wide else 1)

    def _list_recordings(self) -> None:
        logbook, recent = self._logbook, self._recent
        self._listing.start(lambda: recordings_to_offer(logbook, recent))

    # -- what the user wants -----------------------------------------------------------------------------

    @Slot(str, bool)
    def _pick_virtual(self, key: str, scale: bool) -> None:  # noqa: FBT001 - a slot
        self._give(lambda: virtual_choice(key, scale=scale))

    @Slot(object)
    def open_file(self, path: Path) -> None:
        """Open a file for replay, in the background: it may be long."""
        self._open(lambda: replay_choice(path), f"{path.name} is being read …")

    @Slot()
    def _begin_again(self) -> None:
        kept = self._again
        self._open(lambda: choice_again(kept), "The last source is being looked for …")

    @Slot(object)
    def _pick_serial(self, pick: SerialPick) -> None:
        self.complaint.say("")
        self._pick = pick
        if pick.layout is None or pick.check:
            self._stack.setCurrentWidget(self.layout_view)
            self.layout_view.begin(pick.port, pick.layout)
            return
        self._begin_serial(pick, pick.layout)

    @Slot(object)
    def _layout_taken(self, layout: Layout) -> None:
        pick = self._pick
        self.show_sources()
        if pick is not None:
            self._begin_serial(pick, layout)

    def _begin_serial(self, pick: SerialPick, layout: Layout) -> None:
        if pick.port.identity is not None:
            self.layout_confirmed.emit(str(pick.port.identity), layout)
        self._give(
            lambda: serial_choice(
                pick.port,
                layout,
                machine=pick.machine,
                scale_port=pick.scale_port,
                scale_layout=pick.scale_layout,
            )
        )

    def _give(self, make: Callable[[], SourceChoice]) -> None:
        """Make a choice that needs no waiting, and tell it."""
        self.complaint.say("")
        try:
            choice = make()
        except BenchtempError as error:
            self.complaint.say(str(error))
            return
        self.chosen.emit(choice)

    def _open(self, make: Callable[[], SourceChoice], note: str) -> None:
        """Make a choice in the background, and tell it when it is there."""
        self.complaint.say("")
        self.busy_note.setText(note)
        self.busy_note.setVisible(True)
        self._opening.start(make)

    @Slot(object)
    def _opened(self, choice: SourceChoice) -> None:
        self.busy_note.setVisible(False)
        self.chosen.emit(choice)

    @Slot(str)
    def _refused(self, sentence: str) -> None:
        self.busy_note.setVisible(False)
        self.complaint.say(sentence)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Esc leaves the layout, or else the picker."""
        if event.key() != Qt.Key.Key_Escape:
            event.ignore()
        elif self._stack.currentWidget() is not self._scroll:
            self.show_sources()
        else:
            self.cancelled.emit()

    # -- dropping a file ---------------------------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files of this computer."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Replay the first file dropped."""
        files = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if files:
            event.acceptProposedAction()
            self.open_file(files[0])

    def end(self) -> None:
        """Let go of ports and threads, for good."""
        for view in self._made_views:
            view.end()
        self.serial.end()
        self._opening.join()
        self._listing.join()
