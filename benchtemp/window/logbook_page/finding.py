"""Asking the index for the list, in the background."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.window.logbook_page.list_model import BLOCK

if TYPE_CHECKING:
    from benchtemp.logbook.index import LogbookIndex, Query, Row


@dataclass(frozen=True)
class Finding:
    """What a query found: in which index, files in order, and the first rows that will be looked at."""

    index: LogbookIndex
    places: tuple[str, ...]
    rows: dict[str, Row]


def find(index: LogbookIndex, query: Query, top: str) -> Finding:
    """Ask the index; rows come along for the beginning and for where the list stood.

    Raises:
        StorageError: The index can neither be read nor made.
    """
    places = index.places(query)
    wanted = set(places[:BLOCK])
    if top and top not in wanted and top in places:
        line = places.index(top)
        wanted.update(places[max(0, line - BLOCK // 2) : line + BLOCK])
    return Finding(index, places, index.rows(wanted))
