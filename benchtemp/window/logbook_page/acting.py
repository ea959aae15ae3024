"""What can be done with the files chosen: the buttons, the questions before, and undoing it after."""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QPoint, Qt, QUrl, Slot
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QHBoxLayout, QMenu, QWidget

from benchtemp.logbook.index.editing import REASON_MAX
from benchtemp.window.logbook_page.check_view import Report, check_all, mend_each
from benchtemp.window.logbook_page.deeds import (
    Change,
    change,
    files,
    let_back,
    out_of_bin,
    put_aside,
    to_bin,
)
from benchtemp.window.logbook_page.export_form import Wish, export
from benchtemp.window.logbook_page.menu_button import MenuButton
from benchtemp.window.logbook_page.past import Past
from benchtemp.window.logbook_page.running import Running
from benchtemp.window.logbook_page.undo_keys import UndoKeys
from benchtemp.window.panels.labels import button

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.window.logbook_page.deeds import Deed, Work
    from benchtemp.window.logbook_page.page import LogbookPage

REASONS = ("channelled", "gusher", "wrong dose", "scale not zeroed", "probe moved", "trial")
_LOOKED_AT_MAX = 200
"""Of more files chosen it is not told whether all of them are set aside."""


class Acting(QObject):
    """Carries out what the user wants done with files of the page's list."""

    def __init__(self, page: LogbookPage) -> None:
        super().__init__(page)
        self._page = page
        self._past = Past()
        self._again: Work | None = None
        self._aside_asked: tuple[str, ...] = ()
        self._reasons: tuple[str, ...] = REASONS
        self._doing = Running(self, name="logbook's files")
        self._doing.told.connect(page.message.show_progress)
        self._doing.failed.connect(self._tell_trouble)
        self._checking = Running(self, name="check")
        self._checking.told.connect(page.message.show_progress)
        self._checking.failed.connect(page.check.tell)
        self._make_buttons()
        self._connect()

    def _make_buttons(self) -> None:
        self.replay_button = button("Replay", look="primary", tip="Replay the current file (Enter)")
        self.edit_button = button("Edit", tip="Go to tags and notes (F2)")
        self.aside_button = button("Set aside…", tip="Leave out of studies, for a reason")
        self.bin_button = button("Move to bin", tip="Move to the logbook's bin (Delete)")
        self.export_button = button("Export…", tip="CSV, JSON or Parquet")
        self.back_button = button("Back to the logbook (Esc)")
        self.more_button = MenuButton("More", "More that can be done")
        self.more_button.wanted.connect(self.fill_more)
        self.bar = QWidget()
        self.row = QHBoxLayout(self.bar)
        self.row.setContentsMargins(0, 0, 0, 0)
        self.row.setSpacing(6)
        for widget in (
            self.replay_button, self.edit_button, self.aside_button, self.bin_button, self.export_button
        ):  # fmt: skip
            self.row.addWidget(widget)
        self._more_actions = QWidget()
        self._more_actions.setLayout(self._page.actions)
        self._page.actions.setContentsMargins(0, 0, 0, 0)
        self.row.addWidget(self._more_actions)
        self.row.addWidget(self.back_button)
        self.row.addStretch(1)
        self.row.addWidget(self.more_button)

    def _connect(self) -> None:
        page = self._page
        self.replay_button.clicked.connect(page.replay)
        self.edit_button.clicked.connect(page.detail.take_focus)
        self.aside_button.clicked.connect(self.aside)
        self.bin_button.clicked.connect(self.move)
        self.export_button.clicked.connect(self.ask_export)
        self.back_button.clicked.connect(self.leave_bin)
        page.detail.changed.connect(self.change)
        page.ask.given.connect(self._put_aside)
        page.ask.left.connect(page.take_focus)
        page.export.wanted.connect(self.export)
        page.export.left.connect(page.take_focus)
        page.message.undo_asked.connect(self.undo)
        page.message.again_asked.connect(self.again)
        page.message.cancel_asked.connect(self.cancel)
        page.check.back_asked.connect(self.leave_check)
        page.check.mend_asked.connect(self.mend)
        page.list.customContextMenuRequested.connect(self.show_menu)
        self._undo_keys = UndoKeys(page)
        self._undo_keys.undo_asked.connect(self.undo)
        self._undo_keys.redo_asked.connect(self.redo)

    # -- what can be done now ------------------------------------------------------------------------------

    def fit(self, chosen: Sequence[str]) -> None:
        """Offer what can be done with these files."""
        in_bin, some = self._page.in_bin, bool(chosen)
        self.replay_button.setEnabled(some)
        for widget in (self.edit_button, self.aside_button, self._more_actions):
            widget.setVisible(not in_bin)
        self.back_button.setVisible(in_bin)
        self.edit_button.setEnabled(some)
        shots = self._page.chosen_shots
        self.aside_button.setEnabled(bool(shots))
        self.bin_button.setEnabled(some)
        self.bin_button.setText("Take out of the bin" if in_bin else "Move to bin")
        self.export_button.setVisible(not in_bin)
        self.export_button.setEnabled(bool(self._page.shots.places))
        self.aside_button.setText("Take back" if self._all_aside(shots) else "Set aside…")

    def order_tabs(self) -> None:
        """Let Tab go through the buttons as they stand, also those that came later."""
        items = (self._page.actions.itemAt(place) for place in range(self._page.actions.count()))
        added = [widget for item in items if item is not None and (widget := item.widget()) is not None]
        buttons = (
            self.replay_button, self.edit_button, self.aside_button, self.bin_button, self.export_button,
            *added, self.back_button, self.more_button,
        )  # fmt: skip
        for before, after in pairwise(buttons):
            QWidget.setTabOrder(before, after)

    def _all_aside(self, shots: Sequence[str]) -> bool:
        if not shots or len(shots) > _LOOKED_AT_MAX:
            return False
        rows = [self._page.shots.row(place) for place in shots]
        return all(row is not None and row.set_aside for row in rows)

    @Slot()
    def fill_more(self) -> None:
        """Make the menu's entries anew."""
        page, menu = self._page, self.more_button.entries
        menu.addAction("Open the folder of the file").triggered.connect(self.open_folder)
        menu.addAction("Select all found (Ctrl+A)").triggered.connect(page.list.selectAll)
        menu.addSeparator()
        for verb, words, act in (
            ("Undo", self._past.undo_words, self.undo), ("Redo", self._past.redo_words, self.redo)
        ):  # fmt: skip
            action = menu.addAction(f"{verb} {words}".strip().replace("&", "&&"))
            action.setEnabled(bool(words))
            action.triggered.connect(act)
        menu.addSeparator()
        other = "Back to the logbook" if page.in_bin else "See the bin"
        menu.addAction(other).triggered.connect(lambda: page.show_bin(shown=not page.in_bin))
        if not page.in_bin:
            menu.addAction("Check all files").triggered.connect(self.check)
        menu.addAction("Make the list anew from the files").triggered.connect(page.upkeep.rebuild)

    @Slot(QPoint)
    def show_menu(self, at: QPoint) -> None:
        """Offer what can be done, at the pointer."""
        menu = QMenu(self._page)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for widget in (
            self.replay_button, self.edit_button, self.aside_button, self.bin_button, self.export_button
        ):  # fmt: skip
            if not widget.isHidden():
                action = menu.addAction(widget.text())
                action.setEnabled(widget.isEnabled())
                action.triggered.connect(widget.click)
        menu.addAction("Open the folder of the file").triggered.connect(self.open_folder)
        menu.popup(self._page.list.viewport().mapToGlobal(at))

    # -- deeds ---------------------------------------------------------------------------------------------

    @Slot(object)
    def change(self, wanted: Change) -> None:
        """Change tags or notes of what the details show."""
        seen = self._page.detail.chosen.seen
        if seen and not self._page.in_bin:
            self._do("Changing", partial(change, self._page.index, wanted, dict(seen)))

    @Slot()
    def aside(self) -> None:
        """Ask why the shots chosen are set aside, or take them back."""
        page, shots = self._page, self._page.chosen_shots
        if not shots:
            return
        if self._all_aside(shots):
            self._do("Taking back", partial(let_back, page.index, shots))
            return
        self._aside_asked = shots
        page.message.clear()
        which = "is this shot" if len(shots) == 1 else f"are these {files(len(shots), 'shot')}"
        page.ask.ask(
            f"Why {which} set aside?",
            hint="such as: channelled",
            yes="Set aside",
            offers=self._reasons,
            length_max=REASON_MAX,
        )

    @Slot(str)
    def _put_aside(self, reason: str) -> None:
        self._reasons = tuple(dict.fromkeys((reason, *self._reasons)))
        self._do("Setting aside", partial(put_aside, self._page.index, self._aside_asked, reason))

    @Slot()
    def move(self) -> None:
        """Move what is chosen to the bin, or out of it."""
        page, chosen = self._page, self._page.list.chosen
        if not chosen:
            return
        if page.in_bin:
            bin_name = page.index.logbook.bin_dir.name
            places = [f"{bin_name}/{place}" for place in chosen]
            self._do("Taking out", partial(out_of_bin, page.index.logbook, page.index, places))
        else:
            self._do("Moving", partial(to_bin, page.index, chosen))

    @Slot()
    def undo(self) -> None:
        """Undo what was done last."""
        self._doing.start("Undoing", self._past.undo, self._show_undone)

    @Slot()
    def redo(self) -> None:
        """Do again what was undone last."""
        self._doing.start("Doing again", self._past.redo, self._show_undone)

    @Slot()
    def again(self) -> None:
        """Do what was refused, all the same."""
        if self._again is not None:
            self._do("Changing", self._again)

    def _do(self, words: str, work: Work) -> None:
        self._again = None
        self._doing.start(words, partial(self._past.do, work), self._show)

    def _show_undone(self, deed: Deed) -> None:
        self._page.listing.choose(deed.places)
        self._show(deed)

    def _show(self, deed: Deed) -> None:
        self._again = deed.again
        page = self._page
        page.message.show_deed(deed)
        self.offer_undo(offered=not page.check.isVisible())
        page.renew()

    def offer_undo(self, *, offered: bool) -> None:
        """Offer to undo what was done last, where it can be seen what is undone."""
        self._page.message.show_undo(self._past.undo_words if offered else "")

    @Slot(str)
    def _tell_trouble(self, sentence: str) -> None:
        page = self._page
        if page.export.isVisible():
            page.export.tell(sentence, bad=True)
        else:
            page.message.say(sentence, "bad")
        page.renew()

    # -- export, check, folder -----------------------------------------------------------------------------

    @Slot()
    def ask_export(self) -> None:
        """Ask what to export where."""
        self._page.message.clear()
        self._page.export.ask(self._page.list.chosen, self._page.shots.places)

    @Slot(object)
    def export(self, wish: Wish) -> None:
        """Export shots."""
        self._doing.start(
            "Exporting", partial(export, self._page.index, wish), partial(self._page.export.tell, bad=False)
        )

    @Slot()
    def check(self) -> None:
        """Check all files."""
        self._page.show_check(shown=True)
        self._page.check.begin()
        self._checking.start("Checking", partial(check_all, self._page.index), self._take_report)

    def _take_report(self, report: Report) -> None:
        self._page.check.show_report(report)

    @Slot(object)
    def mend(self, places: tuple[str, ...]) -> None:
        """Mend files that the check found damaged."""
        self._checking.start(
            "Mending", partial(mend_each, self._page.index, places), self._page.check.show_mended
        )

    @Slot()
    def leave_check(self) -> None:
        """Go back to the list; a check under way stops."""
        self._checking.cancel()
        self._page.show_check(shown=False)
        self._page.renew()

    @Slot()
    def cancel(self) -> None:
        """Stop whatever takes long."""
        for running in (self._doing, self._checking):
            running.cancel()
        self._page.upkeep.cancel()

    @Slot()
    def open_folder(self) -> None:
        """Open the folder of the current file in the system's own program for files."""
        page = self._page
        chosen = page.list.chosen
        root = page.shown.logbook.root
        folder = (root / chosen[0]).parent if chosen else root
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))

    @Slot()
    def leave_bin(self) -> None:
        """Go back from the bin to the logbook."""
        if self._page.in_bin:
            self._page.show_bin(shown=False)

    @property
    def busy(self) -> bool:
        """Tell whether anything is being done."""
        return self._doing.busy or self._checking.busy

    def close_down(self) -> None:
        """Finish what was begun."""
        self._doing.finish()  # an edit that was typed is made
        self._checking.finish(stopping=True)
