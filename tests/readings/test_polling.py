from __future__ import annotations

import pytest

from benchtemp.readings.polling import Polling


def times_of_questions(polling: Polling, answer_takes_s: list[float], start_s: float = 100.0) -> list[float]:
    """Return when questions are asked if each answer takes so long, as a reader would."""
    asked = []
    now_s = start_s
    for takes_s in answer_takes_s:
        pause_s = polling.pause_s(now_s)
        now_s += max(pause_s, 0.0)
        assert polling.pause_s(now_s) <= 1e-9
        polling.note_asked(now_s)
        asked.append(now_s)
        now_s += takes_s
        polling.answered()
    return asked


def test_questions_keep_to_their_grid_without_drift():
    asked = times_of_questions(Polling(b"?", 0.2, 1.0), [0.013] * 1000)
    assert asked == pytest.approx([100 + 0.2 * n for n in range(1000)], abs=1e-6)


def test_a_slow_answer_drops_questions_and_keeps_the_grid():
    asked = times_of_questions(Polling(b"?", 0.2, 5.0), [0.01, 0.75, 0.01, 0.01])
    assert asked == pytest.approx([100.0, 100.2, 101.0, 101.2])


def test_without_a_period_the_next_question_follows_the_answer():
    assert times_of_questions(Polling(b"?", 0.0, 1.0), [0.1, 0.2, 0.1]) == pytest.approx(
        [100.0, 100.1, 100.3]
    )


def test_an_answer_is_waited_for_and_then_given_up():
    polling = Polling(b"?", 0.2, 0.5)
    polling.note_asked(100.0)
    assert polling.pause_s(100.4) == 0.0
    assert polling._asked_s is not None
    assert polling.pause_s(100.6) <= 1e-9
    assert polling._asked_s is None


class Port:
    def __init__(self) -> None:
        self.written: list[bytes] = []

    def write(self, raw: bytes) -> None:
        self.written.append(raw)


def test_a_question_is_not_asked_twice_while_its_answer_is_due():
    polling, port = Polling(b"READ?\n", 1.0, 0.5), Port()
    for now_s in (0.0, 0.1, 0.4):
        assert polling.ask(port, now_s) <= 0
    assert port.written == [b"READ?\n"]
    polling.answered()
    assert polling.ask(port, 0.45) == pytest.approx(0.55)
    assert polling.ask(port, 1.0) <= 0
    assert len(port.written) == 2
