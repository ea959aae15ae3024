"""Scale & timer: dose, yield, brew ratio, time since pump on, and the verdict against the recipe."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchtemp.units import MINUS
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.panels.mirror import FieldMirror
from benchtemp.window.panels.subject import Subject, last_shot, subject_of, under_way, verdict_text
from benchtemp.window.panels.window_bar import WindowBar
from benchtemp.window.theme import figure_width

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.window.theme import Theme


class ScaleTimerPanel(Panel):
    """Takes dose and yield, shows ratio, timer and verdict, and says which shot it is about.

    Signals:
        entered: Text of a `set` mark: `dose_g=18`, `shot 3 yield_g=36.4`.
        tare_asked: The scale is to show zero.
    """

    entered = Signal(str)
    tare_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Scale and timer")
        self._snapshot: Snapshot | None = None
        self._subject: Subject | None = None
        self._next_asked = False
        self._last_key = 0
        self._build_heads()
        self._build_fields()
        self._build_timer()
        self._lay_out()
        self.show_snapshot(None)

    # -- building ----------------------------------------------------------------------------------

    def _build_heads(self) -> None:
        self.title = quiet()
        self.last_button = button("Shot", look="flat", tip="Enter dose and yield of the shot that has ended")
        self.next_button = button("Next shot", look="flat", tip="Enter the dose of the shot to come")
        self._whose = QButtonGroup(self)
        for choice in (self.last_button, self.next_button):
            choice.setCheckable(True)
            self._whose.addButton(choice)
        self._whose.buttonClicked.connect(self._choose_subject)

    def _build_fields(self) -> None:
        self.dose_field = NumberField(name="dose", hint="—", low=0.1, high=999, decimals=2)
        self.dose_field.setAccessibleDescription("Dry coffee in grams")
        self.yield_field = NumberField(name="yield", hint="—", low=0.1, high=9999, decimals=2)
        self.yield_field.setAccessibleDescription("Drink in the cup in grams")
        self._dose_mirror = FieldMirror(self.dose_field)
        self._yield_mirror = FieldMirror(self.yield_field)
        self.ratio = QLabel("1 : —")
        self.ratio.setAccessibleName("Brew ratio")
        self.dose_complaint = Sentence(look="bad", name="Dose")
        self.yield_complaint = Sentence(look="bad", name="Yield")
        self.dose_field.taken.connect(self._take_dose)
        self.yield_field.taken.connect(self._take_yield)
        self.dose_field.complaint.connect(self.dose_complaint.say)
        self.yield_field.complaint.connect(self.yield_complaint.say)

    def _build_timer(self) -> None:
        self.timer = QLabel("0.0")
        self.timer.setAccessibleName("Time since pump on")
        self.timer.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignBaseline)
        self.timer_note = quiet("s since pump on")
        self.time_bar = WindowBar(name="Time against the window", unit="s")
        self.yield_bar = WindowBar(name="Yield against the target", unit="g")
        self.verdict = Sentence(name="Recipe")
        self.scale_now = quiet()
        self.scale_now.setAccessibleName("Scale now")
        self.tare_button = button("Tare", tip="What is on the scale now is zero from here on")
        self.tare_button.clicked.connect(self.tare_asked)

    def _lay_out(self) -> None:
        heads = QHBoxLayout()
        heads.setSpacing(4)
        heads.addWidget(self.title)
        heads.addWidget(self.last_button)
        heads.addWidget(self.next_button)
        heads.addStretch(1)

        fields = QGridLayout()
        fields.setHorizontalSpacing(8)
        fields.setVerticalSpacing(2)
        for column, (text, widget) in enumerate(
            (("Dose, g", self.dose_field), ("Yield, g", self.yield_field), ("Brew ratio", self.ratio))
        ):
            label = quiet(text)
            if isinstance(widget, NumberField):
                label.setBuddy(widget)
                widget.setMinimumWidth(60)
            fields.addWidget(label, 0, column)
            fields.addWidget(widget, 1, column)
            fields.setColumnStretch(column, 1)

        timer = QHBoxLayout()
        timer.setSpacing(6)
        timer.addWidget(self.timer)
        timer.addWidget(self.timer_note, 1, Qt.AlignmentFlag.AlignBottom)

        bars = QGridLayout()
        bars.setHorizontalSpacing(8)
        bars.setVerticalSpacing(4)
        self._time_label, self._yield_label = quiet("Time"), quiet("Yield")
        bars.addWidget(self._time_label, 0, 0)
        bars.addWidget(self.time_bar, 0, 1)
        bars.addWidget(self._yield_label, 1, 0)
        bars.addWidget(self.yield_bar, 1, 1)
        bars.setColumnStretch(1, 1)

        scale = QHBoxLayout()
        scale.addWidget(self.scale_now, 1)
        scale.addWidget(self.tare_button)

        stack = QVBoxLayout(self)
        stack.setContentsMargins(12, 10, 12, 10)
        stack.setSpacing(6)
        stack.addWidget(heading("Scale & timer"))
        stack.addLayout(heads)
        stack.addLayout(fields)
        stack.addWidget(self.dose_complaint)
        stack.addWidget(self.yield_complaint)
        stack.addLayout(timer)
        stack.addLayout(bars)
        stack.addWidget(self.verdict)
        stack.addLayout(scale)
        self.set_theme(self.theme)

    # -- showing -----------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours and fonts."""
        super().set_theme(theme)
        figures = theme.font(2.6, bold=True, figures=True)
        self.timer.setFont(figures)
        self.timer.setMinimumWidth(figure_width(figures, "00.0"))
        self.ratio.setFont(theme.font(1.15, bold=True, figures=True))
        self.scale_now.setFont(theme.font(figures=True))
        for field in (self.dose_field, self.yield_field):
            field.setFont(theme.font(1.15, figures=True))
        for bar in (self.time_bar, self.yield_bar):
            bar.set_theme(theme)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show the shot under way, the last, or the next."""
        self._snapshot = snapshot
        self.setEnabled(snapshot is not None)
        if snapshot is None:
            self._show_idle()
            return
        shot = last_shot(snapshot)
        if under_way(snapshot) or (shot is not None and shot.key != self._last_key):
            self._next_asked = False
        self._last_key = shot.key if shot is not None else 0
        subject = subject_of(snapshot, next_asked=self._next_asked)
        other = self._subject is None or (subject.number, subject.running) != self._identity()
        if other and (self._dose_mirror.editing or self._yield_mirror.editing):
            # Somebody types a figure for the shot shown: it must not slip to another one.
            self._show_held()
            self._show_figures(subject)
            return
        if other:
            self._dose_mirror.start_over()
            self._yield_mirror.start_over()
        self._show_heads(snapshot)
        self._subject = subject
        self._show_fields(snapshot, subject)
        self._show_figures(subject)

    def _identity(self) -> tuple[int | None, bool]:
        assert self._subject is not None
        return self._subject.number, self._subject.running

    def _show_idle(self) -> None:
        self._subject = None
        self._dose_mirror.start_over()
        self._yield_mirror.start_over()
        self.title.setText("No source is open")
        self.title.setVisible(True)
        self.last_button.setVisible(False)
        self.next_button.setVisible(False)
        self._dose_mirror.follow(None)
        self._yield_mirror.follow(None)
        self.tare_button.setVisible(False)
        self.scale_now.setVisible(False)
        self._set_text(self.timer, "0.0")
        self._set_text(self.ratio, "1 : —")
        self._set_text(self.timer_note, "s since pump on")
        self.verdict.say("")
        self.time_bar.show_progress(None, None, None)
        self.yield_bar.show_progress(None, None, None)

    def _show_held(self) -> None:
        """Say whose figure is being typed, where the bench has gone on to another shot."""
        assert self._subject is not None
        self._offer_choice(choice=False)
        self._set_text(self.title, f"{self._subject.title}: its figure is being typed")

    def _offer_choice(self, *, choice: bool) -> None:
        for widget in (self.last_button, self.next_button):
            if widget.isVisibleTo(self) != choice:
                widget.setVisible(choice)
        if self.title.isVisibleTo(self) == choice:
            self.title.setVisible(not choice)

    def _show_heads(self, snapshot: Snapshot) -> None:
        shot = last_shot(snapshot)
        choice = shot is not None and not under_way(snapshot)
        self._offer_choice(choice=choice)
        if choice and shot is not None:
            self._set_text(self.last_button, f"Shot {shot.number}")
            chosen = self.next_button if self._next_asked else self.last_button
            if not chosen.isChecked():
                chosen.setChecked(True)

    def _show_fields(self, snapshot: Snapshot, subject: Subject) -> None:
        self._set_text(self.title, subject.title)
        may_type_yield = subject.number is not None
        if self.yield_field.isEnabled() != may_type_yield:
            self.yield_field.setEnabled(may_type_yield)
            self.yield_field.setToolTip(
                "" if may_type_yield else "The yield is entered when the shot has ended"
            )
        self._dose_mirror.follow(subject.dose_g)
        self._yield_mirror.follow(None if subject.yield_g is None else round(subject.yield_g, 1))
        if self.tare_button.isVisibleTo(self) != snapshot.has_weight:
            self.tare_button.setVisible(snapshot.has_weight)
            self.scale_now.setVisible(snapshot.has_weight)
        if snapshot.has_weight:
            weight_g = snapshot.weight_g
            shown = f"{weight_g:.1f} g".replace("-", MINUS) if isfinite(weight_g) else "— g"
            self._set_text(self.scale_now, f"Scale {shown}")

    def _show_figures(self, subject: Subject) -> None:
        time_s = subject.time_s
        self._set_text(self.timer, f"{time_s or 0.0:.1f}")
        self._set_text(
            self.timer_note,
            "s since pump on" if subject.marked else "s since the rise\n(pump on was not marked)",
        )
        ratio = subject.brew_ratio
        self._set_text(self.ratio, "1 : —" if ratio is None else f"1 : {ratio:.2f}")
        recipe = subject.recipe
        self.time_bar.show_progress(
            None if time_s is None else round(time_s, 1), recipe.time_low_s, recipe.time_high_s
        )
        low_g, high_g = subject.yield_window_g or (None, None)
        self.yield_bar.show_progress(
            None if subject.yield_g is None else round(subject.yield_g, 1),
            None if low_g is None else round(low_g, 1),
            None if high_g is None else round(high_g, 1),
        )
        self._set_text(self._time_label, f"{recipe.time_low_s:g}–{recipe.time_high_s:g} s")
        target_g = subject.target_yield_g
        self._set_text(self._yield_label, "Yield" if target_g is None else f"{target_g:.1f} g")
        self.verdict.say(*verdict_text(subject))

    @staticmethod
    def _set_text(widget: QLabel | QPushButton, text: str) -> None:
        if widget.text() != text:
            widget.setText(text)

    # -- what the user does ------------------------------------------------------------------------

    def go_to_dose(self) -> None:
        """Go to the dose that is wanted next: the last shot's while it has none, then the coming shot's."""
        # First, since leaving a field takes what was typed there for the shot shown.
        self.dose_field.go_to()
        shot = None if self._snapshot is None else last_shot(self._snapshot)
        self._ask_for_next(asked=shot is not None and shot.dose_g is not None)
        self.dose_field.go_to()

    def go_to_yield(self) -> None:
        """Go to the last shot's yield, where there is a shot to enter it for."""
        if self.dose_field.hasFocus():
            self.dose_field.clearFocus()  # as above
        self._ask_for_next(asked=False)
        if self.yield_field.isEnabled():
            self.yield_field.go_to()

    def _ask_for_next(self, *, asked: bool) -> None:
        if asked != self._next_asked:
            self._next_asked = asked
            self.show_snapshot(self._snapshot)

    @Slot()
    def _choose_subject(self) -> None:
        self._next_asked = self.next_button.isChecked()
        self.show_snapshot(self._snapshot)

    @Slot(object)
    def _take_dose(self, dose_g: float | None) -> None:
        self._take("dose_g", dose_g, self._dose_mirror)

    @Slot(object)
    def _take_yield(self, yield_g: float | None) -> None:
        self._take("yield_g", yield_g, self._yield_mirror)

    def _take(self, name: str, value: float | None, mirror: FieldMirror) -> None:
        if self._subject is None:
            return
        mirror.await_bench()
        self.entered.emit(self._subject.entered(name, value))
