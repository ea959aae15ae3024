"""Work on many files, spread over processes where there is enough of it."""

from __future__ import annotations

import os
from itertools import islice
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterable, Iterator

Job = TypeVar("Job")
Outcome = TypeVar("Outcome")

JOBS_AHEAD = 4
"""Jobs handed to each process before the first is done; results wait in memory until they are taken."""


def processes_for(files: int, wanted: int | None, *, at_least: int) -> int:
    """Return how many processes to use: as wanted, else one for few files and one per core for many."""
    if wanted is not None:
        return max(wanted, 1)
    return 1 if files < at_least else min(os.cpu_count() or 1, 8)


def outcomes(
    work: Callable[[Job], Outcome], jobs: Iterable[Job], *, processes: int, cancelled: Callable[[], bool]
) -> Generator[Outcome, None, None]:
    """Give the outcome of each job in order, until cancelled; where processes cannot be had, without them.

    Args:
        work: A function of a module, and jobs that can be sent to another process.
        jobs: Each worth some tens of milliseconds.
        processes: How many to use; with one, the work is done right here.
        cancelled: Asked between jobs.
    """
    waiting = iter(jobs)
    if processes > 1:
        yield from _in_processes(work, waiting, processes, cancelled)
    for job in waiting:
        if cancelled():
            return
        yield work(job)


def _in_processes(
    work: Callable[[Job], Outcome], waiting: Iterator[Job], processes: int, cancelled: Callable[[], bool]
) -> Generator[Outcome, None, None]:
    # Seldom needed, and slow to load.
    import multiprocessing  # noqa: PLC0415
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415
    from concurrent.futures.process import BrokenProcessPool  # noqa: PLC0415

    # Spawned, not forked: a fork copies whatever threads hold, and is not to be had everywhere.
    pool = ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn"))
    try:
        running = [(job, pool.submit(work, job)) for job in islice(waiting, processes * JOBS_AHEAD)]
        while running:
            if cancelled():
                return
            job, future = running.pop(0)
            try:
                outcome = future.result()
                running.extend((new, pool.submit(work, new)) for new in islice(waiting, 1))
            except BrokenProcessPool:
                # A process was ended from outside, or none can be started: the rest is done here.
                yield work(job)
                for left, _ in running:
                    if cancelled():
                        return
                    yield work(left)
                return
            yield outcome
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
