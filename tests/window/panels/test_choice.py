from __future__ import annotations

from benchtemp.window.panels.choice import Choice


def pictured(qtbot, text, width):
    choice = Choice("Plan", [(1, text)])
    qtbot.addWidget(choice)
    choice.resize(width, 30)
    return choice.grab().toImage()


def test_a_text_too_long_ends_in_an_ellipsis_and_is_chosen_whole(qtbot):
    text = "setpoint series Ferrowick Two, second morning"
    choice = Choice("Plan", [(1, text)])
    qtbot.addWidget(choice)
    room = 140
    shown = {tail: pictured(qtbot, text + tail, room) for tail in ("", ", with another end")}
    assert choice.currentText() == text
    assert len({picture.constBits().tobytes() for picture in shown.values()}) == 1  # both are cut alike
    assert pictured(qtbot, text, 500) != pictured(qtbot, text + ", with another end", 500)
