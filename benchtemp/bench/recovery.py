"""Shots for recordings that have none yet: interrupted ones, which are closed first, and imported ones."""

from __future__ import annotations

from pathlib import Path

from benchtemp.bench.keeping import Keeper
from benchtemp.bench.replaying import bench_for_replay
from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.interrupted import close_interrupted
from benchtemp.readings.reading import Stream
from benchtemp.shots.shot import Shot

SAME_PULL_S = 5.0
"""Two pulls of one recording that began this close together are the same one."""


class _Finder(Keeper):
    """Keeps only pulls that have no file yet."""

    def __init__(self, logbook: Logbook, stream: Stream, recording: Path, *, is_new: bool) -> None:
        header = {
            key: value for key, value in stream.meta.items() if key not in {"writer", "digest", "edits"}
        }
        super().__init__(logbook, None, header)
        self._recording = recording.name
        self._began_s = [] if is_new else _pulls_on_file(logbook, recording.name)
        self._had: set[int] = set()

    @property
    def recording_name(self) -> str:
        return self._recording

    def keep(self, shot: Shot, stream: Stream) -> Shot:
        if shot.key not in self._paths and any(
            abs(began_s - shot.result.pump_on_s) < SAME_PULL_S for began_s in self._began_s
        ):
            self._had.add(shot.key)
        return shot if shot.key in self._had else super().keep(shot, stream)

    @property
    def kept(self) -> tuple[Path, ...]:
        """Return the files written."""
        return tuple(self._paths.values())


def _pulls_on_file(logbook: Logbook, recording: str) -> list[float]:
    """Return when the pulls of a recording began that have files already, s in the recording's time."""
    began_s = []
    for path in logbook.shots():
        try:
            shot = read_meta(path).get("shot")
        except BenchtempError:
            continue
        if isinstance(shot, dict) and shot.get("recording") == recording:
            result = shot.get("result")
            if isinstance(result, dict) and isinstance(result.get("pump_on_s"), int | float):
                began_s.append(float(result["pump_on_s"]))
    return began_s


def recover(logbook: Logbook, path: Path) -> tuple[Path, ...]:
    """Close an interrupted recording and keep the shots in it that have no file yet; return the new files.

    The recording is lived again as it was, so its shots are those the program would have kept.

    Raises:
        BenchtempError: It is still being recorded, holds nothing readable, or the disk refuses.
    """
    closed = close_interrupted(path)
    return () if closed.path is None else keep_shots_of(logbook, closed.path)


def keep_shots_of(logbook: Logbook, recording: Path, *, is_new: bool = False) -> tuple[Path, ...]:
    """Keep the shots of a recording that have no file yet; return the new files.

    Args:
        logbook: Where the shots go.
        recording: A whole recording.
        is_new: It has just been made, so no shot of it can be on file and none is looked for.

    Raises:
        BenchtempError: The recording cannot be read, or the disk refuses.
    """
    stream = read_stream(recording)
    keeper = _Finder(logbook, stream, recording, is_new=is_new)
    bench = bench_for_replay(stream, keeper=keeper)
    for item in stream.items():
        bench.take(item)
    bench.finish()
    keeper.close()
    if keeper.trouble:
        raise BenchtempError(keeper.trouble)
    return keeper.kept
