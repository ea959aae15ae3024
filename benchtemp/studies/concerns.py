"""What can speak against any study: few shots, outliers, confounding; and how far all may be off at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from math import isfinite, sqrt

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray
from benchtemp.studies.evidence import typed
from benchtemp.studies.evidence.shot_record import Known, ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About, Concern, plural
from benchtemp.studies.statistics.intervals import t_test_p
from benchtemp.studies.statistics.line import fit_line
from benchtemp.studies.statistics.outliers import outliers
from benchtemp.studies.wording import chance, decimals_for, delta, listed, number
from benchtemp.units import TempUnit

TRACKED = ("machine", "setpoint", "operator", "probe", "coffee", "date", "flush", "idle time")
"""Settings that could stand behind a difference meant to be something else."""
SET: dict[str, Callable[[ShotRecord], str]] = {
    "machine": lambda shot: shot.machine,
    "setpoint": lambda shot: shot.label("setpoint"),
    "idle time": lambda shot: typed.tag(shot.tags, typed.IDLE_TAGS),
    "flush": lambda shot: typed.tag(shot.tags, typed.FLUSH_TAGS),
    "minutes since switch-on": lambda shot: typed.tag(shot.tags, typed.SINCE_ON_TAGS),
}
"""What is set on purpose, as it was typed or tagged by a plan: what merely came about is no setting."""


def too_few(count: int, wanted: int, why: str) -> tuple[Concern, ...]:
    """Return a concern where there are fewer shots than a sound answer wants."""
    if count >= wanted:
        return ()
    return (
        Concern(about=About.TOO_FEW, text=f"Only {plural(count, 'shot')}: {why} wants at least {wanted}."),
    )


def too_few_to_begin(study: str, count: int, needed: int, what: str = "shots that count") -> BadInput:
    """Return the error of a study that has not enough to go on."""
    there = "there are none" if not count else "there is one" if count == 1 else f"there are {count}"
    return BadInput(f"{study} needs at least {needed} {what}; {there}. Pull more, or choose other shots.")


def one_machine(study: str, shots: ShotSet) -> None:
    """Refuse a study of one machine where shots come from several.

    Raises:
        BadInput: They do, with their names.
    """
    names = [name for name in shots.machines if name]
    if len(names) > 1:
        raise BadInput(f"{study} is about one machine; these shots come from {listed(names)}. Choose one.")


def varied(shots: ShotSet, *, besides: Sequence[str] = ()) -> tuple[str, ...]:
    """Return what was set differently among shots that are taken as alike.

    Args:
        shots: The shots.
        besides: What the study is about, by the names of `SET`.
    """
    return tuple(
        name
        for name, of in SET.items()
        if name not in besides and len({label for shot in shots.used if (label := of(shot))}) > 1
    )


def varied_concerns(*alike: ShotSet, besides: Sequence[str] = ()) -> tuple[Concern, ...]:
    """Return a concern where shots that are taken as alike were set differently; see `varied`.

    Args:
        alike: Sets of shots, those within each taken as alike.
        besides: What the study is about.
    """
    found = list(dict.fromkeys(name for shots in alike for name in varied(shots, besides=besides)))
    if not found:
        return ()
    text = f"These shots differ in {listed(found)}: what that does counts as scatter."
    return (Concern(about=About.CONFOUNDED, text=text),)


def outlier_concerns(shots: ShotSet, residuals: FloatArray) -> tuple[tuple[int, ...], tuple[Concern, ...]]:
    """Return the indices of shots that stand apart, and one concern that names them; they stay in.

    Args:
        shots: The shots.
        residuals: What is left of each once what is known is taken away, K.
    """
    apart = outliers(residuals)
    if not apart:
        return apart, ()
    if len(apart) == 1:
        text = (
            f"{shots.used[apart[0]].name} stands apart by {{s0}}; it was kept. "
            "Look at its trace and set it aside if something went wrong."
        )
    else:
        each = [f"{shots.used[index].name} ({{s{place}}})" for place, index in enumerate(apart)]
        text = (
            f"{plural(len(apart), 'shot')} stand apart and were kept: {listed(each)}. "
            "Look at their traces and set aside those in which something went wrong."
        )
    concern = Concern(
        about=About.OUTLIER,
        text=text,
        deltas_k=tuple(float(residuals[index]) for index in apart),
        shots=tuple(shots.used[index].path for index in apart),
    )
    return apart, (concern,)


def seen_k(shots: ShotSet) -> float:
    """Return the least scatter that could be seen, K: what the readings of one shot leave uncertain, rms."""
    own = shots.values(lambda shot: shot.reading_uncertainty_k)
    known = own[np.isfinite(own)]
    return sqrt(float(known @ known) / len(known)) if len(known) else 0.0


def coarse_concern(shots: ShotSet, residuals: FloatArray) -> tuple[Concern, ...]:
    """Return a concern where shots agree better than their readings can tell, as coarse steps make them do.

    Args:
        shots: The shots.
        residuals: What is left of each once what is known is taken away, K.
    """
    least_k = seen_k(shots)
    if len(residuals) < 2 or not sqrt(float(residuals @ residuals) / len(residuals)) < least_k:
        return ()
    text = (
        "These shots scatter by less than their own readings are uncertain by ({d0}): an interface with "
        "finer steps may show more, and intervals made from this scatter may be too narrow."
    )
    places = decimals_for(least_k, most=4)
    return (Concern(about=About.COARSE, text=text, deltas_k=(least_k,), decimals=places),)


def drift_concern(residuals: FloatArray) -> tuple[Concern, ...]:
    """Return a concern where what is left of the shots still goes up or down in the order they were pulled.

    Used where order is not what the study is about: such a drift may pass for an effect.
    """
    count = len(residuals)
    if count < 6 or not float(np.ptp(residuals)) > 0:
        return ()
    order = np.arange(1.0, count + 1.0)
    line = fit_line(order, residuals)
    p = t_test_p(line.slope, line.slope_uncertainty, line.dof)
    if not p < 0.01:
        return ()
    return (
        Concern(
            about=About.DRIFT,
            text=f"Besides, the temperature drifted by {{s0}} over the {count} shots (chance {chance(p)}); "
            "a drift may pass for an effect unless the order was mixed.",
            deltas_k=(line.slope * (count - 1),),
        ),
    )


def settings_concerns(shots: ShotSet) -> tuple[Concern, ...]:
    """Return a concern where idle times that were typed are not those the recording shows."""
    off: list[ShotRecord] = []
    for shot in shots.used:
        written = typed.minutes_from(typed.tag(shot.tags, typed.IDLE_TAGS))
        idle = shot.idle_min
        if written is None or idle.known is not Known.MEASURED or idle.value is None:
            continue
        if abs(written - idle.value) > max(1.0, 0.2 * written):
            off.append(shot)
    if not off:
        return ()
    first = off[0]
    return (
        Concern(
            about=About.SETTINGS,
            text=f"For {plural(len(off), 'shot')} the idle time typed is not what the recording shows "
            f"({first.name}: typed {typed.tag(first.tags, typed.IDLE_TAGS)}, "
            f"measured {number(first.idle_min.value, 1)} min); what was measured is used.",
            shots=tuple(shot.path for shot in off),
        ),
    )


def confounders(parts: Mapping[str, ShotSet], factor: str) -> tuple[Concern, ...]:
    """Return a concern about everything else that differs between groups as cleanly as the factor does."""
    found: list[str] = []
    groups = list(parts.values())
    for other in TRACKED:
        if other == factor:
            continue
        labels = [{shot.label(other) for shot in group.used} for group in groups]
        known = [group - {""} for group in labels]
        if not all(known) or len(set.union(*known)) < 2:
            continue
        apart = all(not (known[i] & known[j]) for i in range(len(known)) for j in range(i))
        if apart:
            found.append(other)
    said = [f"also differ in {listed(found)}"] if found else []
    if "date" not in found and _one_after_the_other(groups):
        said.append("were pulled one after the other")
    if not said:
        return ()
    text = f"The groups {' and '.join(said)}: the difference may come from there instead."
    return (Concern(about=About.CONFOUNDED, text=text),)


def _one_after_the_other(groups: Sequence[ShotSet]) -> bool:
    """Tell whether all shots of one group were pulled before all of the next."""
    spans: list[tuple[float, float]] = []
    for group in groups:
        moments = [shot.moment for shot in group.used]
        if len(moments) < 2 or any(moment is None for moment in moments):
            return False
        times = [moment.timestamp() for moment in moments if moment is not None]
        spans.append((min(times), max(times)))
    spans.sort()
    return all(before[1] < after[0] for before, after in pairwise(spans))


def file_concerns(shots: ShotSet) -> tuple[Concern, ...]:
    """Return what could not be read."""
    if not shots.complaints:
        return ()
    more = f" (and {len(shots.complaints) - 1} more)" if len(shots.complaints) > 1 else ""
    return (Concern(about=About.FILES, text=f"{shots.complaints[0]}{more}"),)


def shared_means_k(shots: ShotSet) -> dict[str, float]:
    """Return by what the shots share how much each shared error weighs in their mean, K.

    One probe's error is the same in each of its shots and does not average out; several probes' do among
    them.
    """
    found: dict[str, float] = {}
    for shot in shots.used:
        for shared_as, share_k in shot.shared_k.items():
            found[shared_as] = found.get(shared_as, 0.0) + share_k / len(shots.used)
    return found


def common_uncertainty_k(shots: ShotSet) -> float:
    """Return the standard uncertainty a mean of these shots carries besides scatter; NaN if unknown."""
    shares = shared_means_k(shots).values()
    return sqrt(sum(share**2 for share in shares)) if shares else float("nan")


def uncancelled_k(first: ShotSet, second: ShotSet) -> float:
    """Return what shared errors leave of themselves in the difference of two means, k = 1, in K.

    What both groups share to the same extent (one probe, one check, one interface) cancels.
    """
    one, other = shared_means_k(first), shared_means_k(second)
    return sqrt(sum((one.get(name, 0.0) - other.get(name, 0.0)) ** 2 for name in {*one, *other}))


def probe_phrase(common_k: float, unit: TempUnit) -> str:
    """Return how far all temperatures of a study may be off together, as a phrase for its limits."""
    if not isfinite(common_k):
        return "how far the probe itself may be off is not known"
    return f"all temperatures may be off together by ± {delta(2.0 * common_k, unit, 1)} (probe, place)"


def with_common(half_width: float, common_k: float) -> float:
    """Return the half width of an interval once the common uncertainty (k = 2) is added to it in squares."""
    return sqrt(half_width**2 + (2.0 * common_k) ** 2) if isfinite(common_k) else half_width
