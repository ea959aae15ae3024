"""The live state machine: when a shot begins, settles and ends. Pure; the same code live and in replay.

The definitions are those of the plateau, applied to what has been seen so far. What a stage change says about the
past (`since_s`) may come a few seconds after it happened; the figures of a shot are always read afterwards, from
the whole trace.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum, auto

from benchtemp.readings.reading import Mark, MarkKind, Reading
from benchtemp.shots.approach import CLIMB_K_PER_S
from benchtemp.shots.plateau import COLDEST_SHOT_DEGC, FLUSH_LONGEST_S, HOTTEST_SHOT_DEGC, LONGEST_PULL_S
from benchtemp.shots.result import Origin, PullKind
from benchtemp.shots.trail import Trail, follow, line

PLATEAU_LEAST_S = 8.0
REST_S = 20.0
"""After this long without a new climb an ended pull is history."""
ARM_RISE_K = 3.0
ARM_K_PER_S = 0.6
FADE_S = 60.0
"""A climb the operator did not mark that has not come near brewing temperature by then was none of the pump's."""
EARLY_S = 8.0
"""A fall this soon after the plateau's start may be the far side of a hump."""
FALL_LEAST_K = 0.7
FALL_K_PER_S = 0.2
FALL_LASTS_S = 2.0
HUMP_HIGHEST_K = 8.0


class Stage(StrEnum):
    """Where the live state machine stands."""

    STANDBY = "standby"
    RISING = "rising"
    PLATEAU = "plateau"
    ENDED = "ended"


class Cause(StrEnum):
    """What moves the state machine."""

    CLIMBED = auto()
    PRESSED_ON = auto()
    SETTLED = auto()
    LEFT = auto()
    PRESSED_OFF = auto()
    TOO_LONG = auto()
    CAME_TO_NOTHING = auto()
    ON_TAKEN_BACK = auto()
    OFF_TAKEN_BACK = auto()
    """A pump off taken back before the pull had settled."""
    OFF_TAKEN_BACK_ON_PLATEAU = auto()
    RESTED = auto()


NEXT: dict[tuple[Stage, Cause], Stage] = {
    (Stage.STANDBY, Cause.CLIMBED): Stage.RISING,
    (Stage.STANDBY, Cause.PRESSED_ON): Stage.RISING,
    (Stage.RISING, Cause.SETTLED): Stage.PLATEAU,
    (Stage.RISING, Cause.LEFT): Stage.ENDED,
    (Stage.RISING, Cause.PRESSED_OFF): Stage.ENDED,
    (Stage.RISING, Cause.TOO_LONG): Stage.ENDED,
    (Stage.RISING, Cause.CAME_TO_NOTHING): Stage.ENDED,
    (Stage.RISING, Cause.ON_TAKEN_BACK): Stage.STANDBY,
    (Stage.PLATEAU, Cause.CLIMBED): Stage.RISING,
    (Stage.PLATEAU, Cause.LEFT): Stage.ENDED,
    (Stage.PLATEAU, Cause.PRESSED_OFF): Stage.ENDED,
    (Stage.PLATEAU, Cause.TOO_LONG): Stage.ENDED,
    (Stage.PLATEAU, Cause.ON_TAKEN_BACK): Stage.STANDBY,
    (Stage.ENDED, Cause.RESTED): Stage.STANDBY,
    (Stage.ENDED, Cause.CLIMBED): Stage.RISING,
    (Stage.ENDED, Cause.PRESSED_ON): Stage.RISING,
    (Stage.ENDED, Cause.OFF_TAKEN_BACK): Stage.RISING,
    (Stage.ENDED, Cause.OFF_TAKEN_BACK_ON_PLATEAU): Stage.PLATEAU,
}


class IllegalTransitionError(Exception):
    """A cause was put to a stage that knows no move for it: a fault of ours."""


def next_stage(stage: Stage, cause: Cause) -> Stage:
    """Return where a cause leads: the one gate every change goes through.

    Raises:
        IllegalTransitionError: The table holds no such move.
    """
    try:
        return NEXT[stage, cause]
    except KeyError:
        raise IllegalTransitionError(f"{cause} while {stage}") from None


