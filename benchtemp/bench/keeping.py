"""What the engine keeps: the recording as it comes, and a file for every pull."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Protocol

import msgspec

from benchtemp.errors import BenchtempError
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.shot_file import replace_shot, rewrite_header
from benchtemp.readings.reading import Mark, Reading, Stream
from benchtemp.shots.shot import Shot


class Recorder(Protocol):
    """Takes rows and never raises for want of disk; see `benchtemp.logbook.recording`."""

    @property
    def path(self) -> Path:
        """The file."""

    @property
    def trouble(self) -> str | None:
        """A standing warning, None when all rows are written."""

    def append(self, item: Reading | Mark) -> None:
        """Keep a row."""

    def close(self) -> None:
        """Finish the file."""


class Keeper:
    """Keeps a sitting: rows at once, shot files whole.

    A disk that refuses does not stop the bench: shot files wait in memory and are tried again, and `trouble`
    stands until everything is written.

    Attributes:
        logbook: Where shot files go.
        recorder: The open recording, None where only shots are kept.
    """

    RETRY_S = 1.0

    def __init__(self, logbook: Logbook, recorder: Recorder | None, header: dict[str, Any]) -> None:
        self.logbook = logbook
        self.recorder = recorder
        self._header = header
        self._waiting: dict[int, tuple[Shot, Stream]] = {}
        self._trouble: str | None = None
        self._paths: dict[int, Path] = {}
        self._kept: dict[int, Shot] = {}
        self._withdrawn: Path | None = None
        self._tried_s = 0.0

    @property
    def recording_path(self) -> Path | None:
        """Return the file being recorded."""
        return self.recorder.path if self.recorder else None

    @property
    def recording_name(self) -> str:
        """Return the recording's file name, empty without one."""
        return self.recorder.path.name if self.recorder else ""

    @property
    def trouble(self) -> str | None:
        """Return the standing warning about the disk, None when all is kept."""
        return (self.recorder.trouble if self.recorder else None) or self._trouble

    def record(self, item: Reading | Mark) -> None:
        """Keep one row of the recording."""
        if self.recorder:
            self.recorder.append(item)
        if self._waiting and item.t_s >= self._tried_s + self.RETRY_S:
            self._tried_s = item.t_s
            self._try_waiting()

    def keep(self, shot: Shot, stream: Stream) -> Shot:
        """Keep a pull; one kept before under the same key is replaced. Returns the shot with its path."""
        self._waiting[shot.key] = (shot, stream)
        self._try_waiting()
        path = self._paths.get(shot.key)
        return msgspec.structs.replace(shot, path=str(path) if path else "")

    def withdraw(self, shot: Shot) -> None:
        """Take note that a pull goes on: its file is replaced by the next one kept, and not before."""
        self._waiting.pop(shot.key, None)
        self._withdrawn = self._paths.pop(shot.key, None)

    def revise(self, shot: Shot) -> Shot:
        """Bring what was entered later into a pull's file; its readings stay as they are."""
        if shot.key in self._waiting:
            self._waiting[shot.key] = (shot, self._waiting[shot.key][1])
            return shot
        path = self._paths.get(shot.key)
        if path is None:
            return shot
        before = self._kept.get(shot.key, shot)
        try:
            rewrite_header(path, lambda meta: {**meta, **_merged(shot_header(shot, meta), meta, before)})
            self._kept[shot.key] = shot
        except BenchtempError as error:
            self._trouble = str(error)
        return shot

    def close(self) -> None:
        """Try once more to write what waits, and close the recording."""
        self._try_waiting()
        if self.recorder:
            self.recorder.close()

    def _try_waiting(self) -> None:
        for key, (shot, stream) in list(self._waiting.items()):
            whole = Stream(
                channels=stream.channels,
                t_s=stream.t_s,
                temps_degc=stream.temps_degc,
                weight_g=stream.weight_g,
                marks=stream.marks,
                mark_rows=stream.mark_rows,
                meta={**self._header, **stream.meta, **shot_header(shot, self._header), "kind": "shot"},
            )
            try:
                path = self._paths.get(key) or self._withdrawn
                if path is None:
                    self._paths[key] = self.logbook.save_shot(whole)
                else:
                    replace_shot(path, whole)
                    self._paths[key] = path
                    self._withdrawn = None
            except BenchtempError as error:
                self._trouble = (
                    f"{error} The shot is kept in memory and written as soon as the disk takes it."
                )
                return
            self._kept[key] = shot
            del self._waiting[key]
        self._trouble = None


def shot_header(shot: Shot, header: dict[str, Any]) -> dict[str, Any]:
    """Return the parts of a shot file's header that tell of the shot.

    Args:
        shot: The shot.
        header: The recording's header, for what the shot does not know.
    """
    recipe = msgspec.structs.replace(shot.recipe, dose_g=shot.dose_g)
    return {
        "machine": shot.tags.get("machine", header.get("machine", "")),
        "recipe": msgspec.to_builtins(recipe),
        "tags": dict(shot.tags),
        "shot": {
            "number": shot.number,
            "recording": shot.recording,
            "pulled": shot.started,
            "yield_g": shot.yield_g,
            "verdict": str(shot.verdict),
            "counts": shot.counts,
            "reasons": list(shot.reasons),
            "set_aside": shot.set_aside,
            "brew_temp_expanded_uncertainty_k": shot.brew_temp_expanded_uncertainty_k,
            "result": msgspec.to_builtins(shot.result),
        },
    }


def _merged(told: dict[str, Any], meta: dict[str, Any], before: Shot) -> dict[str, Any]:
    """Return what a shot tells of itself without undoing what somebody else edited in its file meanwhile.

    Args:
        told: From the shot as it is now.
        meta: The file's header as it is now.
        before: The shot as this sitting wrote it last.
    """
    in_file = meta.get("tags")
    tags = dict(in_file) if isinstance(in_file, dict) else {}
    for name in before.tags.keys() | told["tags"].keys():
        if before.tags.get(name) != told["tags"].get(name):
            tags.pop(name, None)
            if name in told["tags"]:
                tags[name] = told["tags"][name]
    shot = meta.get("shot")
    set_aside = shot.get("set_aside", "") if isinstance(shot, dict) else ""
    return {
        **told,
        "tags": tags,
        "shot": {**told["shot"], "set_aside": told["shot"]["set_aside"] or set_aside},
    }


def channel_headers(
    channels: Iterable[str], notes: Mapping[str, Mapping[str, Any]], details: Mapping[str, object]
) -> list[dict[str, Any]]:
    """Return what a header says of each channel: its name, the unit as sent, its probe and correction.

    Args:
        channels: Their names.
        notes: What is known of the probes, by channel.
        details: Facts about the source.
    """
    units = details.get("units_as_sent")
    described = []
    for index, name in enumerate(channels):
        channel: dict[str, Any] = {"name": name}
        if isinstance(units, list | tuple) and index < len(units):
            channel["unit_as_sent"] = str(units[index])
        described.append({**channel, **notes.get(name, {})})
    return described
