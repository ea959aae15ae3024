"""The reference of an exercise's shot, and the teacher's corrections to it."""

from __future__ import annotations

from dataclasses import replace

import msgspec

from benchtemp.errors import BadInput
from benchtemp.shots.approach import Boundary
from benchtemp.shots.entries import ShotEntries
from benchtemp.shots.figures import Figures, read_figures
from benchtemp.shots.plateau import FLUSH_LONGEST_S, find_pulls
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.shot import Shot, make_shot
from benchtemp.shots.trace import clean
from benchtemp.teaching.exercise import Basis, Item, Reference

ESTIMATED_PUMP_ON_S = 1.0
"""Standard uncertainty of a pump on nobody marked: the probe feels water a second or two after the pump
starts, how long depends on machine and puck (our estimate)."""


def reference_of(item: Item) -> Reference:
    """Return the reference that the trace gives with the pump marks kept for the item.

    Args:
        item: Its readings, marks, recipe, dose and yield.

    Raises:
        BadInput: No pull is found in it.
    """
    t_s, temp_degc = item.trace
    recipe = item.recipe
    found = find_pulls(
        t_s,
        temp_degc,
        item.pump_marks,
        band_degc=(recipe.band_low_degc, recipe.band_high_degc),
        plateau_min_s=recipe.plateau_min_s,
    )
    if not found.pulls:
        why = found.reasons[0] if found.reasons else "no stretch of it looks like a pull"
        raise BadInput(f"There is no pull in '{item.title}' to make an exercise of: {why}.")
    # Marks tell which pull is meant; without any it is the one with the most to see.
    result = max(
        found.pulls,
        key=lambda pull: (
            Origin.MARKED in (pull.pump_on_source, pull.pump_off_source),
            pull.plateau_s,
            pull.pump_on_s,
        ),
    )
    return reference_from(item, result)


def reference_from(item: Item, result: Result) -> Reference:
    """Return a pull's figures as a reference; whether it counts follows from the item's recipe and cup."""
    marked = result.pump_on_source is Origin.MARKED
    shot = _shot(item, result)
    # What is over before it settles has no plateau to name, whatever its last second looks like.
    whole = result.kind is PullKind.SHOT and result.plateau_s > 0.0 and result.brew_temp_degc is not None
    return Reference(
        basis=Basis.MARKED if marked else Basis.ESTIMATED,
        pump_on_s=round(result.pump_on_s, 4),
        pump_on_uncertainty_s=0.0 if marked else ESTIMATED_PUMP_ON_S,
        pump_off_s=_rounded(result.pump_off_s),
        plateau_start_s=_rounded(result.plateau_start_s) if whole else None,
        plateau_end_s=_rounded(result.plateau_end_s) if whole else None,
        plateau_start_uncertainty_s=(result.plateau_start_uncertainty_s or 0.0) if whole else 0.0,
        plateau_end_uncertainty_s=(result.plateau_end_uncertainty_s or 0.0) if whole else 0.0,
        brew_temp_degc=_rounded(result.brew_temp_degc) if whole else None,
        brew_temp_uncertainty_k=(result.brew_temp_uncertainty_k or 0.0) if whole else 0.0,
        counts=shot.counts,
        reasons=_reasons(shot),
    )


def _reasons(shot: Shot) -> tuple[str, ...]:
    """Return why a shot does not count; of a flush only that, as no recipe was meant to be kept."""
    if shot.counts:
        return ()
    return shot.reasons[:1] if shot.is_flush else shot.reasons


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _shot(item: Item, result: Result) -> Shot:
    """Return the pull as a shot, held to the item's recipe."""
    entered = ShotEntries(recipe=item.recipe, dose_g=item.dose_g, yield_g=item.yield_g)
    return make_shot(result, entered, number=1)


