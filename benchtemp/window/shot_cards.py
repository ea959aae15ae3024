"""This sitting's shots as small cards in a row; flushes stand between them, smaller."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchtemp.shots.recipe import RecipeVerdict
from benchtemp.units import TempUnit, delta_text, temp_text
from benchtemp.window.headline import spread_text
from benchtemp.window.lesson.hidden import HIDDEN_SENTENCE
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Wrapped
from benchtemp.window.theme import repolish, scaled_font

if TYPE_CHECKING:
    from PySide6.QtGui import QKeyEvent, QMouseEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.shots.shot import Shot
    from benchtemp.window.theme import Theme

_NONE_YET = "The shots of this sitting will stand here, one card each."


def verdict_of(shot: Shot) -> tuple[str, str]:
    """Return whether a shot counts, with a sign and the reason in words, and the look of the words."""
    if shot.filling:
        return "… the cup is still filling", "quiet"
    if shot.counts:
        recipe = "" if shot.verdict is RecipeVerdict.WITHIN else "; recipe not judged"
        return f"✓ counts{recipe}", "good"
    reasons = "; ".join(shot.reasons) or "no plateau was found"
    return f"✕ does not count: {reasons}", "bad"


def figures_of(shot: Shot) -> str:
    """Return time and brew ratio on one line, with a dash for what is not known."""
    time_s = shot.result.shot_time_s
    ratio = shot.brew_ratio
    return f"{'—' if time_s is None else f'{time_s:.1f}'} s   1:{'—' if ratio is None else f'{ratio:.2f}'}"


class Card(QFrame):
    """One pull; Enter or a click chooses it.

    Signals:
        chosen: Carries the pull's key.
        explained: A double click: what its uncertainty is made of; carries the key.
        wants_neighbour: Arrow key: -1 for the one before, +1 for the one after.
    """

    chosen = Signal(int)
    explained = Signal(int)
    wants_neighbour = Signal(int)

    def __init__(self, shot: Shot, unit: TempUnit) -> None:
        super().__init__()
        self.setProperty("look", "card")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.key = shot.key
        self._shot = shot
        self._title, self._brew = QLabel(), QLabel()
        self._spread, self._figures, self._verdict = QLabel(), QLabel(), Wrapped()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 6, 10, 6)
        layout.setSpacing(1)
        head = QHBoxLayout()
        head.setSpacing(10)
        head.addWidget(self._title, 1, Qt.AlignmentFlag.AlignBaseline)
        head.addWidget(self._brew, 0, Qt.AlignmentFlag.AlignBaseline)
        layout.addLayout(head)
        for label in (self._spread, self._figures, self._verdict):
            label.setTextFormat(Qt.TextFormat.PlainText)
            layout.addWidget(label)
        layout.addStretch(1)
        self._verdict.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.show_shot(shot, unit)

    def refont(self, unit: TempUnit) -> None:
        """Take the system's font anew."""
        self._title.setFont(scaled_font(1.0, bold=True))
        self._brew.setFont(scaled_font(1.35, bold=True, figures=True))
        for label in (self._spread, self._figures):
            label.setFont(scaled_font(1.0, figures=True))
        self._verdict.setFont(scaled_font(0.95))
        self.setFixedWidth(self.fontMetrics().averageCharWidth() * (18 if self._shot.is_flush else 34))
        self.show_shot(self._shot, unit)

    def show_shot(self, shot: Shot, unit: TempUnit) -> None:
        """Show a pull's figures."""
        self._shot = shot
        result = shot.result
        verdict, look = verdict_of(shot)
        if shot.is_flush:
            self._title.setText("Flush")
            self._brew.setText("")
            time_s = result.shot_time_s
            self._spread.setText("— s" if time_s is None else f"{time_s:.1f} s")
            self._figures.setText(f"to {temp_text(result.highest_degc, unit)}" if result.highest_degc else "")
            self._verdict.setText("not a shot")
            look = "quiet"
        else:
            self._title.setText(f"Shot {shot.number}")
            self._brew.setText(temp_text(result.brew_temp_degc, unit))
            self._spread.setText(spread_text(shot, unit))
            self._figures.setText(figures_of(shot))
            self._verdict.setText(verdict)
        if self._verdict.property("look") != look:
            self._verdict.setProperty("look", look)
            repolish(self._verdict)
        for label in (self._spread, self._figures):
            label.setProperty("look", "quiet")
        more = "" if shot.is_flush else "\nDouble-click, or E: what its uncertainty is made of"
        self.setToolTip(f"{verdict}{more}")
        name = "Flush" if shot.is_flush else f"Shot {shot.number}"
        spread = f", sd {delta_text(result.sd_k, unit)}" if result.sd_k is not None else ""
        self.setAccessibleName(
            f"{name}, {temp_text(result.brew_temp_degc, unit)}{spread}, {figures_of(shot)}, {verdict}"
        )

    def set_shown(self, shown: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Tell by the frame whether the plot shows this pull."""
        look = "card-shown" if shown else "card"
        if self.property("look") != look:
            self.setProperty("look", look)
            repolish(self)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose by a click."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.chosen.emit(self.key)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Ask for what its uncertainty is made of."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.explained.emit(self.key)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose with Enter; go along the row with the arrow keys."""
        if event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter}:
            self.chosen.emit(self.key)
        elif event.key() == Qt.Key.Key_Left:
            self.wants_neighbour.emit(-1)
        elif event.key() == Qt.Key.Key_Right:
            self.wants_neighbour.emit(1)
        else:
            event.ignore()


