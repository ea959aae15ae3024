"""Work on many files, spread over processes where there is enough of it."""

from __future__ import annotations

import os
from collections import deque
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
    import signal  # noqa: PLC0415
    from concurrent.futures import Future, ProcessPoolExecutor  # noqa: PLC0415
    from concurrent.futures.process import BrokenProcessPool  # noqa: PLC0415

    pool = ProcessPoolExecutor(
        processes,
        # Spawned, not forked: a fork copies whatever threads hold, and is not to be had everywhere.
        mp_context=multiprocessing.get_context("spawn"),
        # Ctrl-C reaches every process of a terminal; this one decides what comes of it.
        initializer=signal.signal,
        initargs=(signal.SIGINT, signal.SIG_IGN),
    )
    running: deque[tuple[Job, Future[Outcome] | None]] = deque()

    def start(count: int) -> None:
        for job in islice(waiting, count):
            try:
                running.append((job, pool.submit(work, job)))
            except (BrokenProcessPool, OSError):
                running.append((job, None))

    try:
        start(processes * JOBS_AHEAD)
        while running and not cancelled():
            job, future = running.popleft()
            try:
                outcome = work(job) if future is None else future.result()
            except BrokenProcessPool:  # a process was ended from outside, or none can be started
                outcome = work(job)
            start(1)
            yield outcome
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