def corrected(
    item: Item,
    *,
    pump_on_s: float | None = None,
    plateau_start_s: float | None = None,
    plateau_end_s: float | None = None,
    counts: bool | None = None,
    reason: str = "",
) -> Item:
    """Return the item with what the teacher corrected in its reference; the brew temperature follows.

    Args:
        item: As it is.
        pump_on_s: New time on the item's clock; None leaves it as it is.
        plateau_start_s: The same for the plateau's start.
        plateau_end_s: The same for its end.
        counts: Whether the shot counts, None for worked out anew.
        reason: Why it does not count.

    Raises:
        BadInput: The times do not follow one another, or no reading lies between them.
    """
    before = item.reference
    on_s = before.pump_on_s if pump_on_s is None else pump_on_s
    start_s = before.plateau_start_s if plateau_start_s is None else plateau_start_s
    end_s = before.plateau_end_s if plateau_end_s is None else plateau_end_s
    for what, time_s in (("pump on", on_s), ("plateau start", start_s), ("plateau end", end_s)):
        if time_s is not None and not 0.0 <= time_s <= item.length_s:
            raise BadInput(
                f"The {what} at {time_s:g} s does not lie within the shot, which lasts {item.length_s:.1f} s."
            )
    if (start_s is None) != (end_s is None):
        raise BadInput("This shot had no plateau so far; give both its start and its end.")
    if start_s is not None and end_s is not None and not on_s <= start_s < end_s:
        raise BadInput(
            f"Pump on ({on_s:g} s), plateau start ({start_s:g} s) and plateau end ({end_s:g} s) must follow "
            "one another; correct the times."
        )
    known_start_s = before.plateau_start_uncertainty_s if plateau_start_s is None else 0.0
    known_end_s = before.plateau_end_uncertainty_s if plateau_end_s is None else 0.0
    figures = _figures(item, start_s, end_s, known_start_s, known_end_s)
    off_s = before.pump_off_s
    if end_s is not None and plateau_end_s is not None:
        off_s = end_s
    result = Result(
        kind=_kind(item, before, start_s, end_s),
        rise_s=on_s,
        pump_on_s=on_s,
        pump_on_source=Origin.MARKED,
        pump_off_s=off_s,
        pump_off_source=Origin.MARKED,
        plateau_start_s=start_s,
        plateau_end_s=end_s,
        brew_temp_degc=None if figures is None else figures.brew_temp_degc,
        reasons=() if figures is not None else before.reasons,
    )
    shot = _shot(item, result)
    judged = shot.counts if counts is None else counts
    reasons = () if judged else ((reason,) if reason else _reasons(shot) or ("the teacher says so",))
    after = Reference(
        basis=Basis.TEACHER,
        pump_on_s=round(on_s, 4),
        pump_on_uncertainty_s=before.pump_on_uncertainty_s if pump_on_s is None else 0.0,
        pump_off_s=_rounded(off_s),
        plateau_start_s=_rounded(start_s),
        plateau_end_s=_rounded(end_s),
        plateau_start_uncertainty_s=known_start_s if start_s is not None else 0.0,
        plateau_end_uncertainty_s=known_end_s if end_s is not None else 0.0,
        brew_temp_degc=None if figures is None else round(figures.brew_temp_degc, 4),
        brew_temp_uncertainty_k=0.0 if figures is None else figures.brew_temp_uncertainty_k,
        counts=judged,
        reasons=reasons,
    )
    return replace(item, reference=after)


def _kind(item: Item, before: Reference, start_s: float | None, end_s: float | None) -> PullKind:
    if start_s is not None and end_s is not None and end_s - start_s >= item.recipe.plateau_min_s:
        return PullKind.SHOT
    return PullKind.FLUSH if before.plateau_start_s is None else PullKind.SHOT


def _figures(
    item: Item, start_s: float | None, end_s: float | None, known_start_s: float, known_end_s: float
) -> Figures | None:
    """Return what a plateau between given ends says, None where there is no plateau."""
    if start_s is None or end_s is None:
        return None
    recipe = item.recipe
    trace = clean(*item.trace)
    if not len(trace):
        raise BadInput(f"'{item.title}' holds no reading of the basket's probe.")
    at_start = float(trace.temp_degc[min(int(trace.t_s.searchsorted(start_s)), len(trace) - 1)])
    found = read_figures(
        trace,
        Boundary(start_s, known_start_s, at_start),
        Boundary(end_s, known_end_s, float("nan")),
        (recipe.band_low_degc, recipe.band_high_degc),
    )
    if found is None:
        raise BadInput(f"No reading lies between {start_s:g} s and {end_s:g} s; give a longer plateau.")
    return found


def judged(item: Item, reference: Reference) -> Reference:
    """Return a reference with what item and recipe say on whether the shot counts."""
    off_s, none = reference.pump_off_s, reference.plateau_start_s is None
    short = off_s is not None and off_s - reference.pump_on_s < FLUSH_LONGEST_S
    result = Result(
        kind=PullKind.FLUSH if none and short else PullKind.SHOT,
        rise_s=reference.pump_on_s,
        pump_on_s=reference.pump_on_s,
        pump_on_source=Origin.MARKED,
        pump_off_s=off_s,
        pump_off_source=Origin.MARKED,
        plateau_start_s=reference.plateau_start_s,
        plateau_end_s=reference.plateau_end_s,
        brew_temp_degc=reference.brew_temp_degc,
        reasons=("the trace had not settled when the pump went off",) if none and not short else (),
    )
    shot = _shot(item, result)
    return msgspec.structs.replace(reference, counts=shot.counts, reasons=_reasons(shot))
