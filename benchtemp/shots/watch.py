"""What the last seconds of a live trace say: climbing, settled, gone from the plateau, come back.

Pure functions of a `Trail` and a few numbers; the stages decide what follows from their answers.

When is a fall the end? A pump that goes off and a pressure dip begin alike; as long as a dip falls steadily,
nothing in the trace tells them apart, and dips fall for up to three seconds or so. Whoever wants to close a
shot within 3 s of its end therefore closes some dips too, and whoever never wants to close a dip has to wait
until no dip lasts so long. The choice made here is to use the 3 s to the full. A fall is looked at again with
every cell. Unless the end is as good as certain (`CERTAIN`: mostly a fall deeper than any dip), it is
believed only where waiting for the next cell would probably find it out too late, and would cost more
(`LATE_COSTS`) than being wrong. So how long a fall is watched depends on how it develops: one that slows
down, or that noise could explain, is watched until it is clear, one that goes on straight is closed on time.
A dip closed all the same is found to have come back within seconds, and the shot goes on as if nothing had
been.

What tells most is how long the pull has run. With 95 % of the ends to be found in time, classifiers taught
on thousands of traces closed 18 to 25 % of the dips by the shape of the last seconds alone, and 8 % with the
time, when they knew how long the benchmark's pulls last and when they dip. Here the time is weighed as a
broad habit of pulls and no more, and 8 to 13 % of the dips are closed, at 93 to 96 % in time.
"""

from __future__ import annotations

from benchtemp.shots.climbs import CLIMB_K_PER_S
from benchtemp.shots.fall import OLDEST_S, weigh_fall
from benchtemp.shots.trail import Trail, line

ARM_RISE_K = 3.0
ARM_K_PER_S = 0.6
"""A climb that may be a pull's is at least this high and, over 2 s, this fast."""
SETTLE_LOOK_S = 3.2
EARLY_S = 8.0
HUMP_HIGHEST_K = 8.0
"""A fall that sets in this soon after the plateau's start may be the far side of a hump, up to this
height."""
FALL_HINT_K_PER_S = 0.14
FALL_K_PER_S = 0.19
"""How fast a trace must fall over the last 2 s to be looked at; since its fall began, to have left."""
FALL_LEAST_K = 0.5
FALL_LEAST_NOISES = 3.0
FALL_DEEP_K = 1.2
FALL_LASTS_S = 1.5
CERTAIN = 0.99
"""At any time an end is believed that is so likely."""
LIKELY = 0.38
LIKELY_IN_BATH = 0.88
LATE_COSTS = 5.0
"""Less will do for an end that the next cell would find out too late, where waiting for it would cost more
than being wrong: closing late costs this if closing what is no end costs 1."""
LONGEST_USUAL_S = 40.0
"""After a plateau longer than any pull's usual one there is no hurry: it may be a bath or a hot group."""
BATH_CLIMB_S = 10.0
BATH_DEGC = 95.0
"""After so short a climb to so near boiling it may be a bath too, even on a mountain: more is asked of
an end. What is taken out of a bath falls as nothing in a basket does, and then there is no doubt."""
CAME_BACK_SHARE = 0.3


def climb_since(trail: Trail, after_s: float) -> float | None:
    """Return when a climb began that is fast and high enough to be a pull's, None without one.

    Args:
        trail: The last seconds.
        after_s: What came before is not looked at.
    """
    times, temps = trail.t_s, trail.temp_degc
    count = len(times)
    if count < 3:
        return None
    now_s, now = times[-1], temps[-1]
    back = count - 1
    while back > 0 and now_s - times[back] < 2.0:
        back -= 1
    if now - temps[back] < ARM_K_PER_S * (now_s - times[back]) or now < temps[-2] - 3.0 * trail.noise_k:
        return None
    lowest, at = now, count - 1
    for i in range(count - 2, -1, -1):
        if times[i] < after_s or now_s - times[i] > 10.0 or temps[i] > lowest + 1.0 + 3.0 * trail.noise_k:
            break
        if temps[i] < lowest:
            lowest, at = temps[i], i
    if now - lowest < max(ARM_RISE_K, 8.0 * trail.noise_k):
        return None
    # The climb began where the trace left the level from which it comes.
    least_k = 3.0 * trail.noise_k + 0.1
    while at < count - 1 and temps[at + 1] < lowest + least_k:
        at += 1
    return times[at]


