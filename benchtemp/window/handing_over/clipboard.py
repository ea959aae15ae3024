"""Results on the clipboard, as text and as HTML at once: whoever pastes takes what it can use."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QMimeData
from PySide6.QtGui import QGuiApplication

from benchtemp.reports.clipboard import (
    answers_as_html,
    answers_as_text,
    shots_as_html,
    shots_as_text,
    study_as_html,
    study_as_text,
)
from benchtemp.reports.sections.verdicts import plain_answers, study_answers

if TYPE_CHECKING:
    from benchtemp.reports.tested import Tested
    from benchtemp.studies.outcome import Study
    from benchtemp.units import TempUnit


class Copied(NamedTuple):
    """The same in two forms."""

    text: str
    html: str


def table_of_study(study: Study, unit: TempUnit) -> Copied:
    """Return a study with its verdict and tables."""
    return Copied(study_as_text(study, unit), study_as_html(study, unit))


def verdict_of_study(study: Study, unit: TempUnit) -> Copied:
    """Return what a study says, without its tables."""
    answers = study_answers([study], unit)
    return Copied(answers_as_text(answers), answers_as_html(answers))


def table_of_shots(tested: Tested, unit: TempUnit) -> Copied:
    """Return shots as a table."""
    shots = [one.shot for one in tested.shots]
    return Copied(shots_as_text(shots, unit), shots_as_html(shots, unit))


def verdict_of_shots(tested: Tested, unit: TempUnit) -> Copied:
    """Return what shots say by themselves."""
    answers = plain_answers(tested, unit)
    return Copied(answers_as_text(answers), answers_as_html(answers))


def put_on_clipboard(copied: Copied) -> None:
    """Put both forms on the clipboard."""
    data = QMimeData()
    data.setText(copied.text)
    data.setHtml(copied.html)
    QGuiApplication.clipboard().setMimeData(data)
