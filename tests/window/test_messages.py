from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from benchtemp.window.messages import Message, MessageBoard, Weight


@pytest.fixture
def board(qtbot):
    made = MessageBoard()
    qtbot.addWidget(made)
    return made


def test_an_empty_board_takes_no_room(board):
    assert not board.isVisibleTo(None)
    board.put(Message("disk", Weight.TROUBLE, "The disk is full."))
    assert board.isVisible()
    board.withdraw("disk")
    assert not board.isVisible()


def test_the_weightiest_stands_first(board):
    board.put(Message("note", Weight.NOTE, "one"))
    board.put(Message("disk", Weight.TROUBLE, "two"))
    board.put(Message("care", Weight.CAUTION, "three"))
    assert [message.key for message in board.messages] == ["disk", "care", "note"]


def test_a_later_message_takes_the_place_of_its_key(board):
    board.put(Message("source", Weight.NOTE, "one"))
    board.put(Message("source", Weight.TROUBLE, "two"))
    assert [message.text for message in board.messages] == ["two"]


def test_a_passing_message_goes_by_itself(qtbot, board):
    board.put(Message("refused", Weight.NOTE, "nothing to undo", lasts_ms=30))
    qtbot.waitUntil(lambda: not board.messages)


def test_a_message_can_be_put_away_and_one_that_stands_cannot(qtbot, board):
    board.put(Message("note", Weight.NOTE, "one"))
    board.put(Message("disk", Weight.TROUBLE, "two", may_go=False))
    away = [button for button in board.findChildren(QPushButton) if button.isVisible()]
    assert [button.text() for button in away] == ["Put away"]
    qtbot.mouseClick(away[0], Qt.MouseButton.LeftButton)
    assert [message.key for message in board.messages] == ["disk"]


def test_an_action_is_carried_out(qtbot, board):
    done = []
    board.put(Message("interrupted", Weight.NOTE, "one", action="Close it", act=lambda: done.append(1)))
    button = next(button for button in board.findChildren(QPushButton) if button.text() == "Close it")
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert done == [1]


def test_weight_is_told_by_a_word(board):
    board.put(Message("disk", Weight.TROUBLE, "The disk is full."))
    line = board.findChildren(type(board._lines["disk"]))[0]
    assert line.accessibleName() == "Trouble: The disk is full."
    assert line._word.text() == "Trouble"


def test_a_few_messages_stand_at_a_time_and_the_others_wait(board):
    for number in range(5):
        board.put(Message(f"note {number}", Weight.NOTE, f"message {number}"))
    board.put(Message("disk", Weight.TROUBLE, "The disk is full."))
    shown = [line.message.key for line in board._lines.values() if line.isVisible()]
    assert len(shown) == 3
    assert "disk" in shown
    board.clear("disk", "note 0")
    assert [key for key, line in board._lines.items() if line.isVisible()] == ["note 1", "note 2", "note 3"]


def test_long_messages_do_not_hold_the_window_open(board):
    board.put(Message("cautions", Weight.CAUTION, "Hot water and steam scald. " * 20))
    assert board.minimumSizeHint().height() < 80
    board.resize(900, 400)
    line = board._lines["cautions"]
    assert line.heightForWidth(900) > 2 * board.fontMetrics().lineSpacing()
