"""The live state machine: when a shot begins, settles and ends. Pure; the same code live and in replay.

The definitions are those of the plateau, applied to what has been seen so far. What a stage change says about
the past (`since_s`) may come a few seconds after it happened; the figures of a shot are always read
afterwards, from the whole trace.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchtemp.readings.reading import Mark, MarkKind, Reading
from benchtemp.shots.plateau import COLDEST_SHOT_DEGC, FLUSH_LONGEST_S, HOTTEST_SHOT_DEGC
from benchtemp.shots.result import Origin, PullKind
from benchtemp.shots.spans import LONGEST_PULL_S
from benchtemp.shots.trail import EMPTY_TRAIL, Trail, follow
from benchtemp.shots.transitions import RESUMING, Cause, Stage, next_stage
from benchtemp.shots.watch import came_back, climb_since, climbs_again, left_since, settled_since

__all__ = ["STANDBY_STATE", "Stage", "StageChange", "StageState", "Step", "initial_state", "step"]

PLATEAU_LEAST_S = 8.0
REST_S = 20.0
"""After this long without a new climb an ended pull is history."""
BACK_WITHIN_S = 12.0
"""A trace that comes back to the plateau within this had only dipped."""
FADE_S = 60.0
"""A climb nobody marked that has not settled near brewing temperature by then was none of the pump's."""
FALLEN_BACK_K = 3.0
FORGOTTEN_S = 8.0
"""A pull the operator marked ends by the trace only this long after: the second press decides, if it
comes."""


@dataclass(frozen=True, slots=True)
class StageChange:
    """A move from one stage to the next.

    Attributes:
        t_s: When it became known.
        stage: The stage from now on.
        reason: Why, in words.
        since_s: When it really happened, as far as known now.
        kind: For `ended`: what the pull was; None for something that was no pull and is not to be kept.
        resumed: The pull that had ended goes on after all: what was made of its end is void.
    """

    t_s: float
    stage: Stage
    reason: str
    since_s: float
    kind: PullKind | None = None
    resumed: bool = False