@dataclass(frozen=True, slots=True)
class StageChange:
    """A move from one stage to the next.

    Attributes:
        t_s: When it became known.
        stage: The stage from now on.
        reason: Why, in words.
        since_s: When it really happened, as far as known now.
        kind: For `ended`: what the pull was; None for something that was no pull and is not to be kept.
    """

    t_s: float
    stage: Stage
    reason: str
    since_s: float
    kind: PullKind | None = None


@dataclass(frozen=True, slots=True)
class StageState:
    """Where the state machine stands; never changed, only replaced.

    Attributes:
        stage, since_s: The stage, and since when it really holds.
        rise_s: When the trace began to climb, None where it did not (yet).
        pump_on_s: The operator's mark, else the beginning of the climb.
        pump_marked: Whether `pump_on_s` is the operator's.
        pump_off_s: The operator's mark, else the estimated end; None until then.
        pump_off_marked: Whether `pump_off_s` is the operator's.
        plateau_start_s: None before the plateau.
        plateau_mean_degc: Running mean over the plateau, None before it.
        plateau_s: How long the plateau has lasted.
        longest_s: A pull is closed after this long.
        trail: The last seconds of the trace.
    """

    stage: Stage = Stage.STANDBY
    since_s: float = 0.0
    rise_s: float | None = None
    pump_on_s: float | None = None
    pump_marked: bool = False
    pump_off_s: float | None = None
    pump_off_marked: bool = False
    plateau_start_s: float | None = None
    plateau_mean_degc: float | None = None
    plateau_s: float = 0.0
    longest_s: float = LONGEST_PULL_S
    trail: Trail = Trail()
    _area_ks: float = 0.0
    _summed_to_s: float = 0.0
    _highest_degc: float = -999.0
    _kind: PullKind | None = None

    @property
    def pump_on_source(self) -> Origin:
        """Return where `pump_on_s` comes from."""
        return Origin.MARKED if self.pump_marked else Origin.ESTIMATED

    @property
    def pump_off_source(self) -> Origin:
        """Return where `pump_off_s` comes from."""
        return Origin.MARKED if self.pump_off_marked else Origin.ESTIMATED


STANDBY_STATE = StageState()

Changes = tuple[StageChange, ...]


def initial_state(*, longest_s: float = LONGEST_PULL_S) -> StageState:
    """Return the state before the first reading.

    Args:
        longest_s: A pull that has run this long is closed with a reason.
    """
    return StageState(longest_s=longest_s)


def step(state: StageState, item: Reading | Mark, basket: int = 0) -> tuple[StageState, Changes]:
    """Take one reading (temperatures corrected) or mark.

    Args:
        state: Where things stand.
        item: What comes next, in the order in which it was recorded.
        basket: Index of the channel whose probe sits in the basket.

    Returns: the next state and the changes of stage, usually none. The same input gives the same output.
    """
    if isinstance(item, Mark):
        return _mark(state, item)
    if basket >= len(item.temps_degc):
        return state, ()
    trail, closed = follow(state.trail, item.t_s, item.temps_degc[basket])
    if trail is state.trail:
        return state, ()
    state = _with_trail(state, trail)
    if not closed:
        return state, ()
    return _look(state, item.t_s)


def _with_trail(s: StageState, trail: Trail) -> StageState:
    return StageState(
        s.stage,
        s.since_s,
        s.rise_s,
        s.pump_on_s,
        s.pump_marked,
        s.pump_off_s,
        s.pump_off_marked,
        s.plateau_start_s,
        s.plateau_mean_degc,
        s.plateau_s,
        s.longest_s,
        trail,
        s._area_ks,
        s._summed_to_s,
        s._highest_degc,
        s._kind,
    )


# -- marks -----------------------------------------------------------------------------------------------------------


