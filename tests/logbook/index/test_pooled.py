from __future__ import annotations

import os
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from typing import TYPE_CHECKING, Any

import pytest

from benchtemp.logbook.index.pooled import outcomes, processes_for

if TYPE_CHECKING:
    from collections.abc import Callable


def never() -> bool:
    return False


def test_few_files_are_read_right_here() -> None:
    assert processes_for(10, None, at_least=100) == 1
    assert processes_for(100, None, at_least=100) == min(os.cpu_count() or 1, 8)
    assert processes_for(10, 3, at_least=100) == 3
    assert processes_for(10, 0, at_least=100) == 1


@pytest.mark.parametrize("processes", [1, 2])
def test_outcomes_come_in_order_and_can_be_cancelled(processes: int) -> None:
    jobs = list(range(-30, 0))
    assert list(outcomes(abs, jobs, processes=processes, cancelled=never)) == [*range(30, 0, -1)]
    asked = iter([False] * 5 + [True] * 9)
    found = list(outcomes(abs, jobs, processes=processes, cancelled=lambda: next(asked)))
    assert found == [30, 29, 28, 27, 26]


class BreakingPool:
    """Does some jobs and then is gone, as when its processes are ended from outside."""

    lives = 0

    def __init__(self, *_arguments: Any, **_named: Any) -> None:
        self.left = self.lives

    def submit(self, work: Callable[[int], int], job: int) -> Future[int]:
        self.left -= 1
        if self.left < -3:
            raise BrokenProcessPool
        future: Future[int] = Future()
        if self.left >= 0:
            future.set_result(work(job))
        else:
            future.set_exception(BrokenProcessPool())
        return future

    def shutdown(self, **_named: Any) -> None:
        pass


@pytest.mark.parametrize("lives", [0, 1, 7, 12, 29])
def test_when_processes_break_away_no_job_is_lost(lives: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(BreakingPool, "lives", lives)
    monkeypatch.setattr("concurrent.futures.ProcessPoolExecutor", BreakingPool)
    jobs = list(range(-30, 0))
    assert list(outcomes(abs, jobs, processes=2, cancelled=never)) == [*range(30, 0, -1)]
