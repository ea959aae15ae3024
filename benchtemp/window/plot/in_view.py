"""What is in view: its name, its plateau, and which shots may stand behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.shots.stages import Stage

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.shots.shot import Shot
    from benchtemp.window.plot.span import TimeSpan


def caption_of(span: TimeSpan, shot: Shot | None, word: str) -> str:
    """Return what to call a stretch of time; `shot` where a past one is shown, `word` is Live or Replay."""
    if shot is not None:
        return "A flush of this sitting" if shot.is_flush else f"Shot {shot.number} of this sitting"
    if not span.since_pump:
        return word
    return f"{word}, since the rise began" if span.estimated else f"{word}, since pump on"


def plateau_of(snapshot: Snapshot, span: TimeSpan, shot: Shot | None) -> tuple[float, float] | None:
    """Return from when to when the plateau in view lasts, s since the span's origin; None for none."""
    origin_s = span.origin_s
    if shot is None and snapshot.stage is Stage.PLATEAU and snapshot.plateau_start_s is not None:
        last_s = snapshot.last_s if snapshot.last_s is not None else snapshot.now_s
        return snapshot.plateau_start_s - origin_s, max(snapshot.plateau_start_s, last_s) - origin_s
    if shot is None and span.since_pump:
        shot = next((other for other in snapshot.shots if other.result.pump_on_s == origin_s), None)
    if shot is None or shot.result.plateau_start_s is None or shot.result.plateau_end_s is None:
        return None
    return shot.result.plateau_start_s - origin_s, shot.result.plateau_end_s - origin_s


def others_than(snapshot: Snapshot, span: TimeSpan, shot: Shot | None) -> list[Shot]:
    """Return the shots that may be drawn behind what is in view: all but the one that is in view itself."""
    shots = [other for other in snapshot.shots if not other.is_flush]
    if shot is not None:
        return [other for other in shots if other.key != shot.key]
    if snapshot.stage not in {Stage.RISING, Stage.PLATEAU} and span.since_pump:
        return [other for other in shots if other.result.pump_on_s != span.origin_s]
    return shots