def _mark(state: StageState, mark: Mark) -> tuple[StageState, Changes]:
    running = state.stage in {Stage.RISING, Stage.PLATEAU}
    if mark.kind is MarkKind.PUMP_ON:
        if not running:
            return _begin(state, mark.t_s, Cause.PRESSED_ON, mark.t_s, "pump on")
        if not state.pump_marked:
            return replace(state, pump_on_s=mark.t_s, pump_marked=True), ()
        ended, changes = _end(
            state, mark.t_s, Cause.PRESSED_OFF, mark.t_s, "pump on again, without a pump off"
        )
        begun, more = _begin(ended, mark.t_s, Cause.PRESSED_ON, mark.t_s, "pump on")
        return begun, changes + more
    if mark.kind is MarkKind.PUMP_OFF and running:
        return _end(replace(state, pump_off_marked=True), mark.t_s, Cause.PRESSED_OFF, mark.t_s, "pump off")
    if mark.kind is MarkKind.UNDO:
        return _take_back(state, mark.t_s)
    return state, ()


def _take_back(state: StageState, t_s: float) -> tuple[StageState, Changes]:
    if state.stage is Stage.ENDED and state.pump_off_marked:
        on_plateau = state.plateau_start_s is not None
        cause = Cause.OFF_TAKEN_BACK_ON_PLATEAU if on_plateau else Cause.OFF_TAKEN_BACK
        since_s = state.plateau_start_s if state.plateau_start_s is not None else state.pump_on_s
        state = replace(state, pump_off_s=None, pump_off_marked=False, _kind=None)
        return _go(state, t_s, cause, since_s if since_s is not None else t_s, "pump off taken back")
    if state.stage in {Stage.RISING, Stage.PLATEAU} and state.pump_marked:
        if state.rise_s is not None:
            return replace(state, pump_on_s=state.rise_s, pump_marked=False), ()
        return _go(_blank(state), t_s, Cause.ON_TAKEN_BACK, t_s, "pump on taken back")
    return state, ()


# -- moves -----------------------------------------------------------------------------------------------------------


def _go(
    state: StageState, t_s: float, cause: Cause, since_s: float, reason: str, kind: PullKind | None = None
) -> tuple[StageState, Changes]:
    stage = next_stage(state.stage, cause)
    return replace(state, stage=stage, since_s=since_s), (StageChange(t_s, stage, reason, since_s, kind),)


def _blank(state: StageState) -> StageState:
    """Return the state with everything about the last pull forgotten; the stage itself is `_go`'s to change."""
    return StageState(stage=state.stage, since_s=state.since_s, longest_s=state.longest_s, trail=state.trail)


def _begin(
    state: StageState, t_s: float, cause: Cause, since_s: float, reason: str
) -> tuple[StageState, Changes]:
    marked = cause is Cause.PRESSED_ON
    state = replace(_blank(state), pump_on_s=since_s, pump_marked=marked, rise_s=None if marked else since_s)
    return _go(state, t_s, cause, since_s, reason)


def _end(
    state: StageState, t_s: float, cause: Cause, since_s: float, reason: str
) -> tuple[StageState, Changes]:
    kind = _judge(state, since_s, cause)
    state = replace(state, pump_off_s=since_s, _kind=kind)
    return _go(state, t_s, cause, since_s, reason, kind)


def _judge(state: StageState, end_s: float, cause: Cause) -> PullKind | None:
    """Tell what has just ended."""
    start_s = state.plateau_start_s
    settled = start_s is not None and end_s - start_s >= PLATEAU_LEAST_S
    if state.pump_marked or state.pump_off_marked:
        began_s = state.pump_on_s if state.pump_on_s is not None else end_s
        return PullKind.SHOT if settled or end_s - began_s >= FLUSH_LONGEST_S else PullKind.FLUSH
    if cause in {Cause.TOO_LONG, Cause.CAME_TO_NOTHING}:
        return None
    top = state.plateau_mean_degc if settled else state._highest_degc
    if top is None or not COLDEST_SHOT_DEGC <= top <= HOTTEST_SHOT_DEGC:
        return None
    return PullKind.SHOT if settled else PullKind.FLUSH


# -- readings --------------------------------------------------------------------------------------------------------


