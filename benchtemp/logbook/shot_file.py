"""Files that appear whole and are changed safely: shots, and the headers of anything of ours.

A shot's header carries digests of its rows and of the rest of the header, so that damage, or a change by
another program, can be told. Changing a header leaves the rows byte for byte as they are and keeps a history
of what was changed.
"""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput, BenchtempError, StorageError
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.ecsv import CLOSED, names_line, stream_bytes, stream_columns
from benchtemp.logbook.header_text import HEADER_LIMIT, HeaderText, header_bytes, parse_header, plain
from benchtemp.logbook.lock import Locked, edit_turn, locked_elsewhere
from benchtemp.logbook.names import free_paths
from benchtemp.logbook.regular_file import read_regular, shown

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchtemp.readings.reading import Stream

OWN_KINDS = ("shot", "recording", "demo")
HISTORY_LIMIT = 24 * 1024
"""Bytes of a header that the history of edits may take; the oldest go first."""

_KEPT_BY_US = ("edits", "edits_dropped", "digest")


def write_shot(path: Path, stream: Stream) -> Path:
    """Write a shot as a new file, whole or not at all; return its path (`path`, or the next free name).

    Raises:
        BadInput: The stream cannot be written.
        StorageError: The disk does not take it.
    """
    content = _content(stream, {})
    for candidate in free_paths(path):
        try:
            write_whole(candidate, content, overwrite=False)
        except FileExistsError:
            continue
        return candidate
    raise AssertionError("there is always another free name")


def replace_shot(path: Path, stream: Stream) -> None:
    """Write a shot in place of its earlier version, whole or not at all; the history of edits is kept.

    Raises:
        BadInput: The stream cannot be written.
        StorageError: The disk does not take it, or another window is changing the file.
    """
    with edit_turn(path):
        history: dict[str, Any] = {}
        if path.exists():
            try:
                before = parse_header(read_regular(path, first=HEADER_LIMIT + 1), shown(path)).meta
            except BadInput:
                before = {}
            history = {key: before[key] for key in ("edits", "edits_dropped") if key in before}
        write_whole(path, _content(stream, history), overwrite=True)


def _content(stream: Stream, history: Mapping[str, Any]) -> tuple[bytes, bytes]:
    meta = {"kind": "shot", "format_version": 1, **plain(stream.meta), **history}
    meta.pop("digest", None)
    columns = stream_columns(stream.channels, has_weight=stream.weight_g is not None)
    _, rows = stream_bytes(replace(stream, meta={}))
    digests = {"rows": _rows_digest(rows), "header": _header_digest(meta)}
    return header_bytes(columns, {**meta, "digest": digests}), rows


