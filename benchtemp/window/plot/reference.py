"""Which past shot is drawn faintly behind the live trace."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal, Slot

from benchtemp.window.panels.choice import Choice

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.shots.shot import Shot

NO_REFERENCE = "none"
LAST_SHOT = "last"
_OFFERS = ((NO_REFERENCE, "No reference"), (LAST_SHOT, "Reference: last shot"))


class ReferenceChoice(Choice):
    """None, the last shot, or a certain shot of the sitting.

    Attributes:
        reference: `none`, `last`, or the key of a shot as text.

    Signals:
        changed: Another one is to be drawn.
        chosen: The user chose; carries the reference, to be remembered.
    """

    changed = Signal()
    chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__("Reference trace", _OFFERS, least_chars=16)
        self.reference = NO_REFERENCE
        self.setToolTip("A past shot drawn faintly behind the live trace (R)")
        self.activated.connect(self._choose)

    def take(self, reference: str) -> None:
        """Choose a reference; one that is not there is none."""
        row = self.findData(reference)
        self.setCurrentIndex(max(row, 0))
        self.reference = reference if row >= 0 else NO_REFERENCE
        self.changed.emit()

    @Slot()
    def go_to_next(self) -> None:
        """Choose the next one in the list, from the last one none again."""
        self.setCurrentIndex((self.currentIndex() + 1) % self.count())
        self._choose()

    @Slot()
    def _choose(self) -> None:
        self.reference = str(self.currentData())
        self.changed.emit()
        self.chosen.emit(self.reference)

    def list_shots(self, shots: Sequence[Shot]) -> None:
        """Offer these shots; what was chosen stays chosen while it is there."""
        wanted = {str(shot.key): f"Reference: shot {shot.number}" for shot in shots if not shot.is_flush}
        there = {self.itemData(row) for row in range(len(_OFFERS), self.count())}
        if there == set(wanted):
            return
        while self.count() > len(_OFFERS):
            self.removeItem(len(_OFFERS))
        for key, text in wanted.items():
            self.addItem(text, key)
        self.take(self.reference)

    def shot_of(self, shots: Sequence[Shot]) -> Shot | None:
        """Return the shot chosen, of those that may be drawn."""
        if self.reference == LAST_SHOT:
            return shots[-1] if shots else None
        return next((shot for shot in shots if str(shot.key) == self.reference), None)
