"""Holding the large view: made when it is first wanted, kept in step with the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from PySide6.QtGui import QScreen

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.window.keys import HeldKeys
    from benchtemp.window.lesson.lesson import Lesson
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.presentation import Presentation
    from benchtemp.window.theme import Theme, Themes


class LargeView(QObject):
    """The large view, if there is one.

    Attributes:
        page: The view itself, None until it was first wanted.

    Signals:
        made: The view is there; carries it.
        closed: The view was closed.
    """

    made = Signal(object)
    closed = Signal()

    def __init__(self, themes: Themes, held: HeldKeys, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._themes = themes
        self._held = held
        self._unit = TempUnit.DEGC
        self._choice: SourceChoice | None = None
        self._lesson: Lesson | None = None
        self.page: Presentation | None = None
        themes.changed.connect(self._set_theme)

    @property
    def shown(self) -> bool:
        """Tell whether it covers the screen."""
        return self.page is not None and self.page.isVisible()

    def toggle(self, screen: QScreen, snapshot: Snapshot | None) -> None:
        """Show it over a whole screen, or close it."""
        if self.page is None:
            from benchtemp.window.presentation import Presentation  # noqa: PLC0415 - rarely needed

            self.page = Presentation()
            self.page.set_theme(self._themes.theme)
            self.page.set_unit(self._unit)
            self.page.begin(self._choice)
            self.page.teach(self._lesson)
            self.made.emit(self.page)
            self.page.closed.connect(self.closed)
        if self.page.isVisible():
            self.page.close()
            return
        self.page.setGeometry(screen.geometry())
        self.page.showFullScreen()
        self._held.watch(self.page.windowHandle())
        self.page.show_snapshot(snapshot)

    @Slot(object)
    def _set_theme(self, theme: Theme) -> None:
        if self.page is not None:
            self.page.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        self._unit = unit
        if self.page is not None:
            self.page.set_unit(unit)

    def begin(self, choice: SourceChoice | None) -> None:
        """Know what the sitting reads from; None when there is none."""
        self._choice = choice
        if self.page is not None:
            self.page.begin(choice)

    def teach(self, lesson: Lesson | None) -> None:
        """Follow a lesson; None when there is none."""
        self._lesson = lesson
        if self.page is not None:
            self.page.teach(lesson)

    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Show where the bench stands."""
        if self.page is not None:
            self.page.show_snapshot(snapshot)

    def close_down(self) -> None:
        """Close it for good."""
        if self.page is not None:
            self.page.close()
            self.page.deleteLater()
            self.page = None