def rewrite_header(
    path: Path, change: Callable[[dict[str, Any]], dict[str, Any]], *, at: str | None = None
) -> dict[str, Any]:
    """Change a file's `meta`; its rows stay byte for byte, and the header keeps what was there before.

    Args:
        path: A shot, a closed recording or a demo stream of ours.
        change: Gets a copy of the meta and returns what it shall be.
        at: ISO 8601 moment of the edit; now where not given.

    Returns: the meta as it stands in the file now.

    Raises:
        BadInput: It is no file of ours, or the new meta cannot be written.
        StorageError: It is still being recorded, being changed by someone else, or the disk refuses.
    """
    target = path.resolve()
    name = shown(path)
    with edit_turn(target):
        content = read_regular(target)
        seen = _state(target)
        header = parse_header(content, name)
        if header.meta.get("kind") not in OWN_KINDS or header.delimiter != ",":
            raise BadInput(
                f"{name} was not made by this program, so its header is left alone; import it first."
            )
        if locked_elsewhere(target) is Locked.BY_ANOTHER:
            raise StorageError(f"{name} is still being recorded; close the recording first.")
        meta = _edited(header.meta, plain(change(copy.deepcopy(header.meta))), at or _now())
        if meta is None:
            return header.meta
        rows = content[header.rows_at :]
        _sign(meta, header.meta, rows)

        def unchanged() -> None:
            if _state(target) != seen:
                raise StorageError(
                    f"{name} was changed by another program meanwhile; look at it and try again."
                )

        parts = (header_bytes(header.columns, meta), rows)
        write_whole(target, parts, overwrite=True, mode_from=target, still_wanted=unchanged)
    return meta


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def _state(path: Path) -> tuple[int, int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_ino, status.st_size, status.st_mtime_ns


def _edited(before: dict[str, Any], after: Any, at: str) -> dict[str, Any] | None:
    """Return the changed meta with its history, None where nothing was changed."""
    if not isinstance(after, dict):
        raise BadInput("A header must stay a set of named values.")
    old = {key: value for key, value in before.items() if key not in _KEPT_BY_US}
    new = {key: value for key, value in after.items() if key not in _KEPT_BY_US}
    changes = dict(_differences(old, new))
    if not changes:
        return None
    entry: dict[str, Any] = {"at": at, "changes": changes}
    digest = before.get("digest")
    if isinstance(digest, dict) and digest.get("header") not in (None, _header_digest(before)):
        entry["found"] = "the header had been changed by another program before"
    edits = before.get("edits")
    edits = [*(edits if isinstance(edits, list) else []), entry]
    dropped = before.get("edits_dropped")
    dropped = dropped if isinstance(dropped, int) else 0
    while len(edits) > 1 and len(msgspec.json.encode(edits)) > HISTORY_LIMIT:
        del edits[0]
        dropped += 1
    return {**new, "edits": edits, **({"edits_dropped": dropped} if dropped else {})}


def _differences(
    before: Mapping[str, Any], after: Mapping[str, Any], under: str = ""
) -> list[tuple[str, list[Any]]]:
    """Return what was changed as dotted names with the values before and after, None where there was none."""
    found: list[tuple[str, list[Any]]] = []
    for key in dict.fromkeys([*before, *after]):
        was, now = before.get(key), after.get(key)
        if isinstance(was, dict) and isinstance(now, dict):
            found.extend(_differences(was, now, f"{under}{key}."))
        elif _text(was) != _text(now) or (key in before) != (key in after):
            found.append((f"{under}{key}", [was, now]))
    return found


def _text(value: Any) -> str:
    # repr tells 1 from True and NaN from None, and takes NaN for the same as NaN.
    return repr(value)


def _sign(meta: dict[str, Any], before: Mapping[str, Any], rows: bytes) -> None:
    """Add digests. An earlier digest of the rows is never renewed: damage must not be signed for."""
    meta.pop("digest", None)
    digests = {"header": _header_digest(meta)}
    earlier = before.get("digest")
    if isinstance(earlier, dict) and "rows" in earlier:
        digests = {"rows": earlier["rows"], **digests}
    elif meta.get("kind") == "shot":
        digests = {"rows": _rows_digest(rows), **digests}
    meta["digest"] = digests


def _rows_digest(rows: bytes) -> str:
    return f"sha256:{hashlib.sha256(rows).hexdigest()}"


def _header_digest(meta: Mapping[str, Any]) -> str:
    signed = {key: value for key, value in meta.items() if key != "digest"}
    return f"sha256:{hashlib.sha256(msgspec.json.encode(signed, order='sorted')).hexdigest()}"


# Checking


class Condition(StrEnum):
    """What a check of a file against its digests came to."""

    WHOLE = "whole"
    ROWS_DAMAGED = "rows damaged"
    HEADER_CHANGED = "header changed"
    NOT_CLOSED = "not closed"
    NO_DIGEST = "no digest"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Check:
    """What a check found.

    Attributes:
        condition: In a word.
        text: In a sentence.
    """

    condition: Condition
    text: str


def verify(path: str | os.PathLike[str]) -> Check:
    """Hold a file against the digests written with it; nothing is changed and nothing is raised."""
    name = shown(path)
    try:
        content = read_regular(path)
        header = parse_header(content, name)
    except BenchtempError as error:
        return Check(Condition.UNREADABLE, str(error))
    stored = header.meta.get("digest")
    stored = stored if isinstance(stored, dict) else {}
    rows = content[header.rows_at :]
    expected = stored.get("rows")
    if expected is None:
        rows, expected = _before_closing_line(rows)
    if expected is None:
        return _without_digest(header, name)
    if expected != _rows_digest(rows):
        return Check(
            Condition.ROWS_DAMAGED, f"The rows of {name} are not those that were written; use a copy."
        )
    if not rows.startswith(names_line(header.columns)):
        return Check(
            Condition.ROWS_DAMAGED, f"The column names of {name} differ from its header's; use a copy."
        )
    if stored.get("header", _header_digest(header.meta)) != _header_digest(header.meta):
        return Check(Condition.HEADER_CHANGED, f"The header of {name} was changed by another program.")
    return Check(Condition.WHOLE, f"{name} is whole.")


def _before_closing_line(rows: bytes) -> tuple[bytes, str | None]:
    at = rows.rfind(b"\n", 0, len(rows) - 1) + 1
    last = rows[at:]
    if not last.startswith(CLOSED.encode()) or not last.endswith(b"\n"):
        return rows, None
    return rows[:at], last.decode("ascii", "replace").split()[-1]


def _without_digest(header: HeaderText, name: str) -> Check:
    if "writer" in header.meta:
        return Check(
            Condition.NOT_CLOSED, f"{name} was never closed: it is being recorded or was interrupted."
        )
    return Check(Condition.NO_DIGEST, f"{name} carries no digest, so damage cannot be told.")
