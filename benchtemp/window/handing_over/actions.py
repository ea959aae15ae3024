"""The buttons by which shots and findings are handed over, for a page's own row of buttons."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.errors import BenchtempError
from benchtemp.units import TempUnit
from benchtemp.window.handing_over.clipboard import (
    Copied,
    put_on_clipboard,
    table_of_shots,
    table_of_study,
    verdict_of_shots,
    verdict_of_study,
)
from benchtemp.window.logbook_page.menu_button import MenuButton
from benchtemp.window.logbook_page.running import Running
from benchtemp.window.panels.labels import button

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtWidgets import QHBoxLayout

    from benchtemp.reports.tested import Tested
    from benchtemp.window.handing_over.matter import Matter


class HandingOver(QObject):
    """Report…, Picture… and Copy, for what a page shows or has chosen.

    Signals:
        report_asked: Carries the `Matter`.
        picture_asked: Carries the `Matter`.
        told: A sentence on what was copied, or why it was not.
    """

    report_asked = Signal(object)
    picture_asked = Signal(object)
    told = Signal(str)

    def __init__(
        self,
        row: QHBoxLayout,
        matter: Callable[[], Matter | None],
        unit: Callable[[], TempUnit],
        parent: QObject,
        *,
        look: str = "",
    ) -> None:
        """Put the buttons into a row.

        Args:
            row: Of the page.
            matter: Tells what is to be handed over now, None for nothing.
            unit: Tells in what temperatures are shown.
            parent: The page.
            look: Of the buttons.
        """
        super().__init__(parent)
        self._matter = matter
        self._unit = unit
        self._running = Running(self, name="to copy")
        self._running.failed.connect(self.told)
        self.report_button = button("Report…", look=look, tip="A document for a customer or a lab")
        self.picture_button = button("Picture…", look=look, tip="For an article or a film")
        self.copy_button = MenuButton("Copy", "Copy to the clipboard")
        if look:
            self.copy_button.setProperty("look", look)
        for one in (self.report_button, self.picture_button, self.copy_button):
            row.addWidget(one)
        self.report_button.clicked.connect(self._ask_report)
        self.picture_button.clicked.connect(self._ask_picture)
        self.copy_button.wanted.connect(self._fill_menu)
        self.show_whether()

    @Slot()
    def show_whether(self) -> None:
        """Let the buttons be pressed only while there is something to hand over."""
        there = self._matter() is not None
        for one in (self.report_button, self.picture_button, self.copy_button):
            one.setEnabled(there)

    @Slot()
    def _ask_report(self) -> None:
        matter = self._matter()
        if matter is not None:
            self.report_asked.emit(matter)

    @Slot()
    def _ask_picture(self) -> None:
        matter = self._matter()
        if matter is not None:
            self.picture_asked.emit(matter)

    @Slot()
    def _fill_menu(self) -> None:
        entries = self.copy_button.entries
        entries.addAction("As table").triggered.connect(self.copy_table)
        entries.addAction("Verdict").triggered.connect(self.copy_verdict)

    @Slot()
    def copy_table(self) -> None:
        """Copy all figures, as text and as HTML at once."""
        self._copy(table_of_study, table_of_shots, "The table")

    @Slot()
    def copy_verdict(self) -> None:
        """Copy what is said in a sentence, with what it rests on."""
        self._copy(verdict_of_study, verdict_of_shots, "The verdict")

    def _copy(
        self,
        of_study: Callable[[Any, TempUnit], Copied],
        of_shots: Callable[[Tested, TempUnit], Copied],
        what: str,
    ) -> None:
        matter, unit = self._matter(), self._unit()
        if matter is None:
            return
        if matter.study is not None:
            try:
                self._put(of_study(matter.study, unit), what)
            except BenchtempError as error:
                self.told.emit(str(error))
            return
        self._running.start(
            "Reading the shots",
            lambda progress, cancelled: of_shots(matter.read(progress, cancelled), unit),
            lambda copied: self._put(copied, what),
        )

    def _put(self, copied: Copied, what: str) -> None:
        put_on_clipboard(copied)
        self.told.emit(f"{what} is on the clipboard, as text and as HTML.")

    @property
    def busy(self) -> bool:
        """Tell whether something is being read to be copied."""
        return self._running.busy

    def close_down(self) -> None:
        """Stop what is being read."""
        self._running.finish()