class ShotCards(Panel):
    """All pulls of this sitting, the latest at the right end and in view.

    Signals:
        shot_chosen: Carries the `Shot` to show in the plot.
        uncertainty_asked: What the uncertainty of the shot in the plot is made of.
    """

    shot_chosen = Signal(object)
    uncertainty_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Shots of this sitting")
        self._cards: dict[int, Card] = {}
        self._shots: tuple[Shot, ...] = ()
        self._hidden = False
        self._empty = QLabel(_NONE_YET)
        self._empty.setProperty("look", "quiet")
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._row = QWidget()
        self._row_layout = QHBoxLayout(self._row)
        self._row_layout.setContentsMargins(0, 0, 0, 0)
        self._row_layout.setSpacing(8)
        self._row_layout.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setWidget(self._row)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.horizontalScrollBar().rangeChanged.connect(self._show_latest)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._empty)
        layout.addWidget(self._scroll)
        self._scroll.hide()
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    @property
    def cards(self) -> tuple[Card, ...]:
        """Return the cards, oldest first."""
        return tuple(self._cards.values())

    def sizeHint(self) -> QSize:
        """Return room for a card with a verdict of three lines and the scroll bar; little without cards."""
        line = self.fontMetrics().lineSpacing()
        if not self._cards:
            return QSize(400, int(line * 2))
        bar = self._scroll.horizontalScrollBar().sizeHint().height()
        return QSize(400, int(line * 7.6) + 14 + bar)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        for card in self._cards.values():
            card.refont(self.unit)
        self.updateGeometry()

    def set_unit(self, unit: TempUnit) -> None:
        """Show temperatures in another unit."""
        super().set_unit(unit)
        for shot in self._shots:
            self._cards[shot.key].show_shot(shot, unit)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Bring the cards up to date when a shot came, changed or was withdrawn."""
        shots = () if snapshot is None or self._hidden else snapshot.shots
        if shots == self._shots:
            return
        known = {shot.key: shot for shot in self._shots}
        self._shots = shots
        for key in known.keys() - {shot.key for shot in shots}:
            card = self._cards.pop(key)
            self._row_layout.removeWidget(card)
            card.deleteLater()
        for shot in shots:
            if shot.key not in self._cards:
                self._add(shot)
            elif shot != known.get(shot.key):
                self._cards[shot.key].show_shot(shot, self.unit)
        self._empty.setVisible(not shots)
        self._scroll.setVisible(bool(shots))
        self.updateGeometry()

    def hide_results(self, hidden: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Show the cards from the next snapshot on, or a sentence in their place."""
        self._hidden = hidden
        self._empty.setText(HIDDEN_SENTENCE if hidden else _NONE_YET)

    def show_chosen(self, key: int | None) -> None:
        """Mark the card whose pull the plot shows, or none."""
        for card in self._cards.values():
            card.set_shown(card.key == key)

    def _add(self, shot: Shot) -> None:
        card = Card(shot, self.unit)
        card.refont(self.unit)
        card.chosen.connect(self._choose)
        card.explained.connect(self.uncertainty_asked)
        card.wants_neighbour.connect(self._go)
        self._cards[shot.key] = card
        self._row_layout.insertWidget(self._row_layout.count() - 1, card)

    @Slot(int)
    def _choose(self, key: int) -> None:
        shot = next((shot for shot in self._shots if shot.key == key), None)
        if shot is not None:
            self.shot_chosen.emit(shot)

    @Slot(int)
    def _go(self, step: int) -> None:
        cards = list(self._cards.values())
        here = next((index for index, card in enumerate(cards) if card.hasFocus()), None)
        if here is not None and 0 <= here + step < len(cards):
            cards[here + step].setFocus(Qt.FocusReason.TabFocusReason)
            self._scroll.ensureWidgetVisible(cards[here + step])

    @Slot()
    def _show_latest(self) -> None:
        bar = self._scroll.horizontalScrollBar()
        bar.setValue(bar.maximum())
