"""The logbook folder: where recordings and shots lie. The files in it are the truth.

recordings/          one file per sitting
shots/2025-11/       one file per shot, by month
probes/  plans/      what belongs to probes and test plans
bin/                 what was thrown away, under the place it came from
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput, BenchtempError, StorageError
from benchtemp.logbook.atomic import replace, sync_folder, write_whole
from benchtemp.logbook.ecsv import read_meta
from benchtemp.logbook.interrupted import Interrupted, find_interrupted
from benchtemp.logbook.names import free_paths, month_part, recording_name, shot_name
from benchtemp.logbook.recording import RecordingWriter
from benchtemp.logbook.regular_file import shown, why
from benchtemp.logbook.shot_file import write_shot
from benchtemp.places import cache_dir

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from benchtemp.readings.reading import Stream

SUFFIX = ".ecsv"
TAG_VALUES_KEPT = 50
FILES_FOR_TAGS = 300


class Logbook:
    """One logbook folder; nothing is created before something is kept.

    Attributes:
        root: The folder.
    """

    def __init__(self, root: Path) -> None:
        self.root = Path(root)

    @property
    def recordings_dir(self) -> Path:
        """Return the folder of recordings, which may not exist yet."""
        return self.root / "recordings"

    @property
    def shots_dir(self) -> Path:
        """Return the folder of shots by month, which may not exist yet."""
        return self.root / "shots"

    @property
    def probes_dir(self) -> Path:
        """Return the folder of probe files, which may not exist yet."""
        return self.root / "probes"

    @property
    def plans_dir(self) -> Path:
        """Return the folder of test plans, which may not exist yet."""
        return self.root / "plans"

    @property
    def bin_dir(self) -> Path:
        """Return the folder of what was thrown away, which may not exist yet."""
        return self.root / "bin"

    def new_recording(
        self,
        *,
        channels: Iterable[str],
        has_weight: bool,
        meta: Mapping[str, Any],
        path: Path | None = None,
    ) -> RecordingWriter:
        """Begin a recording under a name of its own, or under `path` (or the next free name) if given.

        Raises:
            BadInput: A channel name or the meta cannot be written.
            StorageError: The folder or the file cannot be made.
        """
        if path is None:
            name = recording_name(str(meta.get("started", "")), str(meta.get("machine", "")))
            path = self.recordings_dir / f"{name}{SUFFIX}"
        make_folder(path.parent)
        return RecordingWriter(path, channels, has_weight, meta)

    def save_shot(self, stream: Stream) -> Path:
        """Keep a shot as a file of its own, named by moment, machine and number; return its path.

        Raises:
            StorageError: It cannot be kept.
        """
        shot = stream.meta.get("shot")
        shot = shot if isinstance(shot, dict) else {}
        result = shot.get("result")
        kind = result.get("kind", "shot") if isinstance(result, dict) else "shot"
        moment = str(shot.get("pulled") or stream.meta.get("started", ""))
        number = shot.get("number")
        machine = str(stream.meta.get("machine", ""))
        name = shot_name(moment, machine, number if isinstance(number, int) else 0, str(kind))
        folder = self.shots_dir / month_part(moment)
        make_folder(folder)
        try:
            path = write_shot(folder / f"{name}{SUFFIX}", stream)
        except BadInput as error:
            raise StorageError(f"The shot cannot be kept as it is: {error}") from error
        self.remember_tags(_tags_of(stream.meta))
        return path

    def shots(self) -> Iterator[Path]:
        """Give the files of all shots, oldest month and name first."""
        for month in _entries(self.shots_dir, folders=True):
            yield from _entries(month)

    def recordings(self) -> Iterator[Path]:
        """Give the files of all recordings, oldest name first."""
        yield from _entries(self.recordings_dir)

    def interrupted(self) -> tuple[Interrupted, ...]:
        """Return the recordings that were never closed and that no living program is writing."""
        return find_interrupted(self.recordings_dir)

    def to_bin(self, path: Path) -> Path:
        """Move a file of this logbook to its bin, under the place it came from; return where it is now.

        Raises:
            BadInput: It is no file of this logbook.
            StorageError: It cannot be moved.
        """
        root = self.root.resolve()
        try:
            place = path.parent.resolve().joinpath(path.name).relative_to(root)
        except (ValueError, OSError) as error:
            raise BadInput(f"{shown(path)} is not in the logbook {shown(self.root)}; it stays.") from error
        if place.parts[0] == "bin" or not os.path.lexists(path) or path.is_dir():
            raise BadInput(f"{shown(path)} is no file that can be moved to the bin.")
        target = self.bin_dir / place
        make_folder(target.parent)
        for candidate in free_paths(target):
            if os.path.lexists(candidate):
                continue
            try:
                replace(path, candidate)
            except OSError as error:
                raise StorageError(f"{shown(path)} cannot be moved to the bin ({why(error)}).") from error
            sync_folder(candidate.parent)
            return candidate
        raise AssertionError("there is always another free name")

    def tags_used(self) -> dict[str, list[str]]:
        """Return tag names (and `machine`) with the values used so far, latest first, for completion.

        They are remembered outside the logbook; where that is lost, the latest shots are read again.
        """
        with contextlib.suppress(OSError, msgspec.DecodeError):
            return msgspec.json.decode(self._tags_file().read_bytes(), type=dict[str, list[str]])
        return self.rebuild_tags()

    def rebuild_tags(self) -> dict[str, list[str]]:
        """Read the tags of the latest shots again and remember them."""
        used: dict[str, list[str]] = {}
        for path in list(self.shots())[-FILES_FOR_TAGS:]:
            with contextlib.suppress(BenchtempError):
                used = _with_tags(used, _tags_of(read_meta(path)))
        self._keep_tags(used)
        return used

    def remember_tags(self, tags: Mapping[str, str]) -> None:
        """Put these tags first among those used."""
        before = self.tags_used()
        after = _with_tags(before, tags)
        if after != before:
            self._keep_tags(after)

    def _tags_file(self) -> Path:
        key = hashlib.sha256(os.fsencode(os.path.normcase(self.root.absolute()))).hexdigest()[:24]
        return cache_dir() / "logbooks" / key / "tags.json"

    def _keep_tags(self, used: dict[str, list[str]]) -> None:
        # Only a convenience: a cache folder that cannot be written must not disturb anyone.
        with contextlib.suppress(OSError, StorageError):
            path = self._tags_file()
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, [msgspec.json.encode(used)], overwrite=True)


def make_folder(folder: Path) -> None:
    """Create a folder and those above it where they are missing.

    Raises:
        StorageError: It cannot be created, or something else has its name.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        raise StorageError(
            f"{shown(folder)} cannot be a folder: a file has that name; move it away."
        ) from error
    except OSError as error:
        raise StorageError(
            f"The folder {shown(folder)} cannot be made ({why(error)}); choose another place for the logbook."
        ) from error


