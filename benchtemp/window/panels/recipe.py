"""Recipe and target band, edited in place, with the usual values one key away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from benchtemp.shots.recipe import Recipe
from benchtemp.units import TempUnit, degc_from, degc_to
from benchtemp.window.fields import NumberField
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, button, heading, quiet
from benchtemp.window.panels.mirror import FieldMirror
from benchtemp.window.theme import figure_width

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot

_STEP = 0.1
_TIME_MAX_S = 600.0
_BAND_LIMITS_DEGC = (0.0, 150.0)
_PAIRS = (("time_low_s", "time_high_s"), ("band_low_degc", "band_high_degc"))


@dataclass(frozen=True)
class _Entry:
    """One field of the recipe: its field on the screen, and the mirror that keeps it in step."""

    field: NumberField
    mirror: FieldMirror


def changes_to(recipe: Recipe, wanted: Recipe) -> list[str]:
    """Return the texts of `set` marks that lead from one recipe to another, valid after every single one."""
    held, aim = msgspec.structs.asdict(recipe), msgspec.structs.asdict(wanted)
    order = [name for name in aim if not any(name in pair for pair in _PAIRS)]
    for low, high in _PAIRS:
        order += [low, high] if aim[low] < held[high] else [high, low]
    return [
        f"recipe.{name}={'' if aim[name] is None else format(aim[name], '.10g')}"
        for name in order
        if aim[name] != held[name]
    ]


class RecipePanel(Panel):
    """Edits what a shot must meet to count, from here on.

    Signals:
        entered: Text of a `set` mark: `recipe.time_low_s=20`.
    """

    entered = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self.setAccessibleName("Recipe and target band")
        self._recipe = Recipe()
        self._entries: dict[str, _Entry] = {}
        self.complaint = Sentence(look="bad", name="Recipe")
        self._band_label = QLabel(f"Band, {self.unit.symbol}")
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)
        self._grid.setColumnStretch(3, 1)
        self._build_rows()
        self.usual_button = button("Back to the usual values", tip="Everything but the dose")
        self.usual_button.clicked.connect(self._go_back)
        self.ratio_note = quiet(wrap=True)
        self.band_note = quiet(wrap=True)
        self._write_notes()

        below = QHBoxLayout()
        below.addWidget(self.usual_button)
        below.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(6)
        column.addWidget(heading("Recipe and target band"))
        column.addLayout(self._grid)
        column.addWidget(self.complaint)
        column.addLayout(below)
        column.addWidget(self.ratio_note)
        column.addWidget(self.band_note)
        self._show(self._recipe)
        self.setEnabled(False)

    def _build_rows(self) -> None:
        self._add("dose_g", "dose", 0.1, 999, decimals=2, may_be_empty=True)
        self._add("brew_ratio", "brew ratio", 0.1, 99, decimals=2)
        self._add("brew_ratio_tolerance", "tolerance of the brew ratio", 0, 99, decimals=1)
        self._add("time_low_s", "beginning of the time window", 0, _TIME_MAX_S)
        self._add("time_high_s", "end of the time window", _STEP, _TIME_MAX_S)
        self._add("band_low_degc", "lower end of the target band", *_BAND_LIMITS_DEGC)
        self._add("band_high_degc", "upper end of the target band", *_BAND_LIMITS_DEGC)
        self._add("plateau_min_s", "shortest plateau", _STEP, _TIME_MAX_S)
        field = self.field
        tolerance = field("brew_ratio_tolerance")
        self._row(QLabel("Dose, g"), field("dose_g"))
        self._row(QLabel("Ratio 1 :"), field("brew_ratio"), quiet("± %"), tolerance)
        self._row(QLabel("Time, s"), field("time_low_s"), quiet("–"), field("time_high_s"))
        self._row(self._band_label, field("band_low_degc"), quiet("–"), field("band_high_degc"))
        self._row(QLabel("Plateau, s"), field("plateau_min_s"), quiet("or longer"))

    def _add(
        self, name: str, words: str, low: float, high: float, *, decimals: int = 1, may_be_empty: bool = False
    ) -> None:
        field = NumberField(name=words, low=low, high=high, decimals=decimals, may_be_empty=may_be_empty)
        field.setMinimumWidth(figure_width(field.font(), "000.0") + 18)
        field.setProperty("recipe_field", name)
        self._entries[name] = _Entry(field, FieldMirror(field))
        field.taken.connect(self._take)
        field.complaint.connect(self.complaint.say)

    def _row(self, label: QLabel, *widgets: QWidget) -> None:
        line = self._grid.rowCount()
        label.setBuddy(widgets[0])
        self._grid.addWidget(label, line, 0)
        for column, widget in enumerate(widgets, start=1):
            last = widget is widgets[-1] and isinstance(widget, QLabel)
            side = Qt.AlignmentFlag.AlignCenter if column == 2 and not last else Qt.AlignmentFlag(0)
            self._grid.addWidget(widget, line, column, 1, 2 if last else 1, side)

    def field(self, name: str) -> NumberField:
        """Return the field on the screen of one of Recipe's fields."""
        return self._entries[name].field

    # -- showing -----------------------------------------------------------------------------------

    def set_unit(self, unit: TempUnit) -> None:
        """Show the target band in another unit."""
        super().set_unit(unit)
        self._band_label.setText(f"Band, {unit.symbol}")
        self._write_notes()
        self._show(self._recipe)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show the recipe in force."""
        self.setEnabled(snapshot is not None)
        if snapshot is not None:
            self._show(snapshot.recipe)

    def show_recipe(self, recipe: Recipe) -> None:
        """Show a recipe to be edited away from the bench; whoever takes an entry shows what comes of it."""
        self.setEnabled(True)
        self._show(recipe)

    def _shown_value(self, recipe: Recipe, name: str) -> float | None:
        value: float | None = getattr(recipe, name)
        if value is None:
            return None
        if name.endswith("_degc"):
            return round(degc_to(value, self.unit), 1)
        return round(value * 100, 2) if name == "brew_ratio_tolerance" else value

    def _show(self, recipe: Recipe) -> None:
        self._recipe = recipe
        for name, entry in self._entries.items():
            entry.mirror.follow(self._shown_value(recipe, name))
        lowest, highest = (degc_to(limit, self.unit) for limit in _BAND_LIMITS_DEGC)
        band_low, band_high = (
            degc_to(end, self.unit) for end in (recipe.band_low_degc, recipe.band_high_degc)
        )
        self.field("time_low_s").set_range(0.0, round(recipe.time_high_s - _STEP, 1))
        self.field("time_high_s").set_range(round(recipe.time_low_s + _STEP, 1), _TIME_MAX_S)
        self.field("band_low_degc").set_range(lowest, round(band_high - _STEP, 1))
        self.field("band_high_degc").set_range(round(band_low + _STEP, 1), highest)

    def _write_notes(self) -> None:
        usual = Recipe()
        low, high = (degc_to(end, self.unit) for end in (usual.band_low_degc, usual.band_high_degc))
        self.ratio_note.setText(
            f"1:{usual.brew_ratio:g} within {100 * usual.brew_ratio_tolerance:.0f} % in "
            f"{usual.time_low_s:g}–{usual.time_high_s:g} s is common practice, no source."
        )
        self.band_note.setText(
            f"{low:.1f}–{high:.1f} {self.unit.symbol} is from memory of trade guidance. "
            "A shot outside the band still counts."
        )

    # -- what the user does ------------------------------------------------------------------------

    @Slot(object)
    def _take(self, value: float | None) -> None:
        sender = self.sender()
        assert isinstance(sender, NumberField)
        name = str(sender.property("recipe_field"))
        if value is not None and name.endswith("_degc"):
            value = round(degc_from(value, self.unit), 3)
        elif value is not None and name == "brew_ratio_tolerance":
            value = round(value / 100, 6)
        self._entries[name].mirror.await_bench()
        self.entered.emit(f"recipe.{name}={'' if value is None else format(value, '.10g')}")

    @Slot()
    def _go_back(self) -> None:
        wanted = msgspec.structs.replace(Recipe(), dose_g=self._recipe.dose_g)
        for text in changes_to(self._recipe, wanted):
            self.entered.emit(text)
