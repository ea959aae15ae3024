"""Doing the same with many files, one after the other: what is refused does not hold up the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from benchtemp.errors import BenchtempError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from benchtemp.logbook.index.index import LogbookIndex


class Batch(msgspec.Struct, frozen=True):
    """What came of it.

    Attributes:
        done: Files with which it was done, as rows name them.
        refused: By file, the sentence that says why not.
        complete: False where it was cancelled before all had their turn.
    """

    done: tuple[str, ...]
    refused: dict[str, str]
    complete: bool = True


def do_each(
    index: LogbookIndex,
    places: Iterable[str],
    work: Callable[[Path], Path | None],
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Batch:
    """Do something with each file, then look at all of them again for the index.

    Args:
        index: Whose logbook they lie in.
        places: Files as rows name them.
        work: Gets a path; returns where else a file lies now because of it, if anywhere.
        progress: Told (files done, files in all), in the calling thread.
        cancelled: Asked before each file; True stops.

    Raises:
        StorageError: The index cannot be kept; what was done to the files is done.
    """
    wanted = tuple(places)
    root = index.logbook.root
    done: list[str] = []
    refused: dict[str, str] = {}
    touched: list[Path] = []
    for number, place in enumerate(wanted):
        if cancelled is not None and cancelled():
            break
        touched.append(root / place)
        try:
            moved = work(root / place)
        except BenchtempError as error:
            refused[place] = str(error)
        else:
            done.append(place)
            if moved is not None:
                touched.append(moved)
        if progress is not None:
            progress(number + 1, len(wanted))
    index.refresh(touched)
    return Batch(tuple(done), refused, len(done) + len(refused) == len(wanted))
