"""The engine: one source, the stages, the recording, the marks. No Qt, no printing."""

from benchtemp.bench.engine import Bench, Press
from benchtemp.bench.live import LiveBench
from benchtemp.bench.snapshot import (
    Event,
    MarkTaken,
    PullDismissed,
    Refused,
    ShotEnded,
    ShotRevised,
    ShotSettled,
    ShotWithdrawn,
    Snapshot,
    SourceFailed,
    StageChanged,
    StatusChanged,
)
from benchtemp.bench.trace import TraceView

__all__ = [
    "Bench",
    "Event",
    "LiveBench",
    "MarkTaken",
    "Press",
    "PullDismissed",
    "Refused",
    "ShotEnded",
    "ShotRevised",
    "ShotSettled",
    "ShotWithdrawn",
    "Snapshot",
    "SourceFailed",
    "StageChanged",
    "StatusChanged",
    "TraceView",
]
