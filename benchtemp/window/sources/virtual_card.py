"""The virtual machines: the start for whoever has nothing plugged in."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.readings.virtual import virtual_machines
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import heading, quiet
from benchtemp.window.sources.offer_button import OfferButton


class VirtualCard(Panel):
    """Offers every virtual machine; one press starts it.

    Signals:
        picked: Short name of a machine, and whether a scale stands under the cup.
        unknown_asked: A machine to diagnose is wanted.
    """

    picked = Signal(str, bool)
    unknown_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Virtual machines")
        self.buttons: list[OfferButton] = []
        self.scale_choice = Choice(
            "Scale of the virtual machine", ((True, "under the cup"), (False, "none: yields are typed"))
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 12, 14, 12)
        column.setSpacing(6)
        column.addWidget(heading("Nothing plugged in? Start here"))
        column.addWidget(
            quiet("A virtual machine behaves like a real one. Press Space to run its pump.", wrap=True)
        )
        for key, machine in virtual_machines().items():
            offer = OfferButton(machine.name, machine.kind)
            offer.setProperty("machine", key)
            offer.clicked.connect(self._pick)
            self.buttons.append(offer)
            column.addWidget(offer)
        self.unknown_button = OfferButton(
            "Unknown machine…", "Something may be wrong with it; find out what, on the Practice page"
        )
        self.unknown_button.clicked.connect(self.unknown_asked)
        column.addWidget(self.unknown_button)
        scale = QHBoxLayout()
        scale.setSpacing(8)
        scale.addWidget(QLabel("Scale"))
        scale.addWidget(self.scale_choice, 1)
        column.addLayout(scale)
        column.addStretch(1)

    @Slot()
    def _pick(self) -> None:
        sender = self.sender()
        assert sender is not None
        self.picked.emit(str(sender.property("machine")), bool(self.scale_choice.currentData()))
