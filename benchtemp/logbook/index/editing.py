"""Changing what a file's header says, later: tags and notes, setting aside, and the way to the bin and back.

Readings are never touched, and the header keeps a history of what it said before. Two programs that edit the
same file take turns, each working on what the other left: no edit is lost.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.atomic import replace, sync_folder
from benchtemp.logbook.folder import Logbook, make_folder
from benchtemp.logbook.names import free_paths
from benchtemp.logbook.regular_file import shown, why
from benchtemp.logbook.shot_file import rewrite_header
from benchtemp.shots.entries import Entries
from benchtemp.shots.result import Result
from benchtemp.shots.shot import Shot, header_entries

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

NOTES_MAX = 4000
REASON_MAX = 200
_ASIDE = "set aside: "


class ChangedMeanwhile(BadInput):
    """What was to be changed no longer is as it was seen; nothing was written.

    Attributes:
        name: Dotted, such as `tags.coffee` or `notes`.
        now: What stands there, None for nothing.
    """

    def __init__(self, sentence: str, name: str, now: str | None) -> None:
        super().__init__(sentence)
        self.name = name
        self.now = now


class Seen(msgspec.Struct, frozen=True):
    """What somebody saw of a file before changing it.

    Attributes:
        tags: Values by name; those not changed do not matter.
        notes: Empty for none.
    """

    tags: dict[str, str] = {}
    notes: str = ""


class Edit(msgspec.Struct, frozen=True):
    """One entry of a header's history.

    Attributes:
        at: ISO 8601 moment.
        changes: By dotted name, what stood there before and after.
        found: What was noticed at the time, empty for nothing.
    """

    at: str
    changes: dict[str, tuple[Any, Any]]
    found: str = ""


def edit(
    path: Path,
    *,
    tags: Mapping[str, str | None] | None = None,
    notes: str | None = None,
    more_notes: str = "",
    seen: Seen | None = None,
) -> dict[str, Any]:
    """Change tags and notes of a file; return its meta as it stands now.

    Args:
        path: A shot or a closed recording.
        tags: Values by name, None or empty to take a tag away; tags not named stay as they are. The tag
            `machine` also changes the machine.
        notes: The notes as they shall be, empty for none; None leaves them as they are.
        more_notes: Added to the notes as lines of their own.
        seen: What the changes were made in view of; without it they hold whatever stands there.

    Raises:
        ChangedMeanwhile: Something to be changed is not as it was seen, nor as it shall be.
        BadInput: A tag or the notes are too long, or it is no file of ours.
        StorageError: It is being recorded or changed by someone else, or the disk refuses.
    """
    wanted = {name.strip(): (value or "").strip() for name, value in (tags or {}).items()}
    written, more = None if notes is None else _plain_lines(notes), _plain_lines(more_notes)

    def change(meta: dict[str, Any]) -> dict[str, Any]:
        if seen is not None:
            _compare(path, meta, seen, wanted, written)
        if wanted:
            meta["tags"] = _with_tags(meta, wanted)
        if "machine" in wanted:
            meta["machine"] = wanted["machine"]
        if written is not None or more:
            before = notes_of(meta) if written is None else written
            meta["notes"] = "\n".join(filter(None, (before, more)))
            if len(meta["notes"]) > NOTES_MAX:
                raise BadInput(
                    f"Notes may have {NOTES_MAX} characters; "
                    f"those of {shown(path)} would have {len(meta['notes'])}, so shorten them."
                )
            if not meta["notes"]:
                del meta["notes"]
        return meta

    return rewrite_header(path, change)


def _plain_lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def notes_of(meta: Mapping[str, Any]) -> str:
    """Return the notes of a header, empty for none."""
    written = meta.get("notes")
    return "" if written is None or isinstance(written, bool | dict | list) else str(written)


def tags_of(meta: Mapping[str, Any]) -> dict[str, str]:
    """Return the tags of a header."""
    written = meta.get("tags")
    kept = written if isinstance(written, dict) else {}
    return {str(name): str(value) for name, value in kept.items() if value is not None}


def _compare(
    path: Path, meta: Mapping[str, Any], seen: Seen, wanted: Mapping[str, str], notes: str | None
) -> None:
    now = tags_of(meta)
    for name, value in wanted.items():
        if now.get(name, "") not in (seen.tags.get(name, ""), value):
            stands = f"is “{now[name]}” now" if name in now else "was taken away"
            raise ChangedMeanwhile(
                f"The tag {name} of {shown(path)} was changed elsewhere meanwhile and {stands}; "
                "nothing was written, so look at it and change it again.",
                f"tags.{name}",
                now.get(name),
            )
    if notes is not None and notes_of(meta) not in (seen.notes, notes):
        raise ChangedMeanwhile(
            f"The notes of {shown(path)} were changed elsewhere meanwhile; nothing was written, "
            "so look at them and change them again.",
            "notes",
            notes_of(meta) or None,
        )


def _with_tags(meta: Mapping[str, Any], wanted: Mapping[str, str]) -> dict[str, str]:
    entries = Entries(tags=tags_of(meta))
    for name, value in wanted.items():
        if "=" in name:
            raise BadInput(f"A tag's name cannot hold '=', as '{name[:40]}' does; choose another.")
        entries = entries.taking(f"tag.{name}={value}")
    return entries.tags


def set_aside(path: Path, reason: str) -> dict[str, Any]:
    """Leave a shot out of studies, for a reason that goes with it; return its meta as it stands now.

    Raises:
        BadInput: No reason is given, or it is no shot of ours.
        StorageError: It is being changed by someone else, or the disk refuses.
    """
    reason = " ".join(reason.split())
    if not reason or len(reason) > REASON_MAX:
        raise BadInput(
            f"Say in 1 to {REASON_MAX} characters why the shot is set aside, such as 'channelled'."
        )
    return rewrite_header(path, lambda meta: _put_aside(meta, reason, path))


def take_back(path: Path) -> dict[str, Any]:
    """Let a shot that was set aside count again, if it would otherwise; return its meta as it stands now.

    Raises:
        BadInput: It was not set aside, or is no shot of ours.
        StorageError: It is being changed by someone else, or the disk refuses.
    """
    return rewrite_header(path, lambda meta: _put_aside(meta, "", path))


def _put_aside(meta: dict[str, Any], reason: str, path: Path) -> dict[str, Any]:
    note = meta.get("shot")
    if meta.get("kind") != "shot" or not isinstance(note, dict):
        raise BadInput(f"{shown(path)} is no shot; only shots can be set aside.")
    if not reason and not note.get("set_aside"):
        raise BadInput(f"{shown(path)} is not set aside, so there is nothing to take back.")
    written = note.get("reasons")
    reasons = [str(entry) for entry in written] if isinstance(written, list) else []
    reasons = [entry for entry in reasons if not entry.startswith(_ASIDE)]
    counts = not reason and not reasons and _would_count(meta, note)
    if reason:
        reasons.append(f"{_ASIDE}{reason}")
    meta["shot"] = {**note, "set_aside": reason, "reasons": reasons, "counts": counts}
    return meta


def _would_count(meta: Mapping[str, Any], note: Mapping[str, Any]) -> bool:
    """Return whether a shot counts by its own figures."""
    try:
        result = msgspec.convert(note.get("result"), Result)
    except msgspec.ValidationError:
        return False
    recipe = header_entries(meta)[0].recipe
    yield_g = note.get("yield_g")
    shot = Shot(
        number=0,
        result=result,
        recipe=recipe,
        dose_g=recipe.dose_g,
        yield_g=float(yield_g) if isinstance(yield_g, int | float) and yield_g > 0 else None,
    )
    return shot.counts


def history(meta: Mapping[str, Any]) -> tuple[Edit, ...]:
    """Return the edits that a header remembers, oldest first; what does not read as one is passed over."""
    found = []
    edits = meta.get("edits")
    for entry in edits if isinstance(edits, list) else []:
        try:
            found.append(msgspec.convert(entry, Edit))
        except msgspec.ValidationError:
            continue
    return tuple(found)


def from_bin(logbook: Logbook, path: Path) -> Path:
    """Move a file from the logbook's bin back to the place it came from; return where it is now.

    Raises:
        BadInput: It does not lie in this logbook's bin.
        StorageError: It cannot be moved.
    """
    try:
        place = (path.parent.resolve() / path.name).relative_to(logbook.bin_dir.resolve())
    except (ValueError, OSError) as error:
        raise BadInput(f"{shown(path)} does not lie in the bin of {shown(logbook.root)}.") from error
    if not os.path.lexists(path) or path.is_dir():
        raise BadInput(f"There is no file {shown(path)} in the bin.")
    target = logbook.root / place
    make_folder(target.parent)
    candidate = next(one for one in free_paths(target) if not os.path.lexists(one))
    try:
        replace(path, candidate)
    except OSError as error:
        raise StorageError(f"{shown(path)} cannot be taken out of the bin ({why(error)}).") from error
    sync_folder(candidate.parent)
    return candidate
