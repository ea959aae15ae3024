"""The step that works out what temperature the bath has, with its working and how sure that is."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchtemp.errors import BadInput
from benchtemp.probes.boiling import ASK_FOR_PRESSURE
from benchtemp.probes.check import DEFAULT_LIMIT_K
from benchtemp.probes.reference import Reference, thermometer_reference
from benchtemp.units import TempUnit, degc_from, degc_to, delta_to
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.probes_page.caution_step import Method
from benchtemp.window.probes_page.conditions import (
    BOIL_FIELDS,
    BoilTyped,
    boil_reference_from,
    ice_reference_from,
)
from benchtemp.window.probes_page.texts import temp_with
from benchtemp.window.probes_page.tick import Tick

if TYPE_CHECKING:
    from collections.abc import Mapping

    from benchtemp.window.theme import Theme

_HINTS = {
    "pressure": ("Pressure here", "such as 1006hPa: the surest way"),
    "altitude": ("Altitude", "such as 1600m or 5250ft"),
    "barometer": ("Weather report", "reduced to sea level: 1013hPa"),
    "depth": ("Depth of the tip", "such as 5cm"),
    "dissolved": ("Dissolved solids", "such as 0.3g/L or 300ppm"),
    "within": ("Pressure within", "may be off by: 1hPa"),
}
LIMIT_MOST_K = 20.0


class Conditions(NamedTuple):
    """What was settled before the bath.

    Attributes:
        reference: None where probes are held against each other alone.
        altitude_m: The altitude the reference rests on alone.
        operator: Who.
        limit_k: How far a probe may be off, K.
    """

    reference: Reference | None
    altitude_m: float | None
    operator: str
    limit_k: float


class ConditionsStep(Panel):
    """Form at the left, the reference it gives at the right, worked out while typing.

    Signals:
        went_on: Carries the `Conditions`.
        left: Back to the step before.
    """

    went_on = Signal(object)
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._method = Method.BOIL
        self.reference: Reference | None = None
        self._altitude_m: float | None = None
        self._build()
        self._lay_out()

    def _build(self) -> None:
        self.fields = {name: TextField(name=text, hint=hint) for name, (text, hint) in _HINTS.items()}
        for field in self.fields.values():
            field.textChanged.connect(self._renew)
            field.returnPressed.connect(self._go_on)
        self.geopotential = Tick("geopotential metres")
        self.geopotential.setToolTip("Not those of a map. Enter switches it.")
        self.geopotential.toggled.connect(self._renew)
        self.thermometer = NumberField(name="reading of the thermometer", low=-50, high=400, decimals=3)
        self.certificate = NumberField(name="expanded uncertainty of its certificate", high=50, decimals=3)
        self.coverage = NumberField(name="coverage factor of that", low=1, high=10, decimals=2)
        self.which = TextField(name="Thermometer", hint="which one, which certificate")
        for number in (self.thermometer, self.certificate, self.coverage):
            number.textChanged.connect(self._renew)
        self.which.textChanged.connect(self._renew)
        self.operator = TextField(name="Operator", hint="who checks")
        self.limit = NumberField(name="limit", low=0.01, high=LIMIT_MOST_K, decimals=2, may_be_empty=False)
        self.limit_label = QLabel("Limit")
        self.complaint = Sentence(look="bad", name="Conditions")
        self.limit.complaint.connect(self.complaint.say)
        self.figure = QLabel()
        self.figure.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.factor = quiet(wrap=True)
        self.advice = Sentence(look="caution", name="Advice")
        self.working = QLabel()
        self.notes = quiet(wrap=True)
        self.working.setTextFormat(Qt.TextFormat.PlainText)
        self.working.setWordWrap(True)
        self.go_on_button = button("Begin the bath", look="primary")
        self.go_on_button.clicked.connect(self._go_on)
        self.back_button = button("Back", tip="Esc")
        self.back_button.clicked.connect(self.left)

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setContentsMargins(0, 0, 8, 0)
        form.setHorizontalSpacing(8)
        form.setVerticalSpacing(5)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for name in ("pressure", "within", "barometer", "altitude"):
            form.addRow(_HINTS[name][0], self.fields[name])
        form.addRow("", self.geopotential)
        for name in ("depth", "dissolved"):
            form.addRow(_HINTS[name][0], self.fields[name])
        self.thermometer_label, self.certificate_label = QLabel(), QLabel()
        form.addRow(self.thermometer_label, self.thermometer)
        form.addRow(self.certificate_label, self.certificate)
        form.addRow("with k =", self.coverage)
        form.addRow("Thermometer", self.which)
        form.addRow("Operator", self.operator)
        form.addRow(self.limit_label, self.limit)
        self._form = form
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form)
        column.addWidget(self.complaint)
        column.addStretch(1)
        right = QFrame()
        right.setProperty("look", "note-plain")
        said = QVBoxLayout(right)
        said.setContentsMargins(12, 10, 12, 10)
        said.setSpacing(6)
        self.title = heading("The bath's temperature")
        for widget in (self.title, self.figure, self.factor, self.advice, self.working, self.notes):
            said.addWidget(widget)
        said.addStretch(1)
        both = QHBoxLayout()
        both.setSpacing(12)
        both.addWidget(_scrolled(left), 6)
        both.addWidget(_scrolled(right), 5)
        row = QHBoxLayout()
        row.addWidget(self.back_button)
        row.addStretch(1)
        row.addWidget(self.go_on_button)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(8)
        whole.addLayout(both, 1)
        whole.addLayout(row)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.figure.setFont(theme.font(1.5, bold=True, figures=True))
        self.working.setFont(theme.font(figures=True))

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit; what was typed as a number is turned into it."""
        limit_k = self._limit_k()
        shown_degc = None if self.thermometer.value is None else degc_from(self.thermometer.value, self.unit)
        within_k = None if self.certificate.value is None else self.certificate.value / delta_to(1, self.unit)
        super().set_unit(unit)
        self.limit_label.setText(f"Limit, ± {unit.symbol}")
        self.thermometer_label.setText(f"It reads, {unit.symbol}")
        self.certificate_label.setText(f"Certificate, ± {unit.symbol}")
        self.limit.set_range(0.01, delta_to(LIMIT_MOST_K, unit))
        self.limit.show_value(round(delta_to(limit_k, unit), 3))
        if shown_degc is not None:
            self.thermometer.show_value(round(degc_to(shown_degc, unit), 3))
        if within_k is not None:
            self.certificate.show_value(round(delta_to(within_k, unit), 4))
        self._renew()

    # -- content -------------------------------------------------------------------------------------------

    def forget(self) -> None:
        """Empty the fields: what was typed belongs to another pot."""
        for field in (*self.fields.values(), self.thermometer, self.certificate, self.which):
            field.clear()
        self.thermometer.show_value(None)
        self.certificate.show_value(None)
        self.geopotential.setChecked(False)

    def begin(self, method: Method, *, values: Mapping[str, str], operator: str, limit_k: float) -> None:
        """Get ready for a method.

        Args:
            method: How it is checked.
            values: Texts to fill into fields of the pot that are empty still.
            operator: Who checked last.
            limit_k: Limit of the last check, K.
        """
        self._method = method
        for name, text in values.items():
            if not self.fields[name].text().strip():
                self.fields[name].setText(text)
        if not self.operator.text().strip():
            self.operator.setText(operator)
        self.limit.show_value(round(delta_to(limit_k, self.unit), 3))
        if self.coverage.value is None:
            self.coverage.show_value(2.0)
        shown = {
            Method.BOIL: {*BOIL_FIELDS},
            Method.ICE: {"dissolved"},
        }.get(method, set())
        for name, field in self.fields.items():
            self._form.setRowVisible(field, name in shown)
        self._form.setRowVisible(self.geopotential, method is Method.BOIL)
        for widget in (self.thermometer, self.certificate, self.coverage, self.which):
            self._form.setRowVisible(widget, method is Method.THERMOMETER)
        self._renew()
        first = {
            Method.BOIL: self.fields["pressure"],
            Method.ICE: self.operator,
            Method.THERMOMETER: self.thermometer,
        }.get(method, self.operator)
        first.setFocus()

    def _typed(self) -> BoilTyped:
        texts = {name: self.fields[name].text() for name in BOIL_FIELDS}
        return BoilTyped(**texts, geopotential=self.geopotential.isChecked())

    def _limit_k(self) -> float:
        value = self.limit.value
        return DEFAULT_LIMIT_K if value is None else value / delta_to(1.0, self.unit)

    def _work_out(self) -> tuple[Reference | None, float | None]:
        """Return the reference from what stands in the fields now.

        Raises:
            BadInput: They do not give one.
        """
        if self._method is Method.BOIL:
            return boil_reference_from(self._typed())
        if self._method is Method.ICE:
            return ice_reference_from(self.fields["dissolved"].text()), None
        if self._method is Method.THERMOMETER:
            return self._thermometer(), None
        return None, None

    def _thermometer(self) -> Reference:
        reads = _number(self.thermometer)
        within = _number(self.certificate)
        if reads is None or within is None or within <= 0.0:
            raise BadInput(
                "Type what the thermometer reads, corrected as its certificate says, and the certificate's "
                "uncertainty."
            )
        return thermometer_reference(
            degc_from(reads, self.unit),
            within / delta_to(1.0, self.unit),
            _number(self.coverage) or 2.0,
            self.which.text().strip(),
        )

    @Slot()
    def _renew(self) -> None:
        self.reference, self._altitude_m, sentence = None, None, ""
        try:
            self.reference, self._altitude_m = self._work_out()
        except BadInput as error:
            sentence = str(error)
        asked = any(field.text().strip() for field in self.fields.values())
        if self._method is Method.THERMOMETER:
            asked = bool(self.thermometer.text() and self.certificate.text())
        self.complaint.say(sentence if asked else "")
        self._show_reference("" if asked else sentence)

    def _show_reference(self, ask: str) -> None:
        reference = self.reference
        together = self._method is Method.TOGETHER
        self.go_on_button.setEnabled(reference is not None or together)
        if reference is None:
            self.figure.setText("no reference" if together else f"— {self.unit.symbol}")
            self.factor.setText("The probes are held against their own mean." if together else ask)
            self.advice.say("")
            self.working.setText("")
            self.notes.setText("")
            return
        expanded_k = reference.expanded_k()
        self.figure.setText(temp_with(reference.temp_degc, expanded_k, self.unit))
        factor = reference.budget.coverage_factor()
        self.factor.setText(f"Expanded uncertainty, k = {factor:.2f} (about 95 %). Worked out so:")
        self.working.setText("\n".join(reference.working))
        prefer = ASK_FOR_PRESSURE in reference.notes
        self.advice.say(f"! {ASK_FOR_PRESSURE}" if prefer else "")
        notes = [note for note in reference.notes if note != ASK_FOR_PRESSURE]
        worst, share = reference.budget.ranked()[0]
        estimate = ", an estimate" if worst.estimate else ""
        notes.append(f"Most of what may be wrong: {worst.name} ({100 * share:.0f} %{estimate}).")
        self.notes.setText("\n".join(notes))

    @Slot()
    def _go_on(self) -> None:
        if not self.go_on_button.isEnabled() or bool(self.limit.property("wrong")):
            return
        operator = " ".join(self.operator.text().split())
        self.went_on.emit(Conditions(self.reference, self._altitude_m, operator, self._limit_k()))


def _number(field: NumberField) -> float | None:
    """Return what stands in a field while it is being typed, None where it is no number."""
    try:
        return float(field.text().strip().replace(",", "."))
    except ValueError:
        return None


def _scrolled(widget: QWidget) -> QScrollArea:
    scroll = QScrollArea()
    scroll.setWidgetResizable(True)
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(widget)
    return scroll
