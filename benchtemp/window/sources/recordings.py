"""Which recordings to offer for replay, and what to call them. No widgets."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import read_meta
from benchtemp.places import demo_streams_dir

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from benchtemp.logbook.folder import Logbook

OFFERED_MAX = 40


@dataclass(frozen=True, slots=True)
class RecordingOffer:
    """A file that can be replayed.

    Attributes:
        group: Where it comes from, as a heading: opened lately, the logbook, a demo.
        title: What it is.
        detail: More of it, on a second line.
    """

    path: Path
    group: str
    title: str
    detail: str


def recordings_to_offer(logbook: Logbook | None, recent: Iterable[str]) -> list[RecordingOffer]:
    """Return what can be replayed: files opened lately, the logbook's recordings, newest first, then demos.

    Reads the header of each file; call it in the background. A file that cannot be read is left out: it
    would only fail when chosen.
    """
    found: list[RecordingOffer] = []
    seen: set[Path] = set()
    for group, paths in (
        ("Opened lately", (Path(name) for name in recent)),
        ("In the logbook", _newest_recordings(logbook)),
        ("Demo streams", sorted(demo_streams_dir().glob("*.ecsv"))),
    ):
        for path in islice(paths, OFFERED_MAX):
            if path in seen:
                continue
            try:
                meta = read_meta(path)
            except (BenchtempError, OSError):
                continue
            seen.add(path)
            found.append(_offer(path, group, meta))
    return found


def _newest_recordings(logbook: Logbook | None) -> Iterator[Path]:
    if logbook is None:
        return
    try:
        yield from reversed(list(logbook.recordings()))
    except BenchtempError:
        return


def _offer(path: Path, group: str, meta: dict[str, object]) -> RecordingOffer:
    tags = meta.get("tags")
    coffee = tags.get("coffee", "") if isinstance(tags, dict) else ""
    started = str(meta.get("started", ""))[:16].replace("T", " ")
    scenario = " ".join(str(meta.get("scenario", "")).split())
    if scenario:
        title, _, rest = scenario.partition(": " if ": " in scenario else ", ")
        machine = str(meta.get("machine", path.name))
        return RecordingOffer(path, group, title.rstrip("."), rest[:1].upper() + rest[1:] or machine)
    detail = ", ".join(str(part) for part in (started, coffee, path.name) if part)
    return RecordingOffer(path, group, str(meta.get("machine") or path.stem), detail)
