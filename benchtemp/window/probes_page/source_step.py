"""The step that chooses where readings come from, and which probe is on which channel."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BenchtempError
from benchtemp.readings.virtual.pot import Bath
from benchtemp.units import temp_text
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.bath_source import BathSource, last_degc, virtual_bath, virtual_plunge
from benchtemp.window.probes_page.caution_step import Method
from benchtemp.window.probes_page.channel_rows import ChannelRows
from benchtemp.window.probes_page.port_ways import PortWays
from benchtemp.window.sources.choices import serial_choice
from benchtemp.window.sources.offer_button import OfferButton

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.readings.layout import Layout
    from benchtemp.units import TempUnit
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.sources.serial_card import SerialPick
    from benchtemp.window.theme import Theme

_SEEDS = 1_000_000


class SourceStep(Panel):
    """Opens a source, shows what its channels give, and asks which probe is on each.

    Signals:
        went_on: The probes by channel index (a dict of int to name).
        left: Back to the step before.
        layout_confirmed: An adapter's identity as text, and the `Layout` confirmed for it.
        room_asked: Whether the whole width of the page is wanted: a layout beside raw lines is wide.
    """

    went_on = Signal(object)
    left = Signal()
    layout_confirmed = Signal(str, object)
    room_asked = Signal(bool)

    def __init__(self, source: BathSource, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._source = source
        self._method = Method.BOIL
        self._probe = ""
        self._probes: tuple[str, ...] = ()
        self._channels: tuple[str, ...] = ()
        self._known: Mapping[str, str] = {}
        self._fixed: dict[int, str] | None = None
        self._build()
        self._lay_out()
        source.looked.connect(self.show_picture)
        source.failed.connect(self._fail)
        source.replaced.connect(self._list_channels)

    def _build(self) -> None:
        self.current_button = OfferButton("The source that is open", "")
        self.current_button.clicked.connect(self._use_current)
        self.virtual_button = OfferButton("", "To practise on, with nothing plugged in")
        self.virtual_button.clicked.connect(self._use_virtual)
        self.serial_button = OfferButton("A serial interface", "Opened for this check alone")
        self.serial_button.clicked.connect(self._open_serial)
        self.status = Sentence(name="Source")
        self.channels_heading = heading("Which probe is on which channel?")
        self.rows = ChannelRows()
        self.complaint = Sentence(look="bad", name="Channels")
        self.go_on_button = button("Go on", look="primary")
        self.go_on_button.clicked.connect(self._go_on)
        self.back_button = button("Back", tip="Esc")
        self.back_button.clicked.connect(self._back)

    def _lay_out(self) -> None:
        offers = QHBoxLayout()
        offers.setSpacing(8)
        for offer in (self.current_button, self.virtual_button, self.serial_button):
            policy = offer.sizePolicy()
            policy.setVerticalPolicy(QSizePolicy.Policy.Preferred)  # all as high as the highest
            offer.setSizePolicy(policy)
            offers.addWidget(offer, 1)
        inner = QWidget()
        body = QVBoxLayout(inner)
        body.setContentsMargins(0, 0, 6, 0)
        body.setSpacing(8)
        body.addLayout(offers)
        body.addWidget(self.status)
        body.addSpacing(6)
        body.addWidget(self.channels_heading)
        body.addWidget(self.rows)
        self.note = quiet(wrap=True)
        body.addWidget(self.note)
        body.addWidget(self.complaint)
        body.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(inner)
        self.ports = PortWays(scroll, self.theme, self.unit, self._remembered)
        self.ports.picked.connect(self._begin_serial)
        self.ports.wide.connect(self._show_room)
        row = QHBoxLayout()
        row.addWidget(self.back_button)
        row.addStretch(1)
        row.addWidget(self.go_on_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self.ports, 1)
        column.addLayout(row)

    @Slot(bool)
    def _show_room(self, wide: bool) -> None:  # noqa: FBT001 - a Qt slot
        self.go_on_button.setVisible(self.ports.at_home)  # the ports have one of their own to go on with
        self.back_button.setHidden(wide)  # so has a layout to go back
        self.room_asked.emit(wide)

    practice_bath: Callable[[Method], SourceChoice | None] | None = None
    """Gives another virtual bath than the usual one, where somebody has one (or None for this method)."""

    remembered_layouts: Callable[[], Mapping[str, Mapping[str, object]]] = staticmethod(dict)
    """Gives the layouts confirmed earlier, by adapter; set by whoever knows the preferences."""

    def _remembered(self) -> Mapping[str, Mapping[str, object]]:
        return self.remembered_layouts()  # looked up late: it is set after this step was made

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.ports.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        self.ports.set_unit(unit)

    # -- showing -------------------------------------------------------------------------------------------

    def begin(
        self,
        method: Method,
        probe: str,
        probes: tuple[str, ...],
        known: Mapping[str, str],
        *,
        fixed: dict[int, str] | None = None,
    ) -> None:
        """Get ready.

        Args:
            method: How it is checked.
            probe: The probe it is about.
            probes: Names of all probes there are.
            known: Which probe the open source has on which channel, by channel.
            fixed: Probes by channel index where a further bath of the same check begins.
        """
        self._fixed = fixed
        self._method, self._probe, self._known = method, probe, known
        self._probes = probes if probe in probes else (probe, *probes)
        self.ports.go_home()
        titles = {
            Method.ICE: "The virtual ice bath",
            Method.PLUNGE: "The virtual pot, plunged into",
        }
        self.virtual_button.set_texts(
            titles.get(method, "The virtual pot"), "To practise on, with nothing plugged in"
        )
        self.complaint.say("")
        self.channels_heading.setText(
            "Which probe is on which channel?"
            if method is not Method.PLUNGE
            else "On which channel is the probe?"
        )
        self.note.setText(
            ""
            if method is Method.PLUNGE
            else "Several probes may hang in the same bath: each is held against the reference and against "
            "their mean."
        )
        self._show_current_offer()
        if self._source.choice is None and not self._source.is_replay and self._source.current is not None:
            self._source.use_current()
        self._list_channels(anew=True)
        first = self.current_button if self.current_button.isEnabled() else self.virtual_button
        (self.go_on_button if self.go_on_button.isEnabled() else first).setFocus()

    def _show_current_offer(self) -> None:
        choice = self._source.current_choice
        if choice is None:
            self.current_button.set_texts(
                "No source is open", "Open one on the Bench page, or choose another"
            )
        elif not choice.keep:
            self.current_button.set_texts(choice.source.name, "A replay: its readings are not of today")
        else:
            self.current_button.set_texts(choice.source.name, "The source that is open on the Bench page")
        self.current_button.setEnabled(choice is not None and choice.keep)

    @Slot()
    def _list_channels(self, *, anew: bool = False) -> None:
        snapshot = None if self._source.is_replay else self._source.snapshot
        channels = () if snapshot is None else snapshot.channels
        self._show_current_offer()
        self._show_status(snapshot)
        if channels == self._channels and not anew:
            return
        self._channels = channels
        names = (self._probe,) if self._method is Method.PLUNGE else self._probes
        self.rows.show_channels(channels, names, self._propose(channels), fixed=self._fixed is not None)
        for widget in (self.channels_heading, self.note):
            widget.setVisible(bool(channels))
        self.go_on_button.setEnabled(bool(channels))

    def _propose(self, channels: tuple[str, ...]) -> dict[int, str]:
        """Return the probe under check on the channel it is known to be on, else on the first one."""
        if self._fixed is not None:
            return self._fixed
        known = {} if self._source.is_own else self._known
        for index, channel in enumerate(channels):
            if known.get(channel) == self._probe:
                return {index: self._probe}
        return {0: self._probe} if channels else {}

    def _show_status(self, snapshot: Snapshot | None) -> None:
        choice = self._source.choice
        if self._source.is_replay:
            choice = None
        if choice is None:
            self.status.say("Choose where readings come from.", "")
        elif snapshot is None:
            self.status.say(f"{choice.source.name} is being opened …", "quiet")
        elif snapshot.last_s is None:
            self.status.say(f"{choice.source.name} is open; waiting for its first reading.", "quiet")
        else:
            self.status.say(f"✓ Readings come from {choice.source.name}.", "good")

    @Slot(object)
    def show_picture(self, snapshot: Snapshot) -> None:
        """Show what the channels give now."""
        if not self.isVisible():
            return
        if snapshot.channels != self._channels:
            self._list_channels()
        self._show_status(snapshot)
        count = len(self._channels)
        self.rows.show_values([temp_text(last_degc(snapshot, index), self.unit) for index in range(count)])

    @Slot(str)
    def _fail(self, sentence: str) -> None:
        self.complaint.say(sentence)
        self._source.end()
        self._list_channels()

    # -- what the user wants -------------------------------------------------------------------------------

    @Slot()
    def _use_current(self) -> None:
        self.complaint.say("")
        self._source.use_current()
        self._list_channels(anew=True)
        self.go_on_button.setFocus()

    @Slot()
    def _use_virtual(self) -> None:
        made = None if self.practice_bath is None else self.practice_bath(self._method)
        self._begin(virtual_choice(self._method) if made is None else made)

    def begin_virtual(self) -> None:
        """Open the virtual bath of the method anew."""
        self._use_virtual()

    @Slot()
    def _open_serial(self) -> None:
        self.ports.show_ports()
        self.ports.serial.list.setFocus()

    @Slot(object, object)
    def _begin_serial(self, pick: SerialPick, layout: Layout) -> None:
        if pick.port.identity is not None:
            self.layout_confirmed.emit(str(pick.port.identity), layout)
        try:
            self._begin(serial_choice(pick.port, layout))
        except BenchtempError as error:
            self.complaint.say(str(error))

    def _begin(self, choice: SourceChoice) -> None:
        self.complaint.say("")
        self._channels = ()
        self._source.begin(choice)
        self._list_channels(anew=True)
        self.status.setFocus()
        self.go_on_button.setFocus()

    @Slot()
    def _go_on(self) -> None:
        probes = self.rows.assigned()
        names = list(probes.values())
        if not probes:
            self.complaint.say("No channel has a probe to check; choose one.")
        elif len({name.casefold() for name in names}) < len(names):
            self.complaint.say("Two channels have the same probe; choose each probe once.")
        elif self._method is Method.TOGETHER and len(probes) < 2:
            self.complaint.say(
                "Holding probes against each other takes at least two; choose another channel's probe too."
            )
        elif self._fixed is not None and probes != self._fixed:
            self.complaint.say("This source has not all the channels of the first bath; choose another one.")
        elif self._method is Method.PLUNGE and len(probes) > 1:
            self.complaint.say("A plunge is read from one channel; choose one.")
        else:
            self.complaint.say("")
            self.went_on.emit(probes)

    @Slot()
    def _back(self) -> None:
        self.go_back()

    def go_back(self) -> None:
        """Go back from the ports to the sources, or from the sources to the step before."""
        if self.ports.at_home:
            self.left.emit()
        else:
            self.ports.go_home()

    def end(self) -> None:
        """Let go of ports and threads, for good."""
        self.ports.end()


def virtual_choice(method: Method) -> SourceChoice:
    """Return a virtual bath for a method; each is another one, its seed stands with the readings."""
    seed = random.randrange(_SEEDS)  # noqa: S311 - no secret depends on it
    if method is Method.PLUNGE:
        return virtual_plunge(seed)
    return virtual_bath(Bath.ICE if method is Method.ICE else Bath.POT, seed)
