"""What the last seconds of a live trace say: climbing, settled, gone from the plateau, come back.

Pure functions of a `Trail` and a few numbers; the stages decide what follows from their answers.
"""

from __future__ import annotations

from benchtemp.shots.climbs import CLIMB_K_PER_S
from benchtemp.shots.trail import Trail, bend, line

ARM_RISE_K = 3.0
ARM_K_PER_S = 0.6
"""A climb that may be a pull's is at least this high and, over 2 s, this fast."""
SETTLE_LOOK_S = 3.2
EARLY_S = 8.0
HUMP_HIGHEST_K = 8.0
"""A fall that sets in this soon after the plateau's start may be the far side of a hump, up to this
height."""
FALL_K_PER_S = 0.2
FALL_LEAST_K = 0.5
FALL_DEEP_K = 1.2
FALL_LASTS_S = 1.95
FALL_SHALLOW_LASTS_S = 2.1
"""How long a fall has to last to count as the end: a deep one, any other."""
ONE_CELL_SHARE = 0.15
"""One cell alone proves nothing: the one before it must have fallen too, by at least this share."""
FALL_STEADY = 0.6
FALL_SURE_S = 6.0
DIP_DEEPEST_K = 2.5
"""A fall that slows down may be a dip, unless it is deeper or lasts longer than this."""
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


def left_since(trail: Trail, plateau_start_s: float, highest_degc: float) -> float | None:
    """Return when the trace left the plateau, None while it has not, or not beyond doubt.

    A fall is told from a dip by how long it lasts, how deep it goes and whether it slows down. The sum of the
    three keeps the shot open through most dips and still closes it within 3 s of most ends.

    Args:
        trail: The last seconds.
        plateau_start_s: Nothing before it is looked at.
        highest_degc: The highest temperature since the climb began.
    """
    now_s, now = trail.t_s[-1], trail.temp_degc[-1]
    late = line(trail, now_s - 2.1, now_s)
    if late is None or late.slope > -0.7 * FALL_K_PER_S:
        return None
    found = bend(trail, plateau_start_s, 8.0, 8.0)
    if highest_degc - now > HUMP_HIGHEST_K + 5.0 * trail.noise_k:
        if found is not None and found.drop_k > FALL_DEEP_K:
            return found.t_s
        return max(_last_near(trail, highest_degc - FALL_LEAST_K - 4.0 * trail.noise_k), plateau_start_s)
    if found is None:
        return None
    fallen_s = now_s - found.t_s
    if (
        found.slope_after > -FALL_K_PER_S
        or found.slope_before - found.slope_after < 4.0 * found.doubt
        or found.drop_k < max(FALL_LEAST_K, 4.0 * trail.noise_k)
        or found.drop_before_k < ONE_CELL_SHARE * found.drop_k
        or fallen_s < (FALL_LASTS_S if found.drop_k > FALL_DEEP_K else FALL_SHALLOW_LASTS_S)
    ):
        return None
    if found.steadiness < FALL_STEADY and fallen_s < FALL_SURE_S and found.drop_k < DIP_DEEPEST_K:
        return None
    return None if found.t_s - plateau_start_s < EARLY_S else found.t_s


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
