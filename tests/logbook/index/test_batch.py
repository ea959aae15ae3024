"""Work on many files: refusals are told, the rest is done, and the index knows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.logbook.index.batch import do_each
from benchtemp.logbook.index.editing import edit, from_bin

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.index import LogbookIndex


def test_what_is_refused_does_not_hold_up_the_rest(
    index: LogbookIndex, make_shot: Callable[..., Path]
) -> None:
    for number in (1, 2):
        make_shot(number)
    index.update()
    places = [*index.places(), "shots/2025-11/gone.ecsv"]
    told = []
    batch = do_each(
        index,
        places,
        lambda path: edit(path, tags={"coffee": "low tide"}) and None,
        lambda done, total: told.append((done, total)),
    )
    assert batch.done == tuple(places[:2])
    assert set(batch.refused) == {places[2]}
    assert "There is no file" in batch.refused[places[2]]
    assert batch.complete
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert {row.tags["coffee"] for row in index.rows(places).values()} == {"low tide"}


def test_the_index_follows_to_the_bin_and_back(
    index: LogbookIndex, logbook: Logbook, make_shot: Callable[..., Path]
) -> None:
    make_shot(1)
    index.update()
    (place,) = index.places()
    do_each(index, [place], logbook.to_bin)
    assert index.places() == ()
    do_each(index, [f"bin/{place}"], lambda path: from_bin(logbook, path))
    assert index.places() == (place,)


def test_it_can_be_cancelled(index: LogbookIndex, make_shot: Callable[..., Path]) -> None:
    for number in (1, 2, 3):
        make_shot(number)
    index.update()
    seen: list[Path] = []
    batch = do_each(index, index.places(), seen.append, cancelled=lambda: len(seen) == 2)
    assert len(batch.done) == len(seen) == 2
    assert not batch.complete
