"""Which stretch of a trace each pull is looked for in: about marks, and about unmarked climbs."""

from __future__ import annotations

from dataclasses import dataclass

from benchtemp.shots.segments import Rise, find_rises
from benchtemp.shots.trace import Trace

LONGEST_PULL_S = 120.0
_BEFORE_MARK_S = 3.0
"""A climb may begin this long before the pump on that belongs to it: fingers are slow."""
_UNMARKED_ON_S = 60.0


@dataclass(frozen=True, slots=True)
class Span:
    """Where one pull is looked for.

    Attributes:
        from_s: Nothing before it belongs to the pull.
        to_s: Nothing after it does: the next pull, or the trace's end.
        rise: The climb that began it, None where none was found.
        pump_on_s: The operator's mark, None without one.
        pump_off_s: The operator's mark, None without one.
    """

    from_s: float
    to_s: float
    rise: Rise | None
    pump_on_s: float | None = None
    pump_off_s: float | None = None

    @property
    def marked(self) -> bool:
        """Tell whether the operator marked this pull."""
        return self.pump_on_s is not None or self.pump_off_s is not None

    @property
    def rise_s(self) -> float:
        """Return when the climb began, or, where none was found, when the pump did."""
        if self.rise is not None:
            return self.rise.start_s
        return self.pump_on_s if self.pump_on_s is not None else self.from_s


def find_spans(trace: Trace, pairs: tuple[tuple[float | None, float | None], ...]) -> list[Span]:
    """Return the stretches to read, in order of time.

    Args:
        trace: A clean trace with at least one reading.
        pairs: The operator's pump on and pump off, as `resolve_pump_marks` pairs them.
    """
    free = find_rises(trace)
    marked: list[Span] = []
    for number, pair in enumerate(pairs):
        later = [time_s for other in pairs[number + 1 :] for time_s in other if time_s is not None]
        next_mark_s = min(later, default=float(trace.t_s[-1]))
        own = _own_rises(free, pair, next_mark_s)
        free = [rise for rise in free if rise not in own]
        marked.append(_marked_span(pair, own, free, next_mark_s))
    free = [rise for rise in free if not any(_covers(span, rise) for span in marked)]
    unmarked = []
    for rise in free:
        following = [other.start_s for other in free if other.start_s > rise.start_s]
        following += [span.from_s for span in marked if span.from_s > rise.start_s]
        unmarked.append(Span(rise.start_s, min(following, default=float(trace.t_s[-1])), rise))
    return sorted([*marked, *unmarked], key=lambda span: span.from_s)


def _own_rises(rises: list[Rise], pair: tuple[float | None, float | None], next_mark_s: float) -> list[Rise]:
    """Return the climbs that belong to a marked pull."""
    on_s, off_s = pair
    if on_s is not None:
        until_s = off_s if off_s is not None else min(next_mark_s, on_s + LONGEST_PULL_S)
        own = [rise for rise in rises if on_s - _BEFORE_MARK_S < rise.start_s < until_s]
        # Without a pump off a second climb may be the next pull.
        return own if off_s is not None else own[:1]
    assert off_s is not None
    return [rise for rise in rises if off_s - LONGEST_PULL_S < rise.start_s < off_s][-1:]


def _marked_span(
    pair: tuple[float | None, float | None], own: list[Rise], others: list[Rise], next_mark_s: float
) -> Span:
    on_s, off_s = pair
    rise = own[0] if own else None
    if on_s is not None:
        from_s = on_s if rise is None else min(on_s, rise.start_s)
    else:
        assert off_s is not None
        from_s = rise.start_s if rise is not None else off_s - _UNMARKED_ON_S
    after_s = off_s if off_s is not None else from_s
    to_s = min([next_mark_s, *(other.start_s for other in others if other.start_s > after_s)])
    return Span(from_s, max(to_s, after_s), rise, on_s, off_s)


def _covers(span: Span, rise: Rise) -> bool:
    """Tell whether a climb lies within a marked pull, whose own it then is no more."""
    until_s = span.pump_off_s if span.pump_off_s is not None else span.to_s
    return span.from_s - _BEFORE_MARK_S <= rise.start_s < until_s
