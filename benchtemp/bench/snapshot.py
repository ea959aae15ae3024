"""What the engine tells the outside: immutable pictures of where it stands, and events."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import nan
from pathlib import Path

from benchtemp.bench.trace import TraceView
from benchtemp.readings.reading import Mark, NoticeKind
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.shot import Shot
from benchtemp.shots.stages import Stage, StageChange


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Where the bench stands at one moment; never changes once given out.

    Attributes:
        now_s: The source's clock when this was taken.
        last_s: Time of the last temperature reading, None before the first.
        temps_degc: The last corrected temperatures, NaN where a channel gave none.
        reasons: Why a channel gave none, as in `Reading.reasons`.
        period_s: Usual time between readings, None until known.
        stage, since_s: Stage of the live state machine, and since when it really holds.
        pump_on_s, pump_off_s: Of the pull under way, or of the last one; None where there is none.
        pump_marked: Whether `pump_on_s` was marked by the operator.
        pump_running: Whether a marked pump on waits for its pump off: the next press means pump off.
        plateau_start_s: Of the pull under way.
        running_brew_degc: Mean over the plateau so far, None before it.
        running_expanded_k: Expanded uncertainty of that from probe, interface and place, K; the shot's own
            readings add to it once they are all there.
        weight_g: Last weight minus the last tare, NaN without a scale.
        has_weight: Whether weights come from a scale.
        recipe, tags: In force for the next shot.
        shots: This sitting's pulls, oldest first (flushes among them).
        status, status_text: How the source is doing, in a sentence where there is something to say.
        trouble: A standing warning about the disk, None when all is well.
        recording: The file being written, None when nothing is.
        trace: Everything recent, for drawing.
        marks: All marks of this sitting, in the order they came.
        probes: Name of the probe on each channel, empty where none was named; no entries where none is
            named at all.
        check_warnings: Sentences about probes that should be checked (again).
    """

    now_s: float
    channels: tuple[str, ...]
    trace: TraceView
    last_s: float | None = None
    temps_degc: tuple[float, ...] = ()
    reasons: tuple[str, ...] = ()
    period_s: float | None = None
    basket: int = 0
    stage: Stage = Stage.STANDBY
    since_s: float = 0.0
    pump_on_s: float | None = None
    pump_marked: bool = False
    pump_running: bool = False
    pump_off_s: float | None = None
    rise_s: float | None = None
    plateau_start_s: float | None = None
    running_brew_degc: float | None = None
    running_expanded_k: float | None = None
    weight_g: float = nan
    has_weight: bool = False
    recipe: Recipe = field(default_factory=Recipe)
    tags: dict[str, str] = field(default_factory=dict)
    shots: tuple[Shot, ...] = ()
    status: NoticeKind = NoticeKind.WAITING
    status_text: str = ""
    trouble: str | None = None
    recording: Path | None = None
    marks: tuple[Mark, ...] = ()
    probes: tuple[str, ...] = ()
    check_warnings: tuple[str, ...] = ()

    @property
    def stale(self) -> bool:
        """Tell whether the last reading is too old to be shown as the temperature now (3 periods)."""
        if self.last_s is None:
            return True
        allowed_s = max(3 * self.period_s if self.period_s else 2.0, 0.3)
        return self.now_s - self.last_s > allowed_s


@dataclass(frozen=True, slots=True)
class StageChanged:
    """The live stage changed."""

    change: StageChange


@dataclass(frozen=True, slots=True)
class _OfShot:
    """What events about one pull, shot or flush, have in common."""

    shot: Shot


class ShotEnded(_OfShot):
    """A pull ended and was read; `path` of the shot is None where nothing is kept."""

    __slots__ = ()


class ShotRevised(_OfShot):
    """A pull of this sitting has new figures or entries; it replaces the one of the same `key`."""

    __slots__ = ()


class ShotSettled(_OfShot):
    """A pull has been read for the last time; only what the operator enters can still change it."""

    __slots__ = ()


class ShotWithdrawn(_OfShot):
    """The pull that had ended goes on after all (its pump off was taken back)."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class PullDismissed:
    """What looked like a pull was none, and why."""

    t_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class MarkTaken:
    """A mark was recorded."""

    mark: Mark


@dataclass(frozen=True, slots=True)
class Refused:
    """A command could not be carried out; the sentence says why."""

    t_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class StatusChanged:
    """The source is doing differently."""

    t_s: float
    kind: NoticeKind
    text: str


@dataclass(frozen=True, slots=True)
class SourceFailed:
    """The source could not be opened, or broke for good; the sentence carries the cure."""

    reason: str


Event = (
    StageChanged
    | ShotEnded
    | ShotRevised
    | ShotSettled
    | ShotWithdrawn
    | PullDismissed
    | MarkTaken
    | Refused
    | StatusChanged
    | SourceFailed
)
