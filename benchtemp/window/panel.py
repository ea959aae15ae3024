"""What the window asks of its panels, and what they may ask of the window.

Conventions, kept by every panel and page:
- A panel is given a `Theme` by `set_theme`, a unit by `set_unit`, and pictures of the bench by
  `show_snapshot`; it never holds the live bench. It tells what the user wants by signals; the session
  carries it out.
- `show_snapshot` is called up to 20 times a second: compare before changing anything, make no widgets in it,
  and leave a field alone while it has the focus.
- What the user enters for the bench is the text of a `set` mark: `entered = Signal(str)`, with `dose_g=18`.
- Errors stand inside the panel as a sentence; nothing opens a dialog.
- Slots are decorated with `@Slot`. Every control has a visible label or an `accessibleName`.
- Space is the pump key wherever the focus is, except in a `TextField`, which keeps it for typing (Ctrl+Space
  is the pump there too). Enter presses the button that has the focus, so a button never needs Space.
  Use `NumberField` for numbers, `TextField` for words (see `fields`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QWidget

from benchtemp.units import TempUnit
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.readings.source import Source


@dataclass(frozen=True)
class SourceChoice:
    """What the user chose to read from: a sitting is started with it.

    Attributes:
        source: Not yet open.
        scale: A second source that gives weights, not yet open.
        machine: Name of the machine under test, empty when not given.
        keep: Whether readings and shots are kept in the logbook (a replay keeps nothing).
        hardware: Whether a real machine is at the other end: cautions are shown then.
        begin_again: What the picker needs to offer the same choice at the next start (plain values).
    """

    source: Source
    scale: Source | None = None
    machine: str = ""
    keep: bool = True
    hardware: bool = False
    begin_again: dict[str, object] | None = None


class Panel(QFrame):
    """A part of a page: knows theme and unit, shows snapshots."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme: Theme = LIGHT
        self.unit: TempUnit = TempUnit.DEGC

    def set_theme(self, theme: Theme) -> None:
        """Take another theme; colours and fonts not covered by the style sheet are renewed by subclasses."""
        self.theme = theme

    def set_unit(self, unit: TempUnit) -> None:
        """Take another unit to show temperatures in."""
        self.unit = unit

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show where the bench stands; None when no source is open."""
