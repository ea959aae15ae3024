from __future__ import annotations

import threading

import pytest

from benchtemp.errors import BadInput
from benchtemp.window.sources.background import Background


@pytest.fixture
def work(qapp):
    made = Background(qapp, name="test work")
    yield made
    made.join()


def test_the_outcome_comes_in_the_windows_thread(qtbot, work):
    threads = []
    work.done.connect(lambda _: threads.append(threading.get_ident()))
    with qtbot.waitSignal(work.done) as caught:
        work.start(threading.get_ident)
    assert caught.args[0] != threading.get_ident()
    assert threads == [threading.get_ident()]
    assert not work.busy


def test_a_users_error_comes_as_a_sentence(qtbot, work):
    def fail():
        raise BadInput("It cannot be read; choose another.")

    with qtbot.waitSignal(work.failed) as caught:
        work.start(fail)
    assert caught.args == ["It cannot be read; choose another."]


def test_a_fault_of_ours_is_not_swallowed(qtbot, work):
    def fail():
        raise ZeroDivisionError

    with qtbot.captureExceptions() as raised:
        work.start(fail)
        qtbot.waitUntil(lambda: bool(raised))
    assert raised[0][0] is ZeroDivisionError


def test_newer_work_makes_older_worthless(qtbot, work):
    gate = threading.Event()
    found = []
    work.done.connect(found.append)
    work.start(lambda: gate.wait(5.0) and "old")
    old = work._thread
    work.start(lambda: "new")
    qtbot.waitUntil(lambda: found == ["new"])
    gate.set()
    old.join(2.0)
    qtbot.wait(60)
    assert found == ["new"]