@dataclass(frozen=True, slots=True)
class StageState:
    """Where the state machine stands; never changed, only replaced.

    Attributes:
        stage: The stage.
        since_s: Since when it really holds.
        rise_s: When the trace began to climb, None where it did not (yet).
        pump_on_s: The operator's mark, else the beginning of the climb.
        pump_marked: Whether `pump_on_s` is the operator's.
        pump_off_s: The operator's mark, else the estimated end; None until then.
        pump_off_marked: Whether `pump_off_s` is the operator's.
        plateau_start_s: None before the plateau.
        plateau_mean_degc: Running mean over the plateau, None before it.
        plateau_s: How long the plateau has lasted.
        kind: What an ended pull was.
        longest_s: A pull is closed after this long.
        trail: The last seconds of the trace.
        area_ks: Integral of the temperature over the plateau so far.
        summed_to_s: Up to where.
        highest_degc: Highest temperature since the pull began.
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
    kind: PullKind | None = None
    longest_s: float = LONGEST_PULL_S
    trail: Trail = EMPTY_TRAIL
    area_ks: float = 0.0
    summed_to_s: float = 0.0
    highest_degc: float = -999.0

    @property
    def pump_on_source(self) -> Origin:
        """Return where `pump_on_s` comes from."""
        return Origin.MARKED if self.pump_marked else Origin.ESTIMATED

    @property
    def pump_off_source(self) -> Origin:
        """Return where `pump_off_s` comes from."""
        return Origin.MARKED if self.pump_off_marked else Origin.ESTIMATED

    @property
    def under_way(self) -> bool:
        """Tell whether a pull has begun and not ended."""
        return self.stage is Stage.RISING or self.stage is Stage.PLATEAU

    @property
    def began_s(self) -> float:
        """Return when the pull under way began: pump on, marked or not."""
        return self.pump_on_s if self.pump_on_s is not None else self.since_s


STANDBY_STATE = StageState()

Step = tuple[StageState, tuple[StageChange, ...]]


def initial_state(*, longest_s: float = LONGEST_PULL_S) -> StageState:
    """Return the state before the first reading.

    Args:
        longest_s: A pull that has run this long is closed with a reason.
    """
    return StageState(longest_s=longest_s)


def step(state: StageState, item: Reading | Mark, basket: int = 0) -> Step:
    """Take one reading (temperatures corrected) or mark.

    Args:
        state: Where things stand.
        item: What comes next, in the order in which it was recorded.
        basket: Index of the channel whose probe sits in the basket.

    Returns: the next state and the changes of stage, usually none. The same input gives the same output.
    """
    if isinstance(item, Mark):
        return _take_mark(state, item)
    t_s = item.t_s
    if state.stage is not Stage.STANDBY:
        # By the clock alone, so that a probe that has gone silent does not keep a pull open.
        if state.under_way and t_s - state.began_s > state.longest_s:
            return _end(state, t_s, Cause.TOO_LONG, t_s, f"no end within {state.longest_s:g} s")
        if state.stage is Stage.ENDED and t_s - state.since_s > REST_S:
            return _go(_blank(state), t_s, Cause.RESTED, t_s, "ready for the next")
    if basket >= len(item.temps_degc):
        return state, ()
    trail, closed = follow(state.trail, t_s, item.temps_degc[basket])
    if trail is state.trail:
        return state, ()
    state = _with_trail(state, trail)
    return _look(state, t_s) if closed else (state, ())


def _with_trail(s: StageState, trail: Trail) -> StageState:
    # `replace` costs four times as much, and this happens with every reading.
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
        s.kind,
        s.longest_s,
        trail,
        s.area_ks,
        s.summed_to_s,
        s.highest_degc,
    )


def _take_mark(state: StageState, mark: Mark) -> Step:
    t_s = mark.t_s
    if mark.kind is MarkKind.PUMP_ON:
        if not state.under_way:
            return _begin(state, t_s, Cause.PRESSED_ON, t_s, "pump on")
        if not state.pump_marked:
            return replace(state, pump_on_s=t_s, pump_marked=True), ()
        ended, changes = _end(state, t_s, Cause.PRESSED_OFF, t_s, "pump on again, without a pump off")
        begun, more = _begin(ended, t_s, Cause.PRESSED_ON, t_s, "pump on")
        return begun, changes + more
    if mark.kind is MarkKind.PUMP_OFF and state.under_way:
        return _end(replace(state, pump_off_marked=True), t_s, Cause.PRESSED_OFF, t_s, "pump off")
    if mark.kind is MarkKind.UNDO:
        return _take_back(state, t_s)
    return state, ()


def _take_back(state: StageState, t_s: float) -> Step:
    """Take back the last pump mark of the pull under way, or of the one that has just ended."""
    if state.stage is Stage.ENDED and state.pump_off_marked:
        cause = Cause.OFF_TAKEN_BACK_EARLY if state.plateau_start_s is None else Cause.OFF_TAKEN_BACK
        return _resume(state, t_s, cause, "pump off taken back")
    if state.under_way and state.pump_marked:
        if state.rise_s is not None:
            return replace(state, pump_on_s=state.rise_s, pump_marked=False), ()
        return _go(_blank(state), t_s, Cause.ON_TAKEN_BACK, t_s, "pump on taken back")
    return state, ()


# -- moves
# -----------------------------------------------------------------------------------------------------------


def _go(state: StageState, t_s: float, cause: Cause, since_s: float, reason: str) -> Step:
    stage = next_stage(state.stage, cause)
    kind = state.kind if stage is Stage.ENDED else None
    change = StageChange(t_s, stage, reason, since_s, kind, resumed=cause in RESUMING)
    return replace(state, stage=stage, since_s=since_s), (change,)


def _blank(state: StageState) -> StageState:
    """Return the state with everything about the last pull forgotten; its stage is `_go`'s to change."""
    return StageState(stage=state.stage, since_s=state.since_s, longest_s=state.longest_s, trail=state.trail)


def _begin(state: StageState, t_s: float, cause: Cause, since_s: float, reason: str) -> Step:
    marked = cause is Cause.PRESSED_ON
    begun = replace(_blank(state), pump_on_s=since_s, pump_marked=marked, rise_s=None if marked else since_s)
    return _go(begun, t_s, cause, since_s, reason)


def _end(state: StageState, t_s: float, cause: Cause, since_s: float, reason: str) -> Step:
    kind = _judge(state, since_s, cause)
    return _go(replace(state, pump_off_s=since_s, kind=kind), t_s, cause, since_s, reason)


def _resume(state: StageState, t_s: float, cause: Cause, reason: str) -> Step:
    """Let the pull that had ended go on."""
    since_s = state.plateau_start_s if state.plateau_start_s is not None else state.began_s
    resumed = replace(state, pump_off_s=None, pump_off_marked=False, kind=None)
    return _go(_with_mean(resumed), t_s, cause, since_s, reason)


def _judge(state: StageState, end_s: float, cause: Cause) -> PullKind | None:
    """Tell what has just ended."""
    start_s = state.plateau_start_s
    settled = start_s is not None and end_s - start_s >= PLATEAU_LEAST_S
    if state.pump_marked or state.pump_off_marked:
        return PullKind.SHOT if settled or end_s - state.began_s >= FLUSH_LONGEST_S else PullKind.FLUSH
    if cause is Cause.TOO_LONG or cause is Cause.CAME_TO_NOTHING:
        return None
    top_degc = state.plateau_mean_degc if settled else state.highest_degc
    if top_degc is None or not COLDEST_SHOT_DEGC <= top_degc <= HOTTEST_SHOT_DEGC:
        return None
    return PullKind.SHOT if settled else PullKind.FLUSH


# -- readings
# --------------------------------------------------------------------------------------------------------