def _entries(folder: Path, *, folders: bool = False) -> list[Path]:
    """Return a folder's own sub-folders, or its ECSV files, by name; hidden ones and links to folders not."""
    found = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.startswith("."):
                    continue
                wanted = False
                with contextlib.suppress(OSError):  # a link that leads back to itself is no file
                    if folders:
                        wanted = entry.is_dir(follow_symlinks=False)
                    else:
                        wanted = entry.name.endswith(SUFFIX) and entry.is_file()
                if wanted:
                    found.append(entry.name)
    except FileNotFoundError:
        return []
    except OSError as error:
        raise StorageError(f"The folder {shown(folder)} cannot be read ({why(error)}).") from error
    return [folder / name for name in sorted(found)]


def _tags_of(meta: Mapping[str, Any]) -> dict[str, str]:
    tags = meta.get("tags")
    found = {str(name): str(value) for name, value in tags.items()} if isinstance(tags, dict) else {}
    if meta.get("machine"):
        found["machine"] = str(meta["machine"])
    return {name: value for name, value in found.items() if value}


def _with_tags(used: Mapping[str, list[str]], tags: Mapping[str, str]) -> dict[str, list[str]]:
    after = {name: list(values) for name, values in used.items()}
    for name, value in tags.items():
        others = [other for other in after.get(name, []) if other != value]
        after[name] = [value, *others][:TAG_VALUES_KEPT]
    return after
