"""The readings of a check, kept as a recording: what a calibration rests on stays open to question."""

from __future__ import annotations

from pathlib import Path

from benchtemp.logbook.folder import SUFFIX, Logbook
from benchtemp.logbook.names import moment_part, safe_part
from benchtemp.readings.reading import Stream


def keep_check_trace(logbook: Logbook, probe: str, stream: Stream) -> Path:
    """Write the readings of a check as a recording of its own and return its file.

    Args:
        logbook: Where it is kept.
        probe: The (first) probe's name, for the file's.
        stream: Readings as reported; its header's `started` gives the file's name too.

    Raises:
        StorageError: The disk does not take it.
    """
    moment = moment_part(str(stream.meta.get("started", "")))
    writer = logbook.new_recording(
        channels=stream.channels,
        has_weight=False,
        meta={**stream.meta, "kind": "recording", "purpose": "check of a probe"},
        path=logbook.recordings_dir / f"{moment}_check-{safe_part(probe, 'probe')}{SUFFIX}",
    )
    try:
        for item in stream.items():
            writer.append(item)
    finally:
        writer.close()
    return writer.path
