"""The Practice page as a whole: everything can be named and reached, nothing is cut off."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

from benchtemp.window.practice_page.preparing import Prepared

CONTROLS = QAbstractButton | QAbstractItemView | QComboBox | QLineEdit | QPlainTextEdit


def views(trainee, items):
    """Bring every view of the page to the front, one after the other."""
    yield trainee.page.choosing
    trainee.begin(Prepared(items[:1], "One shot"))
    yield trainee.panel.form
    trainee.panel.form.skip_button.click()
    yield trainee.panel.marking
    trainee.panel.marking.on_button.click()
    yield trainee.page.score
    trainee.page.show_choice()
    trainee.page.begin_case(5)
    yield trainee.page.diagnosing.view


def test_every_control_can_be_named(trainee, items):
    for view in views(trainee, items):
        assert view.isVisible()
        for control in view.findChildren(QWidget):
            if not isinstance(control, CONTROLS) or not control.isVisible():
                continue
            if control.focusPolicy() is Qt.FocusPolicy.NoFocus or control.objectName().startswith("qt_"):
                continue
            named = control.accessibleName() or getattr(control, "text", str)()
            assert named, f"{type(control).__name__} in {type(view).__name__}"


@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_no_button_s_text_is_cut_off(window, trainee, items, unit):
    if unit == "degF":
        window.looks.next_unit()
    for view in views(trainee, items):
        for _ in range(5):
            QApplication.processEvents()
        for button in view.findChildren(QAbstractButton):
            if button.isVisible() and button.text():
                needed = button.fontMetrics().horizontalAdvance(button.text())
                assert button.width() >= needed, button.text()


def test_every_view_fits_the_smallest_window(window, trainee, items):
    for view in views(trainee, items):
        for _ in range(5):
            QApplication.processEvents()
        assert (window.width(), window.height()) == (1024, 700), type(view).__name__
        for label in view.findChildren(QLabel):
            if label.isVisible() and label.text() and not label.wordWrap():
                assert label.width() >= label.sizeHint().width() - 1, label.text()


def test_the_page_is_made_when_it_is_first_wanted(window):
    assert window.practising.place.made is None
    window.show_page(5)
    assert window.practising.place.made is not None


def test_tab_reaches_everything_on_the_choice(qtbot, trainee):
    choosing = trainee.page.choosing
    choosing.trainee.setFocus()
    seen = set()
    for _ in range(60):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        seen.add(QApplication.focusWidget())
    wanted = {*choosing.levels.values(), choosing.count, choosing.file_button, choosing.code}
    assert wanted | {choosing.case_button, choosing.trainee} <= seen


def test_names_that_have_scores_are_offered(trainee):
    trainee.page.choosing.show_trainees(["Ada", "Robin"])
    completer = trainee.page.choosing.trainee.completer()
    completer.setCompletionPrefix("ro")
    assert completer.currentCompletion() == "Robin"