def _look(state: StageState, t_s: float) -> tuple[StageState, Changes]:
    """Look at the trail anew: a cell has just been closed."""
    if state.stage is Stage.RISING:
        return _look_rising(state, t_s)
    if state.stage is Stage.PLATEAU:
        return _look_plateau(state, t_s)
    climb_s = _climb_since(state)
    if climb_s is not None:
        begun, changes = _begin(state, t_s, Cause.CLIMBED, climb_s, "the temperature climbs")
        return begun, changes
    if state.stage is Stage.ENDED and t_s - state.since_s > REST_S:
        return _go(_blank(state), t_s, Cause.RESTED, t_s, "ready for the next")
    return state, ()


def _climb_since(state: StageState) -> float | None:
    """Return when a climb began that is fast and high enough to be a pull's, None without one."""
    times, temps = state.trail.t_s, state.trail.temp_degc
    count = len(times)
    if count < 3:
        return None
    now_s, now = times[-1], temps[-1]
    back = count - 1
    while back > 0 and now_s - times[back] < 2.0:
        back -= 1
    past = now - temps[back]
    if past < ARM_K_PER_S * (now_s - times[back]) or now < temps[-2] - 3.0 * state.trail.noise_k:
        return None
    lowest, at = now, count - 1
    for i in range(count - 2, -1, -1):
        if state.stage is Stage.ENDED and times[i] < state.since_s:
            break
        if now_s - times[i] > 10.0 or temps[i] > lowest + 1.0 + 3.0 * state.trail.noise_k:
            break
        if temps[i] < lowest:
            lowest, at = temps[i], i
    if now - lowest < max(ARM_RISE_K, 8.0 * state.trail.noise_k):
        return None
    # The climb began where the trace left the level from which it comes.
    least_k = 3.0 * state.trail.noise_k + 0.1
    while at < count - 1 and temps[at + 1] < lowest + least_k:
        at += 1
    return times[at]


def _look_rising(state: StageState, t_s: float) -> tuple[StageState, Changes]:
    trail = state.trail
    now_s, now = trail.t_s[-1], trail.temp_degc[-1]
    highest = max(state._highest_degc, now)
    state = replace(state, _highest_degc=highest)
    if state.rise_s is None:
        climb_s = _climb_since(state)
        if climb_s is not None:
            state = replace(state, rise_s=climb_s)
    began_s = state.pump_on_s if state.pump_on_s is not None else state.since_s
    if t_s - began_s > state.longest_s:
        return _end(state, t_s, Cause.TOO_LONG, t_s, f"no end within {state.longest_s:g} s")
    if not state.pump_marked and t_s - began_s > FADE_S:
        return _end(state, t_s, Cause.CAME_TO_NOTHING, t_s, "the climb came to nothing")
    fallen_k = highest - now
    if state.rise_s is not None and fallen_k > max(3.0, 8.0 * trail.noise_k) and not state.pump_marked:
        cause = Cause.LEFT if highest >= COLDEST_SHOT_DEGC else Cause.CAME_TO_NOTHING
        return _end(state, t_s, cause, _time_of_highest(trail), "the trace fell before it settled")
    if state.rise_s is None or now_s - state.rise_s < 2.0:
        return state, ()
    if now < COLDEST_SHOT_DEGC and not state.pump_marked:
        return state, ()
    settled_s = _settled_since(state)
    if settled_s is None:
        return state, ()
    state = _sum_from(replace(state, plateau_start_s=settled_s), settled_s)
    return _go(state, t_s, Cause.SETTLED, settled_s, "the temperature has settled")


def _time_of_highest(trail: Trail) -> float:
    highest = max(trail.temp_degc)
    return trail.t_s[trail.temp_degc.index(highest)]