def settled_since(trail: Trail) -> float | None:
    """Return when the climb became slower than the limit, None while it is faster or in doubt."""
    now_s = trail.t_s[-1]
    late = line(trail, now_s - SETTLE_LOOK_S, now_s)
    if late is None or now_s - late.middle_s < 0.9:
        return None
    doubt = min(trail.noise_k * late.unit_doubt, 0.1)
    if late.slope + 0.7 * doubt >= CLIMB_K_PER_S:
        return None
    early = line(trail, now_s - SETTLE_LOOK_S - 2.0, now_s - 1.8)
    if early is None or early.slope <= CLIMB_K_PER_S:
        return late.middle_s
    share = (early.slope - CLIMB_K_PER_S) / max(early.slope - late.slope, 1e-9)
    return early.middle_s + min(share, 1.0) * (late.middle_s - early.middle_s)


def climbs_again(trail: Trail) -> bool:
    """Tell whether the trace climbs faster than the limit beyond doubt."""
    now_s = trail.t_s[-1]
    late = line(trail, now_s - 2.2, now_s)
    return late is not None and late.slope - CLIMB_K_PER_S > 3.5 * trail.noise_k * late.unit_doubt + 0.05


def left_since(
    trail: Trail, pump_on_s: float, plateau_start_s: float, highest_degc: float, patience_s: float = 0.0
) -> float | None:
    """Return when the trace left the plateau, None while it has not, or it is too early to tell.

    Args:
        trail: The last seconds.
        pump_on_s: When the pull began.
        plateau_start_s: Nothing before it is looked at.
        highest_degc: The highest temperature since the climb began.
        patience_s: A fall must have lasted at least so long.
    """
    now_s, now = trail.t_s[-1], trail.temp_degc[-1]
    late = line(trail, now_s - 2.1, now_s)
    if late is None or late.slope > -FALL_HINT_K_PER_S:
        return None
    fall = weigh_fall(trail, pump_on_s, plateau_start_s, OLDEST_S + patience_s)
    if highest_degc - now > HUMP_HIGHEST_K + 5.0 * trail.noise_k:
        if fall is not None and fall.depth_k > FALL_DEEP_K:
            left_s = fall.began_s
        else:
            left_s = max(
                _last_near(trail, highest_degc - FALL_LEAST_K - 4.0 * trail.noise_k), plateau_start_s
            )
        return left_s if now_s - left_s >= patience_s else None
    if fall is None or fall.began_s - plateau_start_s < EARLY_S:
        return None
    if fall.age_s < max(FALL_LASTS_S, patience_s) or fall.rate < FALL_K_PER_S:
        return None
    if fall.depth_k < max(FALL_LEAST_K, FALL_LEAST_NOISES * trail.noise_k):
        return None
    if fall.end_chance > CERTAIN:
        return fall.began_s
    if fall.began_s - plateau_start_s > LONGEST_USUAL_S:
        return None
    may_be_bath = plateau_start_s - pump_on_s < BATH_CLIMB_S and highest_degc > BATH_DEGC
    if fall.end_chance < (LIKELY_IN_BATH if may_be_bath else LIKELY):
        return None
    return fall.began_s if LATE_COSTS * fall.late_chance > 1.0 - fall.end_chance else None


def _last_near(trail: Trail, level_degc: float) -> float:
    """Return when the trace last stood above a level, as far back as the trail goes."""
    for time_s, value in zip(reversed(trail.t_s), reversed(trail.temp_degc), strict=True):
        if value >= level_degc:
            return time_s
    return trail.t_s[0]


def came_back(trail: Trail, left_s: float, plateau_degc: float) -> bool:
    """Tell whether a trace that seemed to have left the plateau is back: it was a dip.

    Args:
        trail: The last seconds.
        left_s: When the trace seemed to leave.
        plateau_degc: The level it left.
    """
    lowest = min(
        (y for t, y in zip(trail.t_s, trail.temp_degc, strict=True) if t >= left_s), default=plateau_degc
    )
    fallen_k = plateau_degc - lowest
    if fallen_k < FALL_LEAST_K or len(trail.t_s) < 2:
        return False
    near = plateau_degc - max(CAME_BACK_SHARE * fallen_k, 2.0 * trail.noise_k)
    return trail.temp_degc[-1] > near and trail.temp_degc[-2] > near
