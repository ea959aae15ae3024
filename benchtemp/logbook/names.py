"""File names made from what people type: they stay in their folder and work on every system."""

from __future__ import annotations

import datetime as dt
import itertools
import re
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LENGTH_LIMIT = 60
"""Bytes of one part of a name; whole names stay far below the 255 that file systems take."""

_RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|com\d|lpt\d)(\..*)?", re.IGNORECASE)


def safe_part(text: str, fallback: str = "unnamed") -> str:
    """Return `text` as a part of a file name: letters and digits of any script, `-`, `_` and inner dots.

    Whatever else is in it (separators, control characters, emoji, leading dots) becomes a hyphen or goes;
    names that Windows keeps for devices get an underscore before them.

    >>> safe_part("../../x")
    'x'
    >>> safe_part("CON"), safe_part("Kestrel Two (new)"), safe_part("")
    ('_CON', 'Kestrel-Two-new', 'unnamed')
    """
    text = unicodedata.normalize("NFKC", text[:1000])
    kept = "".join(char if unicodedata.category(char)[0] in "LNM" or char in "-_." else "-" for char in text)
    kept = re.sub(r"-*\.[-.]*", ".", re.sub(r"-+", "-", kept)).strip("-._")
    kept = unicodedata.normalize("NFC", kept)
    while len(kept.encode()) > LENGTH_LIMIT:
        kept = kept[:-1]
    kept = kept.strip("-._") or fallback
    return f"_{kept}" if _RESERVED.fullmatch(kept) else kept


def moment_part(started: str) -> str:
    """Return an ISO 8601 moment as it stands in file names, local as written: `20251125-101502`."""
    try:
        moment = dt.datetime.fromisoformat(started)
    except ValueError:
        moment = dt.datetime.now().astimezone()
    return moment.strftime("%Y%m%d-%H%M%S") if moment.year >= 1000 else f"{moment.year:04d}0101-000000"


def month_part(started: str) -> str:
    """Return the folder name of an ISO 8601 moment's month: `2025-11`."""
    moment = moment_part(started)
    return f"{moment[:4]}-{moment[4:6]}"


def recording_name(started: str, machine: str) -> str:
    """Return a recording's file name without its suffix."""
    return f"{moment_part(started)}_{safe_part(machine, 'recording')}"


def shot_name(started: str, machine: str, number: int, kind: str = "shot") -> str:
    """Return a shot's file name without its suffix; `kind` is `shot` or `flush`."""
    return f"{moment_part(started)}_{safe_part(machine, 'machine')}_{safe_part(kind)}-{max(number, 0):03d}"


def free_paths(path: Path) -> Iterator[Path]:
    """Give `path`, then `name-2`, `name-3` …: the first that can be created exclusively is the one to use."""
    yield path
    for number in itertools.count(2):
        yield path.with_name(f"{path.name.removesuffix(path.suffix)}-{number}{path.suffix}")
