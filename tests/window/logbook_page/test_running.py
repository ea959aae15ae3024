"""Pieces of work done one after the other."""

from __future__ import annotations

import threading

import pytest

from benchtemp.errors import BadInput
from benchtemp.window.logbook_page.running import Running


@pytest.fixture
def running(qapp):  # noqa: ARG001 - timers need it
    made = Running(name="test's work")
    yield made
    made.finish()


def test_pieces_are_done_in_their_order_and_none_is_lost(qtbot, running):
    came, told = [], []
    running.told.connect(told.append)
    for number in range(4):
        running.start(f"Piece {number}", lambda _tell, _stop, number=number: number, came.append)
    assert running.busy
    qtbot.waitUntil(lambda: not running.busy, timeout=5000)
    assert came == [0, 1, 2, 3]
    assert told[-1] == ""


def test_progress_is_told_and_stopping_is_heard(qtbot, running):
    told, came = [], []
    going = threading.Event()

    def work(tell, stop):
        tell(1200, 20000)
        going.set()
        while not stop():
            going.wait(0.01)
        return "stopped"

    running.told.connect(told.append)
    running.start("Reading", work, came.append)
    qtbot.waitUntil(lambda: "Reading: 1,200 of 20,000" in told, timeout=5000)
    running.cancel()
    qtbot.waitUntil(lambda: came == ["stopped"], timeout=5000)


def test_a_refusal_is_told_and_the_next_goes_on(qtbot, running):
    failed, came = [], []
    running.failed.connect(failed.append)

    def refuse(_tell, _stop):
        raise BadInput("It cannot be done; do something else.")

    running.start("First", refuse, came.append)
    running.start("Second", lambda _tell, _stop: "done", came.append)
    qtbot.waitUntil(lambda: came == ["done"], timeout=5000)
    assert failed == ["It cannot be done; do something else."]


def test_what_breaks_does_not_hold_up_the_rest(qtbot, running):
    came = []

    def break_down(_tell, _stop):
        raise RuntimeError("a fault of ours")

    with qtbot.captureExceptions() as faults:
        running.start("First", break_down, came.append)
        running.start("Second", lambda _tell, _stop: "done", came.append)
        qtbot.waitUntil(lambda: came == ["done"], timeout=5000)
    assert [str(fault[1]) for fault in faults] == ["a fault of ours"]


def test_work_under_way_is_stopped_at_the_end_only_where_nothing_is_lost(running):
    def work(_tell, stop):
        going.wait(5.0)
        came.append(stop())

    came = []
    for stopping in (False, True):
        going = threading.Event()
        running.start("Writing", work, lambda _outcome: None)
        threading.Timer(0.03, going.set).start()
        running.finish(stopping=stopping)
    assert came == [False, True]


def test_what_waits_is_done_before_the_end(running):
    came = []
    for number in range(3):
        running.start(
            "Writing", lambda _tell, _stop, number=number: came.append(number), lambda _outcome: None
        )
    running.finish()
    assert came == [0, 1, 2]
