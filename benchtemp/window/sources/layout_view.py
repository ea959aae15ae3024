"""The guess, looked at: raw lines beside what a layout makes of them, everything open to change."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.errors import BenchtempError
from benchtemp.probes.type_k import measured_degc
from benchtemp.readings.layout import Channel, Layout
from benchtemp.readings.opening import open_source
from benchtemp.readings.parser import LineParser, compile_parser
from benchtemp.readings.reading import NoticeKind
from benchtemp.readings.scale import compile_scale_parser
from benchtemp.readings.serial_source import RawLine
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, quiet
from benchtemp.window.sources.background import Background
from benchtemp.window.sources.layout_form import LayoutForm
from benchtemp.window.sources.lines_table import ROWS, LinesTable
from benchtemp.window.sources.lines_tap import LinesTap
from benchtemp.window.sources.own_layouts import keep_own_layout
from benchtemp.window.sources.port_guess import Listening, PortGuess

if TYPE_CHECKING:
    from benchtemp.readings.ports import PortInfo
    from benchtemp.readings.source import Source
    from benchtemp.units import TempUnit
    from benchtemp.window.theme import Theme

_REFRESH_MS = 150
_BY_HAND = Layout(name="by hand", channels=(Channel(field=1),))
"""Where nothing could be guessed, the user begins with this."""


class LayoutView(Panel):
    """Listens to a port, guesses its layout or takes one, and lets the user confirm or change it.

    Listening and guessing happen in threads; this only looks at what they found.

    Signals:
        confirmed: The `Layout` to read with; the port is free by then.
        left: Back without one.
        layouts_changed: A layout was kept among the user's own.
    """

    confirmed = Signal(object)
    left = Signal()
    layouts_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.setAccessibleName("Layout of an interface")
        self._port: PortInfo | None = None
        self._tap: LinesTap | None = None
        self._parse: LineParser | None = None
        self._listening: Listening | None = None
        self._heard: tuple[RawLine, ...] = ()
        self._guessing = Background(self, name="guess")
        self._guessing.done.connect(self._take_guess)
        self._guessing.failed.connect(self._guess_failed)
        self._timer = QTimer(self)
        self._timer.setInterval(_REFRESH_MS)
        self._timer.timeout.connect(self.look)
        self._build()
        self._lay_out()

    # -- building ----------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.title = QLabel()
        self.progress = quiet(wrap=True)
        self.status = Sentence(look="caution", name="Port")
        self.table = LinesTable()
        self.form = LayoutForm()
        self.form.edited.connect(self._take_edit)
        self.said = Sentence(look="good", name="Layout")
        self.connect_button = button("Connect with this layout", look="primary")
        self.save_button = button("Keep as own layout", tip="For other interfaces of the same kind")
        self.again_button = button("Guess again")
        self.back_button = button("Back", tip="Esc")
        self.connect_button.clicked.connect(self._confirm)
        self.save_button.clicked.connect(self._save)
        self.again_button.clicked.connect(self.guess)
        self.back_button.clicked.connect(self._leave)

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(6)
        left.addWidget(self.title)
        left.addWidget(self.progress)
        left.addWidget(self.status)
        left.addWidget(self.table, 1)
        left.addWidget(self.said)
        row = QHBoxLayout()
        row.setSpacing(6)
        for widget in (self.connect_button, self.save_button, self.again_button):
            row.addWidget(widget)
        row.addStretch(1)
        row.addWidget(self.back_button)
        left.addLayout(row)
        holder = QFrame()
        holder.setProperty("look", "surface")
        inside = QVBoxLayout(holder)
        inside.setContentsMargins(12, 10, 12, 10)
        inside.addWidget(self.form)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(holder)
        bar_px = self._scroll.verticalScrollBar().sizeHint().width()
        self._scroll.setMinimumWidth(holder.minimumSizeHint().width() + bar_px)
        body = QHBoxLayout(self)
        body.setContentsMargins(12, 8, 12, 10)
        body.setSpacing(10)
        body.addLayout(left, 3)
        body.addWidget(self._scroll, 2)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours and fonts."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.25, bold=True))
        self.table.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Take another unit to show temperatures in."""
        super().set_unit(unit)
        self.table.set_unit(unit)

    # -- listening ---------------------------------------------------------------------------------------

    def begin(self, port: PortInfo, layout: Layout | None) -> None:
        """Listen to a port: with a layout to look at, or to guess one."""
        self.end()
        self._port = port
        self._tap = LinesTap(partial(_open_port, port.device))
        self.title.setText(f"Lines from {port.name}")
        self.said.say("")
        self.status.say("")
        self._heard = ()
        self.table.show_lines((), (), ("T1",), weight=False)
        self._timer.start()
        if layout is None:
            self.form.show_layout(_BY_HAND)
            self._take_layout(_BY_HAND, listen=False)
            self.guess()
        else:
            self.progress.setText("Does the right side of each line say what the left side means?")
            self.form.show_layout(layout)
            self._take_layout(layout)
        self.connect_button.setFocus()

    @Slot()
    def guess(self) -> None:
        """Read a few seconds of lines in the background and propose a layout."""
        if self._port is None or self._tap is None:
            return
        self._tap.stop()
        self.status.say("")
        self.said.say("")
        self.progress.setText("Listening for a few seconds to find out how its lines read …")
        self._show_busy(busy=True)
        self._listening = Listening(self._port.device)
        self._guessing.start(self._listening.guess)

    @Slot(object)
    def _take_guess(self, found: PortGuess) -> None:
        self._show_busy(busy=False)
        self._heard = tuple(RawLine(0.0, line) for line in found.lines)
        if found.guess is None:
            self._go_on_by_hand(found.complaint, msgspec.structs.replace(_BY_HAND, wire=found.wire))
            return
        guess = found.guess
        self.progress.setText(f"Guessed, {guess.sureness}: {' '.join(guess.remarks)}")
        self.form.show_layout(guess.layout)
        self._take_layout(guess.layout)
        self.connect_button.setFocus()

    @Slot(str)
    def _guess_failed(self, sentence: str) -> None:
        self._show_busy(busy=False)
        self._heard = ()
        self._go_on_by_hand(sentence, self.form.layout_now or _BY_HAND)

    def _go_on_by_hand(self, sentence: str, layout: Layout) -> None:
        self.progress.setText("No layout could be guessed. What the port sends is shown; set it by hand.")
        self.status.say(sentence, "bad")
        self.form.show_layout(layout)
        self._take_layout(layout)
        self.form.form_choice.setFocus()

    def _show_busy(self, *, busy: bool) -> None:
        self.form.setEnabled(not busy)
        for widget in (self.connect_button, self.save_button, self.again_button):
            widget.setEnabled(not busy)

    @Slot(object)
    def _take_edit(self, layout: Layout) -> None:
        self.said.say("")
        self._take_layout(layout)

    def _take_layout(self, layout: Layout, *, listen: bool = True) -> None:
        try:
            self._parse = _parser(layout)
        except BenchtempError as error:
            self._parse = None
            self.form.complaint.say(str(error))
        if listen and self._tap is not None:
            self._tap.start(layout)
        self.look()

    @Slot()
    def look(self) -> None:
        """Show the lines that have come, as the layout on the screen reads them."""
        tap, layout = self._tap, self.form.layout_now
        if tap is None or self._guessing.busy:
            return
        usable = layout is not None and layout.kind != "scale"
        self.connect_button.setEnabled(usable)
        self.save_button.setEnabled(layout is not None)
        lines = (tap.lines() or self._heard)[-ROWS:]
        parse = self._parse if layout is not None else None
        read = [None if parse is None else parse(line.raw) for line in lines]
        channels = () if layout is None else layout.channel_names
        weight = layout is not None and (layout.weight is not None or layout.kind == "scale")
        self.table.show_lines(lines, read, channels, weight=weight)
        if layout is not None and not usable:
            self.status.say("This is a scale; go back and choose it there, beside an interface.", "caution")
            return
        reads = any(values is not None for values in read)
        notice = tap.notice
        if notice is not None and (notice.kind is NoticeKind.LOST or not reads):
            self.status.say(notice.text, "caution")
        elif reads:
            self.status.say("")

    # -- what the user does ------------------------------------------------------------------------------

    @Slot()
    def _confirm(self) -> None:
        self.form.take_now()
        layout = self.form.layout_now
        if layout is not None:
            self.end()
            self.confirmed.emit(layout)

    @Slot()
    def _save(self) -> None:
        self.form.take_now()
        layout = self.form.layout_now
        if layout is None:
            return
        try:
            path = keep_own_layout(layout)
        except BenchtempError as error:
            self.said.say(str(error), "bad")
            return
        self.said.say(f"Kept as {path}.", "good")
        self.layouts_changed.emit()

    @Slot()
    def _leave(self) -> None:
        self.end()
        self.left.emit()

    def end(self) -> None:
        """Let go of the port; it is free for another reader when this returns."""
        self._timer.stop()
        if self._listening is not None:
            self._listening.stop()
            self._guessing.join(2.0)
            self._listening = None
        if self._tap is not None:
            self._tap.stop()
            self._tap = None


def _open_port(device: str, layout: Layout) -> Source:
    return open_source(device, layout, emf_to_degc=measured_degc)


def _parser(layout: Layout) -> LineParser | None:
    if layout.kind == "modbus":
        return None
    return compile_scale_parser(layout) if layout.kind == "scale" else compile_parser(layout, measured_degc)