def _settled_since(state: StageState) -> float | None:
    """Return when the climb became slower than the limit, None while it is faster or in doubt."""
    trail = state.trail
    now_s = trail.t_s[-1]
    fitted = line(trail, now_s - 3.2, now_s)
    if fitted is None or now_s - fitted[0] < 0.9:
        return None
    doubt = trail.noise_k * fitted[3] ** 0.5
    if fitted[2] + 0.7 * min(doubt, 0.1) >= CLIMB_K_PER_S:
        return None
    earlier = line(trail, now_s - 5.2, now_s - 1.8)
    if earlier is None or earlier[2] <= CLIMB_K_PER_S:
        return fitted[0]
    share = (earlier[2] - CLIMB_K_PER_S) / max(earlier[2] - fitted[2], 1e-9)
    return earlier[0] + min(share, 1.0) * (fitted[0] - earlier[0])


def _sum_from(state: StageState, start_s: float) -> StageState:
    trail = state.trail
    area, at_s = 0.0, start_s
    for time_s, value in zip(trail.t_s, trail.temp_degc, strict=True):
        if time_s > at_s:
            area += value * (time_s - at_s)
            at_s = time_s
    length_s = at_s - start_s
    mean = area / length_s if length_s > 0 else trail.temp_degc[-1]
    return replace(
        state, _area_ks=area, _summed_to_s=at_s, plateau_mean_degc=mean, plateau_s=max(length_s, 0.0)
    )


def _look_plateau(state: StageState, t_s: float) -> tuple[StageState, Changes]:
    trail = state.trail
    start_s = state.plateau_start_s
    assert start_s is not None
    now_s, now = trail.t_s[-1], trail.temp_degc[-1]
    area = state._area_ks + now * (now_s - state._summed_to_s)
    length_s = now_s - start_s
    state = replace(
        state,
        _area_ks=area,
        _summed_to_s=now_s,
        plateau_mean_degc=area / length_s if length_s > 0 else now,
        plateau_s=length_s,
        _highest_degc=max(state._highest_degc, now),
    )
    began_s = state.pump_on_s if state.pump_on_s is not None else start_s
    if t_s - began_s > state.longest_s:
        return _end(state, t_s, Cause.TOO_LONG, t_s, f"no end within {state.longest_s:g} s")
    if _climbs_again(state):
        state = replace(state, plateau_start_s=None, plateau_mean_degc=None, plateau_s=0.0)
        return _go(state, t_s, Cause.CLIMBED, now_s, "the temperature climbs again")
    left_s = None if state.pump_marked else _left_since(state)
    if left_s is not None:
        return _end(state, t_s, Cause.LEFT, left_s, "the trace left the plateau")
    return state, ()


def _climbs_again(state: StageState) -> bool:
    trail = state.trail
    now_s = trail.t_s[-1]
    fitted = line(trail, now_s - 2.2, now_s)
    if fitted is None:
        return False
    doubt = trail.noise_k * fitted[3] ** 0.5
    return fitted[2] - CLIMB_K_PER_S > 3.5 * doubt + 0.05


def _left_since(state: StageState) -> float | None:
    """Return when the trace left the plateau, None while it has not, or not beyond doubt."""
    trail = state.trail
    now_s = trail.t_s[-1]
    start_s = state.plateau_start_s
    assert start_s is not None
    recent = line(trail, now_s - FALL_LASTS_S - 0.1, now_s)
    if recent is None:
        return None
    fall_doubt = trail.noise_k * recent[3] ** 0.5
    if recent[2] > -FALL_K_PER_S - 1.5 * fall_doubt:
        return None
    before = line(trail, max(start_s, now_s - 10.0), now_s - FALL_LASTS_S - 0.6)
    if before is None:
        ahead, slope = state.plateau_mean_degc or recent[1], 0.0
    else:
        slope = min(before[2], CLIMB_K_PER_S)
        ahead = before[1] + min(slope, 0.0) * (now_s - before[0])
    drop_k = ahead - trail.temp_degc[-1]
    least_k = max(FALL_LEAST_K, 5.0 * trail.noise_k)
    if drop_k < least_k:
        return None
    end_s = recent[0] - (ahead - recent[1]) / -recent[2]
    if end_s - start_s < EARLY_S and state._highest_degc - trail.temp_degc[-1] < HUMP_HIGHEST_K:
        return None
    return max(end_s, start_s)
