"""What comes into the logbook from elsewhere and what goes out of it: the wires for that."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.window.layered_page import LayeredPage
from benchtemp.window.pages import LatePage
from benchtemp.window.panels.labels import button

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from PySide6.QtWidgets import QHBoxLayout

    from benchtemp.logbook.folder import Logbook
    from benchtemp.window.findings_page.page import FindingsPage
    from benchtemp.window.handing_over.actions import HandingOver
    from benchtemp.window.handing_over.matter import Matter
    from benchtemp.window.handing_over.picture_page import PicturePage
    from benchtemp.window.handing_over.report_page import ReportPage
    from benchtemp.window.import_page.page import ImportPage
    from benchtemp.window.logbook_page.page import LogbookPage
    from benchtemp.window.pages import Behind
    from benchtemp.window.panel import Panel


class Exchange(QObject):
    """Lays the import, reports and pictures over the pages they are asked for on.

    Attributes:
        logbook_place, findings_place: The pages as the rail needs them.

    Signals:
        imported: Recordings were made of files from elsewhere: a tuple of their paths.
    """

    imported = Signal(object)

    def __init__(self, logbook: Logbook, logbook_page: Behind, findings: Behind, parent: QObject) -> None:
        super().__init__(parent)
        self._logbook = logbook
        self.logbook_place = LayeredPage(logbook_page)
        self.findings_place = LayeredPage(findings)
        self._import = LatePage(self._make_import)
        self.logbook_place.add(self._import)
        self._reports: dict[LayeredPage, LatePage[ReportPage]] = {}
        self._pictures: dict[LayeredPage, LatePage[PicturePage]] = {}
        self._handing_over: list[HandingOver] = []
        self._logbook_page: LogbookPage | None = None
        for place in (self.logbook_place, self.findings_place):
            self._reports[place] = LatePage(partial(self._make_report, place))
            self._pictures[place] = LatePage(partial(self._make_picture, place))
            place.add(self._reports[place])
            place.add(self._pictures[place])

    # -- pages, made when they are wanted ------------------------------------------------------------------

    def _make_import(self) -> ImportPage:
        from benchtemp.window.import_page.page import ImportPage  # noqa: PLC0415 - it brings the plots

        page = ImportPage(self._logbook)
        page.left.connect(self.logbook_place.uncover)
        page.imported.connect(self.imported)
        page.logbook_asked.connect(self._show_imported)
        return page

    def _make_report(self, place: LayeredPage) -> ReportPage:
        from benchtemp.window.handing_over.report_page import ReportPage  # noqa: PLC0415 - not to paint

        page = ReportPage()
        page.left.connect(place.uncover)
        return page

    def _make_picture(self, place: LayeredPage) -> PicturePage:
        from benchtemp.window.handing_over.picture_page import PicturePage  # noqa: PLC0415 - not to paint

        page = PicturePage()
        page.left.connect(place.uncover)
        return page

    @property
    def import_page(self) -> ImportPage:
        """The import page."""
        return self._import.page

    def report_page(self, place: LayeredPage) -> ReportPage:
        """Return the report page that is laid over one of the places."""
        return self._reports[place].page

    def picture_page(self, place: LayeredPage) -> PicturePage:
        """Return the picture page that is laid over one of the places."""
        return self._pictures[place].page

    # -- where they are asked for --------------------------------------------------------------------------

    def take_logbook(self, page: LogbookPage) -> None:
        """Let files be imported, and the shots chosen be handed over, from the Logbook page."""
        from benchtemp.window.handing_over.matter import Matter  # noqa: PLC0415

        self._logbook_page = page

        def chosen() -> Matter | None:
            paths = page.chosen
            return Matter(paths, self._logbook) if paths else None

        handing_over = self._hand_over(
            page.actions,
            chosen,
            page,
            self.logbook_place,
            as_menu=True,
            whether=lambda: bool(page.chosen_shots),
        )
        page.chosen_changed.connect(handing_over.show_whether)
        handing_over.told.connect(page.message.say)
        import_button = button("Import…", tip="Text files of other meters")
        import_button.clicked.connect(self.show_import)
        page.actions.insertWidget(0, import_button)
        page.import_asked.connect(self.show_import)

    def take_findings(self, page: FindingsPage) -> None:
        """Let the study shown be handed over from the Findings page."""
        from benchtemp.window.handing_over.matter import Matter  # noqa: PLC0415

        def shown() -> Matter | None:
            answer = page.shown()
            if answer is None:
                return None
            question = answer.question
            book = page.logbook
            return Matter(
                (book.root,), book, question.selection, question.asked, question.wanted, answer.study
            )

        handing_over = self._hand_over(page.action_row, shown, page, self.findings_place, as_menu=False)
        page.answered.connect(handing_over.show_whether)
        handing_over.told.connect(page.said.say)
        page.view.copy_button.hide()

    def _hand_over(
        self,
        row: QHBoxLayout,
        matter: Callable[[], Matter | None],
        page: Panel,
        place: LayeredPage,
        *,
        as_menu: bool,
        whether: Callable[[], bool] | None = None,
    ) -> HandingOver:
        from benchtemp.window.handing_over.actions import HandingOver  # noqa: PLC0415

        made = HandingOver(row, matter, lambda: page.unit, page, as_menu=as_menu, whether=whether)
        made.report_asked.connect(partial(self._show_report, place))
        made.picture_asked.connect(partial(self._show_picture, place))
        self._handing_over.append(made)
        return made

    def _show_report(self, place: LayeredPage, matter: Matter) -> None:
        self.report_page(place).take(matter)
        place.lay(self._reports[place])

    def _show_picture(self, place: LayeredPage, matter: Matter) -> None:
        self.picture_page(place).take(matter)
        place.lay(self._pictures[place])

    @Slot()
    def show_import(self) -> None:
        """Show the import page."""
        self.logbook_place.lay(self._import)

    @Slot(object)
    def _show_imported(self, paths: tuple[Path, ...]) -> None:
        """Show in the logbook what was imported."""
        self.logbook_place.uncover()  # now at the latest the page is there
        assert self._logbook_page is not None
        self._logbook_page.show_files(paths)

    def close_down(self) -> None:
        """Stop what is being read to be copied."""
        for one in self._handing_over:
            one.close_down()
