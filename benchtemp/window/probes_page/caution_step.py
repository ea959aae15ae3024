"""The first step of a check or a plunge: how it is to be done, and the cautions before anything else."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.probes.guide import guide
from benchtemp.probes.plunge import HOW_TO as PLUNGE_HOW_TO
from benchtemp.probes.reference import ReferenceKind
from benchtemp.probes.response import CAUTIONS as PLUNGE_CAUTIONS
from benchtemp.window.panel import Panel
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import button, heading

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme

LOCAL_RULES = (
    "Rules of the place go before these: those of your workplace, of the makers of stove and interface, and "
    "those for mains near water."
)


class Method(StrEnum):
    """How a probe is checked."""

    BOIL = "In boiling water"
    ICE = "In an ice bath"
    THERMOMETER = "Beside a reference thermometer"
    TOGETHER = "Against each other alone, in one bath"
    PLUNGE = "By a plunge into hot water"

    @property
    def kind(self) -> ReferenceKind | None:
        """Return what gives the known temperature, None where nothing does."""
        return {
            Method.BOIL: ReferenceKind.BOILING,
            Method.ICE: ReferenceKind.ICE,
            Method.THERMOMETER: ReferenceKind.THERMOMETER,
        }.get(self)


CHECKS = (Method.BOIL, Method.ICE, Method.THERMOMETER, Method.TOGETHER)


def cautions_of(method: Method) -> tuple[str, ...]:
    """Return what to beware of, local rules last."""
    own = PLUNGE_CAUTIONS if method is Method.PLUNGE else guide(method.kind).cautions
    return (*own, LOCAL_RULES)


def steps_of(method: Method) -> tuple[str, ...]:
    """Return how to go about it."""
    return PLUNGE_HOW_TO if method is Method.PLUNGE else guide(method.kind).steps


class CautionStep(Panel):
    """Asks how, cautions, and says what to do.

    Signals:
        went_on: Carries the `Method`.
        left: Back, without a check.
    """

    went_on = Signal(object)
    left = Signal()

    def __init__(self, methods: tuple[Method, ...] = CHECKS, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.method_choice = Choice("How", ((method, str(method)) for method in methods), least_chars=26)
        self.method_choice.currentIndexChanged.connect(self._show)
        self.cautions = QLabel()
        self.steps = QLabel()
        for label in (self.cautions, self.steps):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
        self._word = heading("Caution")
        self.go_on_button = button("Understood, go on", look="primary")
        self.go_on_button.clicked.connect(self._go_on)
        self.back_button = button("Back", tip="Esc")
        self.back_button.clicked.connect(self.left)
        self._lay_out(one_way=len(methods) == 1)
        self._show()

    def _lay_out(self, *, one_way: bool) -> None:
        how = QHBoxLayout()
        how.setSpacing(8)
        label = QLabel("How")
        label.setBuddy(self.method_choice)
        how.addWidget(label)
        how.addWidget(self.method_choice)
        how.addStretch(1)
        if one_way:
            label.hide()
            self.method_choice.hide()
        ground = QFrame()
        ground.setProperty("look", "note-caution")
        inside = QVBoxLayout(ground)
        inside.setContentsMargins(14, 10, 14, 12)
        inside.setSpacing(4)
        inside.addWidget(self._word)
        inside.addWidget(self.cautions)
        inner = QWidget()
        body = QVBoxLayout(inner)
        body.setContentsMargins(0, 0, 6, 0)
        body.setSpacing(10)
        body.addLayout(how)
        body.addWidget(ground)
        body.addWidget(heading("How to go about it"))
        body.addWidget(self.steps)
        body.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(inner)
        row = QHBoxLayout()
        row.addWidget(self.back_button)
        row.addStretch(1)
        row.addWidget(self.go_on_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(scroll, 1)
        column.addLayout(row)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.cautions.setFont(theme.font(1.08))
        self.steps.setFont(theme.font(1.08))

    @property
    def method(self) -> Method:
        """Return the way chosen."""
        return Method(self.method_choice.currentData())

    def begin(self, method: Method | None = None) -> None:
        """Begin anew, with a way proposed if there is one."""
        if method is not None:
            self.method_choice.select(method)
        self.go_on_button.setFocus()

    @Slot()
    def _show(self) -> None:
        method = self.method
        self.cautions.setText("\n".join(f"! {line}" for line in cautions_of(method)))
        self.steps.setText("\n".join(f"{n}. {line}" for n, line in enumerate(steps_of(method), start=1)))

    @Slot()
    def _go_on(self) -> None:
        self.went_on.emit(self.method)