def _look(state: StageState, t_s: float) -> Step:
    """Look at the trail anew: a cell has just been closed."""
    if state.stage is Stage.RISING:
        return _look_rising(state, t_s)
    if state.stage is Stage.PLATEAU:
        return _look_plateau(state, t_s)
    if state.stage is Stage.ENDED:
        return _look_ended(state, t_s)
    climb_s = climb_since(state.trail, float("-inf"))
    if climb_s is not None:
        return _begin(state, t_s, Cause.CLIMBED, climb_s, "the temperature climbs")
    return state, ()


def _look_rising(state: StageState, t_s: float) -> Step:
    trail = state.trail
    now_s, now = trail.t_s[-1], trail.temp_degc[-1]
    state = replace(state, highest_degc=max(state.highest_degc, now))
    if state.rise_s is None:
        state = replace(state, rise_s=climb_since(trail, float("-inf")))
    if not state.pump_marked:
        if t_s - state.began_s > FADE_S:
            return _end(state, t_s, Cause.CAME_TO_NOTHING, t_s, "the climb came to nothing")
        if state.highest_degc - now > max(FALLEN_BACK_K, 8.0 * trail.noise_k):
            hot = state.highest_degc >= COLDEST_SHOT_DEGC
            cause = Cause.LEFT if hot else Cause.CAME_TO_NOTHING
            return _end(state, t_s, cause, _time_of_highest(trail), "the trace fell before it settled")
    if state.rise_s is None or now_s - state.rise_s < 2.0:
        return state, ()
    if now < COLDEST_SHOT_DEGC and not state.pump_marked:
        return state, ()
    settled_s = settled_since(trail)
    if settled_s is None:
        return state, ()
    return _go(_sum_from(state, settled_s), t_s, Cause.SETTLED, settled_s, "the temperature has settled")


def _time_of_highest(trail: Trail) -> float:
    return trail.t_s[trail.temp_degc.index(max(trail.temp_degc))]


def _sum_from(state: StageState, start_s: float) -> StageState:
    """Begin the running mean at the plateau's start, a few cells ago."""
    trail = state.trail
    area, at_s = 0.0, start_s
    for time_s, value in zip(trail.t_s, trail.temp_degc, strict=True):
        if time_s > at_s:
            area += value * (time_s - at_s)
            at_s = time_s
    length_s = at_s - start_s
    return replace(
        state,
        plateau_start_s=start_s,
        plateau_mean_degc=area / length_s if length_s > 0 else trail.temp_degc[-1],
        plateau_s=length_s,
        area_ks=area,
        summed_to_s=at_s,
    )


def _with_mean(state: StageState) -> StageState:
    """Add the cells closed since the last time to the running mean."""
    start_s = state.plateau_start_s
    if start_s is None or not state.trail.t_s:
        return state
    times, temps = state.trail.t_s, state.trail.temp_degc
    first = len(times) - 1
    while first > 0 and times[first - 1] > state.summed_to_s:
        first -= 1
    area, at_s, highest = state.area_ks, state.summed_to_s, state.highest_degc
    for time_s, value in zip(times[first:], temps[first:], strict=True):
        area += value * max(0.0, time_s - at_s)
        at_s = max(at_s, time_s)
        highest = max(highest, value)
    length_s = at_s - start_s
    return replace(
        state,
        plateau_mean_degc=area / length_s if length_s > 0 else temps[-1],
        plateau_s=length_s,
        area_ks=area,
        summed_to_s=at_s,
        highest_degc=highest,
    )


def _look_plateau(state: StageState, t_s: float) -> Step:
    before = state
    state = _with_mean(state)
    assert state.plateau_start_s is not None
    if climbs_again(state.trail):
        rising = replace(state, plateau_start_s=None, plateau_mean_degc=None, plateau_s=0.0)
        return _go(rising, t_s, Cause.CLIMBED, state.trail.t_s[-1], "the temperature climbs again")
    patience_s = FORGOTTEN_S if state.pump_marked else 0.0
    left_s = left_since(state.trail, state.began_s, state.plateau_start_s, state.highest_degc, patience_s)
    if left_s is None:
        return state, ()
    # The fall that ended it is not part of the plateau's mean.
    state = replace(state, plateau_mean_degc=before.plateau_mean_degc)
    return _end(state, t_s, Cause.LEFT, left_s, "the trace left the plateau")


def _look_ended(state: StageState, t_s: float) -> Step:
    trail = state.trail
    level_degc = state.plateau_mean_degc
    by_trace = state.kind is not None and not state.pump_off_marked
    recent = t_s - state.since_s < BACK_WITHIN_S
    if by_trace and recent and level_degc is not None and came_back(trail, state.since_s, level_degc):
        return _resume(state, t_s, Cause.CAME_BACK, "only a dip: the pull goes on")
    climb_s = climb_since(trail, state.since_s)
    if climb_s is not None:
        return _begin(state, t_s, Cause.CLIMBED, climb_s, "the temperature climbs")
    return state, ()
