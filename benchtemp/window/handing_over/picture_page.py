"""Making a picture or a film: what it shows, how large, on what ground; as it will be, at once."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtWidgets import QFormLayout, QFrame, QHBoxLayout, QLabel, QScrollArea, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.reports.charts.palette import PictureLook
from benchtemp.reports.charts.size import size_from
from benchtemp.window.fields import NumberField, TextField
from benchtemp.window.handing_over.documents import check_target, free_name, name_for
from benchtemp.window.handing_over.drawing import (
    FILM_EXTRA,
    Kind,
    PictureWish,
    Subject,
    film_library_there,
    preview_png,
    subjects_of,
    usual_title,
    write_picture,
)
from benchtemp.window.handing_over.picture_view import PictureView
from benchtemp.window.handing_over.saving import PlaceToSave, open_with_system
from benchtemp.window.handing_over.writing_page import WritingPage
from benchtemp.window.logbook_page.running import Running
from benchtemp.window.panels.choice import Choice
from benchtemp.window.panels.labels import Sentence, button, heading
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.reports.tested import Tested
    from benchtemp.units import TempUnit
    from benchtemp.window.handing_over.matter import Matter
    from benchtemp.window.theme import Theme

_SETTLES_MS = 200
_SIZES = (
    ("1600x900", "1600 × 900"),
    ("1920x1080", "1920 × 1080"),
    ("3840x2160", "3840 × 2160"),
    ("1280x720", "1280 × 720"),
    ("1200x1200", "1200 × 1200"),
    ("1080x1920", "1080 × 1920, upright"),
)
_LOOKS = (
    (PictureLook.LIGHT.value, "light"),
    (PictureLook.DARK.value, "dark"),
    (PictureLook.TRANSPARENT.value, "transparent, for footage"),
)


class PicturePage(WritingPage):
    """Draws the shots it is given; everything is drawn in a thread."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self.setAccessibleName("Picture")
        self._matter: Matter | None = None
        self._tested: Tested | None = None
        self._named = ""
        self.written: Path | None = None
        self._running = Running(self, name="picture")
        self._drawing = Background(self, name="preview")
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(_SETTLES_MS)
        self._build()
        self._lay_out()
        self._connect()

    def _build(self) -> None:
        self.title = QLabel("Picture")
        self.back_button = button("Back (Esc)")
        self.view = PictureView()
        self.subject = Choice("What it shows", least_chars=18)
        self.kind = Choice("Format", least_chars=18)
        self.size_choice = Choice("Size in pixels", _SIZES, least_chars=12)
        self.size_choice.setEditable(True)
        self.look = Choice("Background", _LOOKS, least_chars=12)
        self.heading = TextField(name="Title", hint="none")
        self.rate = NumberField(name="pictures a second", low=1, high=120, decimals=3, may_be_empty=False)
        self.rate.show_value(25.0)
        self.extra = Sentence(look="caution", name="Films")
        self.place = PlaceToSave()
        self.status = Sentence(look="quiet", name="Picture")
        self.save_button = button("Save", look="primary")
        self.cancel_button = button("Cancel")
        self.open_button = button("Open it")

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.addWidget(self.title)
        head.addStretch(1)
        head.addWidget(self.back_button)
        self._form = QFormLayout()
        self._form.setHorizontalSpacing(10)
        self._form.setVerticalSpacing(6)
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for name, field in (
            ("It shows", self.subject),
            ("Format", self.kind),
            ("Pictures a second", self.rate),
            ("Size in pixels", self.size_choice),
            ("Background", self.look),
            ("Title", self.heading),
            ("Save in", self.place),
        ):
            self._form.addRow(name, field)
        holder = QFrame()
        holder.setProperty("look", "surface")
        inside = QVBoxLayout(holder)
        inside.setContentsMargins(12, 10, 12, 10)
        inside.addWidget(heading("How it is drawn"))
        inside.addLayout(self._form)
        inside.addWidget(self.extra)
        inside.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(holder)
        self._holder = holder
        both = QHBoxLayout()
        both.setSpacing(10)
        both.addWidget(self.view, 1)
        both.addWidget(self._scroll)
        foot = QHBoxLayout()
        foot.setSpacing(8)
        foot.addWidget(self.status, 3)
        foot.addStretch(1)
        for one in (self.open_button, self.cancel_button, self.save_button):
            foot.addWidget(one)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 12, 16, 12)
        layout.setSpacing(8)
        layout.addLayout(head)
        layout.addLayout(both, 1)
        layout.addLayout(foot)

    def _connect(self) -> None:
        self.back_button.clicked.connect(self.leave)
        self.subject.activated.connect(self._change_subject)
        self.kind.activated.connect(self._change_kind)
        self.look.activated.connect(self._draw_soon)
        self.size_choice.editTextChanged.connect(self._draw_soon)
        self.heading.textEdited.connect(self._draw_soon)
        self.rate.taken.connect(self._draw_soon)
        self._settle.timeout.connect(self.draw)
        self._drawing.done.connect(self._show)
        self._drawing.failed.connect(self._refuse)
        self.save_button.clicked.connect(self.save)
        self.cancel_button.clicked.connect(self._running.cancel)
        self.open_button.clicked.connect(self.open)
        self._running.told.connect(self._tell)
        self._running.failed.connect(self._fail)

    def set_theme(self, theme: Theme) -> None:
        """Take fonts anew."""
        super().set_theme(theme)
        self.title.setFont(theme.font(1.5, bold=True))
        self.view.set_theme(theme)
        bar_px = self._scroll.verticalScrollBar().sizeHint().width()
        self._scroll.setFixedWidth(self._holder.minimumSizeHint().width() + bar_px + 6)

    def set_unit(self, unit: TempUnit) -> None:
        """Draw in another unit."""
        changed = unit is not self.unit
        super().set_unit(unit)
        if changed and self._tested is not None:
            self._change_subject()

    # -- what it is about ----------------------------------------------------------------------------------

    def take(self, matter: Matter) -> None:
        """Draw these shots; they are read at once, in the background."""
        self._matter, self._tested = matter, None
        self.written = None
        self.status.say("")
        self.subject.clear()
        self.view.show_picture(b"")
        self._running.cancel()
        self._running.start("Reading the shots", matter.read, partial(self._take_tested, matter))
        self._show_buttons()

    def _take_tested(self, matter: Matter, tested: Tested) -> None:
        if matter is not self._matter:
            return
        self._tested = tested
        for subject in subjects_of(tested, matter.study, self.unit):
            self.subject.addItem(subject.name, subject)
        self._change_subject()
        self._show_buttons()

    @Slot()
    def _change_subject(self) -> None:
        """Offer films of a single shot's trace, and the title that fits."""
        subject: Subject | None = self.subject.currentData()
        tested = self._tested
        if subject is None or tested is None:
            return
        may_move = len(tested.shots) == 1 and subject.chart is None
        before = self.kind.currentData()
        self.kind.clear()
        for kind in Kind:
            if may_move or not kind.is_film:
                self.kind.addItem(kind.words, kind.value)
        if before is not None and self.kind.findData(before) >= 0:
            self.kind.select(before)
        self._change_kind()

    @Slot()
    def _change_kind(self) -> None:
        kind = Kind(self.kind.currentData())
        self._form.setRowVisible(self.rate, kind.is_film)
        missing = kind.needs_library and not film_library_there()
        self.extra.say(FILM_EXTRA if missing else "")
        self.place.show_endings(kind.ending or "a new folder")
        self.heading.setText(usual_title(self._wish()))
        self._name_file()
        self._show_buttons()
        self._draw_soon()

    def _name_file(self) -> None:
        """Propose a name, unless the user wrote one."""
        tested, kind = self._tested, Kind(self.kind.currentData())
        if tested is None or self.place.name.text() not in ("", self._named):
            return
        wanted = name_for(tested, "film" if kind.is_film else "picture")
        self._named = free_name(self.place.path.parent, wanted, (kind.ending,))
        self.place.propose(self._named)

    def _wish(self) -> PictureWish:
        """Return what is described; the size is the usual one where none can be read.

        Raises:
            BadInput: The size is none.
        """
        assert self._matter is not None
        assert self._tested is not None
        text = self.size_choice.currentText().split(",")[0].replace(" ", "")
        kind = Kind(self.kind.currentData())
        return PictureWish(
            tested=self._tested,
            study=self._matter.study,
            subject=self.subject.currentData(),
            kind=kind,
            size_px=size_from(text),
            look=PictureLook(self.look.currentData()),
            title=self.heading.text().strip(),
            unit=self.unit,
            frames_per_s=self.rate.value or 25.0,
            target=self.place.path.with_name(self.place.path.name + kind.ending),
            overwrite=self.place.overwrite.isChecked(),
        )

    # -- drawing -------------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Tell whether something is read, drawn or written."""
        return self._running.busy or self._drawing.busy or self._settle.isActive()

    @Slot()
    def _draw_soon(self) -> None:
        if self._tested is not None:
            self._settle.start()

    @Slot()
    def draw(self) -> None:
        """Draw it to be looked at."""
        if self._tested is None or self._running.busy:
            return
        try:
            wish = self._wish()
        except BadInput as error:
            self._refuse(str(error))
            return
        self._drawing.start(partial(preview_png, wish))

    @Slot(object)
    def _show(self, png: bytes) -> None:
        if self.status.property("look") == "bad":
            self.status.say("")
        clear = PictureLook(self.look.currentData()) is PictureLook.TRANSPARENT
        self.view.show_picture(png, clear=clear, told=f"{self.subject.currentText()}: {self.heading.text()}")

    @Slot(str)
    def _refuse(self, sentence: str) -> None:
        self.view.show_picture(b"")
        self.status.say(sentence, "bad")

    # -- saving --------------------------------------------------------------------------------------------

    @Slot()
    def save(self) -> None:
        """Write it."""
        if self._tested is None or self._running.busy:
            return
        try:
            wish = self._wish()
            assert wish.target is not None
            if wish.kind is not Kind.SEQUENCE:
                check_target((wish.target,), overwrite=wish.overwrite)
        except BadInput as error:
            self.status.say(str(error), "bad")
            return
        self.place.keep()
        self.written = None
        words = "Drawing the film" if wish.kind.is_film else "Drawing"
        self._running.start(words, partial(write_picture, wish), self._finish)
        self._show_buttons()
        self.cancel_button.setFocus()

    def _finish(self, path: Any) -> None:
        self.written = path
        self.status.say(f"Written: {path}.", "good")
        self._named = self.place.name.text()
        self._name_file()
        self._show_buttons()
        self.open_button.setFocus()

    def _show_buttons(self) -> None:
        busy = self._running.busy
        named = self.kind.currentData()
        missing = named is not None and Kind(named).needs_library and not film_library_there()
        self.save_button.setEnabled(self._tested is not None and not busy and not missing)
        self.cancel_button.setVisible(busy)
        self.open_button.setVisible(self.written is not None and not busy)

    @Slot()
    def open(self) -> None:
        """Open what was written."""
        if self.written is not None:
            open_with_system(self.written)

    # -- the page ------------------------------------------------------------------------------------------

    @Slot()
    def take_focus(self) -> None:
        """Put the focus on the first choice."""
        self.subject.setFocus()

    def close_down(self) -> None:
        """Stop what is being done."""
        self._settle.stop()
        self._drawing.join(30.0)
        self._running.finish()
