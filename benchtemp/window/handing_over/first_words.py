"""What a report will say first, to be read before it is made."""

from __future__ import annotations

from functools import partial
from html import escape
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from benchtemp.window.handing_over.documents import first_words
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence, heading
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from benchtemp.reports.answering import Asked
    from benchtemp.reports.content import Answer
    from benchtemp.reports.tested import Tested
    from benchtemp.units import TempUnit
    from benchtemp.window.handing_over.matter import Matter
    from benchtemp.window.theme import Theme

_SETTLES_MS = 250
_CONCERNS = 6


class FirstWords(Panel):
    """Works out the verdicts of the studies that are wanted, in the background, and shows them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "surface")
        self._about: tuple[Matter, Tested] | None = None
        self._asked: tuple[Asked, ...] = ()
        self._answers: tuple[Answer, ...] = ()
        self._working = Background(self, name="what a report says")
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(_SETTLES_MS)
        self.refused = Sentence(look="bad", name="Studies")
        self.words = QLabel()
        self.words.setTextFormat(Qt.TextFormat.RichText)
        self.words.setWordWrap(True)
        self.words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 12, 14, 12)
        layout.setSpacing(8)
        layout.addWidget(heading("What it says first"))
        layout.addWidget(self.refused)
        layout.addWidget(self.words)
        layout.addStretch(1)
        self._settle.timeout.connect(self._work)
        self._working.done.connect(self._take)
        self._working.failed.connect(self._refuse)

    def set_theme(self, theme: Theme) -> None:
        """Write it in other colours."""
        super().set_theme(theme)
        self._write()

    def set_unit(self, unit: TempUnit) -> None:
        """Say it in another unit."""
        super().set_unit(unit)
        self._settle.start()

    def forget(self) -> None:
        """Say nothing: other shots are being read."""
        self._about = None
        self._take(())

    def show_words(self, matter: Matter, tested: Tested, asked: tuple[Asked, ...]) -> None:
        """Show what a report of these shots says first, a moment after the last change."""
        self._about, self._asked = (matter, tested), asked
        self._settle.start()

    @property
    def busy(self) -> bool:
        """Tell whether it is being worked out."""
        return self._working.busy or self._settle.isActive()

    @Slot()
    def _work(self) -> None:
        if self._about is not None:
            self._working.start(partial(first_words, *self._about, self._asked, self.unit))

    @Slot(object)
    def _take(self, answers: tuple[Answer, ...]) -> None:
        self._answers = answers
        self.refused.say("")
        self._write()

    @Slot(str)
    def _refuse(self, sentence: str) -> None:
        self._answers = ()
        self._write()
        self.refused.say(sentence)

    def _write(self) -> None:
        parts = [self._html(answer) for answer in self._answers]
        self.words.setText("".join(parts))
        self.words.setAccessibleName(" ".join(f"{one.title}: {one.sentence}" for one in self._answers))

    def _html(self, answer: Answer) -> str:
        theme = self.theme
        lines = [
            f'<p style="margin:0 0 2px; color:{theme.soft}">{escape(answer.title)}</p>',
            f'<p style="margin:0 0 4px; font-size:large">{escape(answer.sentence)}</p>',
        ]
        if answer.limits:
            limits = escape("; ".join(answer.limits))
            lines.append(f'<p style="margin:0 0 4px; color:{theme.soft}">{limits}</p>')
        lines += [
            f'<p style="margin:0 0 2px; color:{theme.caution}">⚠ {escape(concern)}</p>'
            for concern in answer.concerns[:_CONCERNS]
        ]
        more = len(answer.concerns) - _CONCERNS
        if more > 0:
            lines.append(f'<p style="margin:0; color:{theme.caution}">and {more} more</p>')
        return "".join(lines) + '<p style="margin:0">&nbsp;</p>'

    def close_down(self) -> None:
        """Wait for what is being worked out."""
        self._settle.stop()
        self._working.join(30.0)
