"""The buttons by which shots and findings are handed over, for a page's own row of buttons."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.errors import BenchtempError
from benchtemp.units import TempUnit
from benchtemp.window.logbook_page.menu_button import MenuButton
from benchtemp.window.logbook_page.running import Running
from benchtemp.window.panels.labels import button

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtWidgets import QHBoxLayout, QMenu, QPushButton

    from benchtemp.reports.tested import Tested
    from benchtemp.window.handing_over.clipboard import Copied
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
        as_menu: bool = False,
        whether: Callable[[], bool] | None = None,
    ) -> None:
        """Put the buttons into a row.

        Args:
            row: Of the page.
            matter: Tells what is to be handed over now, None for nothing.
            unit: Tells in what temperatures are shown.
            parent: The page.
            as_menu: One button with a menu, where there is no room for more.
            whether: Tells whether there is anything to hand over, where that is known sooner than what.
        """
        super().__init__(parent)
        self._matter = matter
        self._whether = whether or (lambda: matter() is not None)
        self._unit = unit
        self._running = Running(self, name="to copy")
        self._running.failed.connect(self.told)
        self.buttons: list[QPushButton] = []
        if as_menu:
            menu = MenuButton("Hand over", "Report, picture, or copy of the shots chosen")
            menu.setToolTip("The shots chosen: as a report, a picture or film, or copied")
            menu.wanted.connect(partial(self._fill_whole_menu, menu.entries))
            self.buttons = [menu]
        else:
            report = button("Report…", look="flat", tip="A document for a customer or a lab")
            picture = button("Picture…", look="flat", tip="For an article or a film")
            copy = MenuButton("Copy", "Copy to the clipboard")
            copy.setProperty("look", "flat")
            report.clicked.connect(self.ask_report)
            picture.clicked.connect(self.ask_picture)
            copy.wanted.connect(partial(self._fill_copy_menu, copy.entries))
            self.buttons = [report, picture, copy]
        for one in self.buttons:
            row.addWidget(one)
        self.show_whether()

    @Slot()
    def show_whether(self) -> None:
        """Let the buttons be pressed only while there is something to hand over."""
        there = self._whether()
        for one in self.buttons:
            one.setEnabled(there)

    @Slot()
    def ask_report(self) -> None:
        """Ask for a report."""
        matter = self._matter()
        if matter is not None:
            self.report_asked.emit(matter)

    @Slot()
    def ask_picture(self) -> None:
        """Ask for a picture."""
        matter = self._matter()
        if matter is not None:
            self.picture_asked.emit(matter)

    def _fill_whole_menu(self, entries: QMenu) -> None:
        entries.addAction("Report…").triggered.connect(self.ask_report)
        entries.addAction("Picture or film…").triggered.connect(self.ask_picture)
        entries.addSeparator()
        entries.addAction("Copy as table").triggered.connect(self.copy_table)
        entries.addAction("Copy verdict").triggered.connect(self.copy_verdict)

    def _fill_copy_menu(self, entries: QMenu) -> None:
        entries.addAction("As table").triggered.connect(self.copy_table)
        entries.addAction("Verdict").triggered.connect(self.copy_verdict)

    @Slot()
    def copy_table(self) -> None:
        """Copy all figures, as text and as HTML at once."""
        from benchtemp.window.handing_over.clipboard import (  # noqa: PLC0415 - not needed to paint, as below
            table_of_shots,
            table_of_study,
        )

        self._copy(table_of_study, table_of_shots, "The table")

    @Slot()
    def copy_verdict(self) -> None:
        """Copy what is said in a sentence, with what it rests on."""
        from benchtemp.window.handing_over.clipboard import verdict_of_shots, verdict_of_study  # noqa: PLC0415

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
        from benchtemp.window.handing_over.clipboard import put_on_clipboard  # noqa: PLC0415

        put_on_clipboard(copied)
        self.told.emit(f"{what} is on the clipboard, as text and as HTML.")

    @property
    def busy(self) -> bool:
        """Tell whether something is being read to be copied."""
        return self._running.busy

    def close_down(self) -> None:
        """Stop what is being read."""
        self._running.finish()
