"""Serial interfaces: which port, how its lines read, and a scale on another port."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import QStringListModel, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import (
    QCompleter,
    QFileDialog,
    QHBoxLayout,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BadInput
from benchtemp.readings.layout import Layout, load_layout, shipped_layouts
from benchtemp.readings.ports import PortInfo, list_ports
from benchtemp.window.fields import TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labelled_form import LabelledForm
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.sources.background import Background
from benchtemp.window.sources.own_layouts import own_layouts
from benchtemp.window.sources.two_lines import TwoLineList

if TYPE_CHECKING:
    from PySide6.QtGui import QHideEvent, QShowEvent

    from benchtemp.window.theme import Theme

_POLL_MS = 1500
_PORT = Qt.ItemDataRole.UserRole


class Way(Enum):
    """Where a layout comes from."""

    REMEMBERED = auto()
    GUESS = auto()
    SHIPPED = auto()
    OWN = auto()
    FILE = auto()


@dataclass(frozen=True)
class SerialPick:
    """What was picked: a layout of None is to be guessed from what the port says.

    Attributes:
        check: The layout is to be looked at beside the raw lines before anything begins.
    """

    port: PortInfo
    layout: Layout | None
    machine: str = ""
    scale_port: PortInfo | None = None
    scale_layout: Layout | None = None
    check: bool = False


class SerialCard(Panel):
    """Offers the ports there are and the layouts known; looks for new ports by itself while it is seen.

    Signals:
        picked: A `SerialPick`.
    """

    picked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Serial interface")
        self._ports: tuple[PortInfo, ...] | None = None
        self._remembered: dict[str, Layout] = {}
        self._from_file: Layout | None = None
        self._asks_for_scale = True
        self._build()
        self._lay_out()
        self._looking = Background(self, name="port list")
        self._looking.done.connect(self._take_ports)
        self._looking.failed.connect(self.complaint.say)
        self._timer = QTimer(self)
        self._timer.setInterval(_POLL_MS)
        self._timer.timeout.connect(self.look_for_ports)
        self.reload_layouts()
        self.show_ports(())

    # -- building ----------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.list = TwoLineList("Ports")
        self.list.setMinimumHeight(84)
        self.list.currentItemChanged.connect(self._show_for_port)
        self.list.itemActivated.connect(self._connect_now)
        self.none_note = quiet(
            "No serial port is there. Plug the interface in; it appears here by itself.", wrap=True
        )
        self.layout_choice = Choice("How its lines read")
        self.layout_choice.activated.connect(self._layout_chosen)
        self.layout_note = quiet(wrap=True)
        self.scale_port_choice = Choice("Port of a scale")
        self.scale_port_choice.activated.connect(self._show_scale_layout)
        self.scale_layout_choice = Choice("How the scale's lines read")
        self.machine_field = TextField(name="Machine under test", hint="its name, if you like")
        self._machines = QStringListModel(self)
        completer = QCompleter(self._machines, self.machine_field)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        self.machine_field.setCompleter(completer)
        self.connect_button = button("Connect", look="primary")
        self.connect_button.clicked.connect(self._connect_now)
        self.check_button = button("Look at its lines", tip="See what the port sends, and how it is read")
        self.check_button.clicked.connect(self._check_first)
        self.complaint = Sentence(look="bad", name="Serial interface")

    def _lay_out(self) -> None:
        form = LabelledForm(gap_px=5)
        form.add_field("Layout", self.layout_choice)
        form.addRow(self.layout_note)
        form.add_field("Scale", self.scale_port_choice)
        form.add_field("Its layout", self.scale_layout_choice)
        form.add_field("Machine", self.machine_field)
        self._form = form
        row = QHBoxLayout()
        row.setSpacing(6)
        row.addWidget(self.connect_button)
        row.addWidget(self.check_button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 12, 14, 12)
        column.setSpacing(6)
        column.addWidget(heading("Thermocouple interface"))
        column.addWidget(quiet("Any that prints its readings on a serial port.", wrap=True))
        column.addWidget(self.list, 1)
        column.addWidget(self.none_note)
        column.addLayout(form)
        column.addLayout(row)
        column.addWidget(self.complaint)

    def show_interface_alone(self) -> None:
        """Ask for neither scale nor machine: where a probe is checked there is none."""
        self._asks_for_scale = False
        for field in (self.scale_port_choice, self.scale_layout_choice, self.machine_field):
            self._form.setRowVisible(field, False)  # noqa: FBT003 - Qt's own signature

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        super().set_theme(theme)
        self.list.set_theme(theme)

    # -- ports -------------------------------------------------------------------------------------------

    def showEvent(self, event: QShowEvent) -> None:
        """Begin to look for ports."""
        super().showEvent(event)
        self.look_for_ports()
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Stop looking."""
        super().hideEvent(event)
        self._timer.stop()

    @Slot()
    def look_for_ports(self) -> None:
        """Ask the system which ports there are, in the background: it can take its time."""
        if not self._looking.busy:
            self._looking.start(list_ports)

    @Slot(object)
    def _take_ports(self, ports: tuple[PortInfo, ...]) -> None:
        if ports != self._ports:
            self.show_ports(ports)

    def show_ports(self, ports: Sequence[PortInfo]) -> None:
        """Show these ports; what was chosen stays chosen while it is there."""
        chosen, scale = self.chosen_port, self._chosen_scale_port()
        self._ports = tuple(ports)
        self.list.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        self.list.clear()
        for port in self._ports:
            item = self.list.add(port.name, self._port_detail(port), port.device)
            item.setData(_PORT, port)
            if chosen is not None and port == chosen:
                self.list.setCurrentItem(item)
        if self.list.currentItem() is None and self._ports:
            self.list.setCurrentRow(0)
        self.list.blockSignals(False)  # noqa: FBT003
        self.list.setVisible(bool(self._ports))
        self.none_note.setVisible(not self._ports)
        self._fill_scale_ports(scale)
        self._show_for_port()

    def _port_detail(self, port: PortInfo) -> str:
        remembered = self._remembered.get(str(port.identity)) if port.identity is not None else None
        return f"{port.device}, read before" if remembered is not None else port.device

    @property
    def chosen_port(self) -> PortInfo | None:
        """Return the port chosen in the list."""
        item = self.list.currentItem()
        port: PortInfo | None = None if item is None else item.data(_PORT)
        return port

    def _fill_scale_ports(self, scale: PortInfo | None) -> None:
        self.scale_port_choice.clear()
        self.scale_port_choice.addItem("none: yields are typed", None)
        for port in self._ports or ():
            self.scale_port_choice.addItem(port.name, port)
            if scale is not None and port == scale:
                self.scale_port_choice.setCurrentIndex(self.scale_port_choice.count() - 1)
        self._show_scale_layout()

    def _chosen_scale_port(self) -> PortInfo | None:
        found: PortInfo | None = self.scale_port_choice.currentData()
        return found

    # -- layouts -----------------------------------------------------------------------------------------

    def set_remembered(self, layouts: Mapping[str, Mapping[str, object]]) -> None:
        """Take the layouts confirmed earlier, as plain values by the adapter's identity."""
        self._remembered = {}
        for identity, plain in layouts.items():
            try:
                self._remembered[identity] = msgspec.convert(dict(plain), Layout)
            except (msgspec.ValidationError, BadInput):
                continue  # confirmed with another version; it is guessed anew
        self.show_ports(self._ports or ())

    def set_machines(self, names: Sequence[str]) -> None:
        """Offer names of machines used earlier for completion."""
        self._machines.setStringList(list(names))

    @Slot()
    def reload_layouts(self) -> None:
        """Read the shipped and the user's own layouts again."""
        try:
            shipped = tuple(shipped_layouts().values())
        except BadInput as error:
            shipped = ()
            self.complaint.say(str(error))
        own, complaint = own_layouts()
        if complaint:
            self.complaint.say(complaint)
        self._shipped: tuple[Layout, ...] = shipped
        self._own = own
        self._fill_layouts()
        self.scale_layout_choice.clear()
        scales = [layout for layout in (*own, *shipped) if layout.kind == "scale"]
        for layout in sorted(scales, key=lambda scale: bool(scale.request)):  # most speak by themselves
            self.scale_layout_choice.addItem(layout.name, layout)

    def _fill_layouts(self) -> None:
        port = self.chosen_port
        remembered = None
        if port is not None and port.identity is not None:
            remembered = self._remembered.get(str(port.identity))
        choice = self.layout_choice
        choice.clear()
        if remembered is not None:
            choice.addItem(f"as last time: {remembered.name}", (Way.REMEMBERED, remembered))
        choice.addItem("guess from what it sends", (Way.GUESS, None))
        if self._from_file is not None:
            choice.addItem(self._from_file.name, (Way.OWN, self._from_file))
        for way, layouts in ((Way.OWN, self._own), (Way.SHIPPED, self._shipped)):
            fitting = [layout for layout in layouts if layout.kind != "scale"]
            if fitting:
                choice.insertSeparator(choice.count())
            for layout in fitting:
                choice.addItem(layout.name, (way, layout))
                choice.setItemData(choice.count() - 1, layout.description, Qt.ItemDataRole.ToolTipRole)
        choice.insertSeparator(choice.count())
        choice.addItem("open a layout file…", (Way.FILE, None))
        self._show_layout_note()

    @property
    def chosen_layout(self) -> Layout | None:
        """Return the layout chosen; None where it is to be guessed."""
        data = self.layout_choice.currentData()
        return None if data is None else data[1]

    @Slot()
    def _layout_chosen(self) -> None:
        data = self.layout_choice.currentData()
        if data is not None and data[0] is Way.FILE:
            self._choose_layout_file()
        self._show_layout_note()

    def _choose_layout_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Open a layout", "", "Layouts (*.toml);;All files (*)")
        if name:
            self.take_layout_file(Path(name))
        else:
            self.layout_choice.setCurrentIndex(0)

    def take_layout_file(self, path: Path) -> None:
        """Read a layout file and choose it."""
        try:
            self._from_file = load_layout(path)
        except BadInput as error:
            self.complaint.say(str(error))
            self.layout_choice.setCurrentIndex(0)
            return
        self.complaint.say("")
        self._fill_layouts()
        self.layout_choice.setCurrentText(self._from_file.name)
        self._show_layout_note()

    def _show_layout_note(self) -> None:
        layout = self.chosen_layout
        self.layout_note.setText("" if layout is None else layout.description)
        self.layout_note.setVisible(bool(self.layout_note.text()))
        # Without a layout the lines are looked at first, whatever is pressed: one button says so.
        self.connect_button.setText("Look at its lines" if layout is None else "Connect")
        self.connect_button.setToolTip(self.check_button.toolTip() if layout is None else "")
        self.check_button.setVisible(layout is not None)
        sends_lines = layout is None or layout.kind == "lines"
        self.check_button.setEnabled(self.chosen_port is not None and sends_lines)

    @Slot()
    def _show_for_port(self) -> None:
        self._fill_layouts()
        self.connect_button.setEnabled(self.chosen_port is not None)

    @Slot()
    def _show_scale_layout(self) -> None:
        wanted = self._asks_for_scale and self._chosen_scale_port() is not None
        self._form.setRowVisible(self.scale_layout_choice, wanted)

    # -- what the user wants -----------------------------------------------------------------------------

    @Slot()
    def _connect_now(self) -> None:
        self._pick(check=False)

    @Slot()
    def _check_first(self) -> None:
        self._pick(check=True)

    def _pick(self, *, check: bool) -> None:
        port = self.chosen_port
        if port is None:
            return
        scale_port = self._chosen_scale_port()
        scale_layout: Layout | None = self.scale_layout_choice.currentData() if scale_port else None
        if scale_port is not None and scale_port.device == port.device:
            self.complaint.say(
                "Interface and scale cannot be on the same port; choose another for one of them."
            )
            return
        self.complaint.say("")
        machine = " ".join(self.machine_field.text().split())
        self.picked.emit(SerialPick(port, self.chosen_layout, machine, scale_port, scale_layout, check))

    def end(self) -> None:
        """Look for nothing any more, for good."""
        self._timer.stop()
        self._looking.join()
