from __future__ import annotations

import sys
import threading

from benchtemp.window.faults import Faults, fault_file


def raised(text):
    try:
        {}[text]
    except KeyError as error:
        return error


def test_a_fault_is_written_down_and_told(qapp, capsys):
    faults = Faults(qapp)
    told = []
    faults.told.connect(told.append)
    error = raised("lost")
    sys.excepthook(type(error), error, error.__traceback__)
    faults.look()
    faults.let_go()
    assert "KeyError" in told[0]
    assert "The recording goes on" in told[0]
    assert "{}[text]" in fault_file().read_text(encoding="utf-8")
    assert "KeyError" in capsys.readouterr().err


def test_a_fault_in_a_thread_is_told_in_the_windows_own(qapp, capsys):
    faults = Faults(qapp)
    where = []
    faults.told.connect(lambda _text: where.append(threading.current_thread()))

    def fail():
        raise KeyError("in a thread")

    thread = threading.Thread(target=fail)
    thread.start()
    thread.join()
    assert not where
    faults.look()
    faults.let_go()
    assert where == [threading.main_thread()]
    assert "in a thread" in capsys.readouterr().err


def test_the_hooks_are_given_back(qapp):
    before = sys.excepthook, threading.excepthook
    faults = Faults(qapp)
    assert sys.excepthook != before[0]
    faults.let_go()
    assert (sys.excepthook, threading.excepthook) == before
