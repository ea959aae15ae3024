"""An uncertainty budget as a table with bars: what may be wrong, how much, and what would make it better."""

from __future__ import annotations

from math import isclose, sqrt
from typing import NamedTuple

import msgspec

from benchtemp.probes import brew_budget
from benchtemp.probes.brew_budget import Difference
from benchtemp.probes.calibration import COMMONLY_AT_WORST_K
from benchtemp.probes.uncertainty import Budget, Contribution
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

BAR_WIDTH = 24
_EIGHTHS = " ▏▎▍▌▋▊▉"
_FULL = "█"
WORTH_TELLING = 0.02
"""A cure that shrinks the expanded uncertainty by a smaller share than this is not worth a sentence."""

_CURES = {
    brew_budget.TOLERANCE: "check the probe in boiling water, on this interface",
    brew_budget.CALIBRATION: (
        "check the probe against a surer reference: the air pressure read beside the pot, the tip only 2 to "
        "3 cm under water"
    ),
    brew_budget.SLOPE: "check the probe in ice too, so that its slope is known",
    brew_budget.DRIFT: "check the probe again",
    brew_budget.JUNCTION: "let the interface warm up, keep it away from heat, and check the probe on it",
    brew_budget.POSITION: "compare places in the puck, and enter how far they really differ",
    brew_budget.NOISE: "mark the pump, read faster, or pull a longer plateau",
    brew_budget.RESOLUTION: "let the interface send one more decimal",
}
_SLOPE_OF_SEVERAL = "check the probe in baths that lie further apart, or nearer to the brew temperature"
_SEEN = "check the probe right before and right after a series, and replace one that moves"
_HISTORY = "check the probe every few weeks: from three checks on its own history says how little it drifts"
_CHECKED_K = 0.1
"""Standard uncertainty of a boil check with the pressure known (estimate)."""
_CHECKED_DRIFT_K = COMMONLY_AT_WORST_K / sqrt(3.0)
_FRESH_K = 1.01 * _CHECKED_DRIFT_K
"""The drift that is allowed for right after a check, as long as a probe has no history."""


class BudgetRow(NamedTuple):
    """One line of the table, also for charts.

    Attributes:
        contribution: The line of the budget.
        share: Its share of the sum of squares, 0 to 1.
        without_k: What the expanded uncertainty would be without it, K.
    """

    contribution: Contribution
    share: float
    without_k: float


class Cure(NamedTuple):
    """What would make a result better.

    Attributes:
        name: The line it is about.
        text: What to do.
        reached_k: What the expanded uncertainty would be at best, K.
    """

    name: str
    text: str
    reached_k: float


def budget_rows(budget: Budget) -> tuple[BudgetRow, ...]:
    """Return the lines of a budget, largest first."""
    return tuple(
        BudgetRow(line, share, budget.without(line.name).expanded_k()) for line, share in budget.ranked()
    )


def cures(budget: Budget, *, most: int = 3) -> tuple[Cure, ...]:
    """Return what would make a result better, the most helpful first; only what is worth it.

    A line is taken as gone, at best. A check does not make an unchecked probe perfect, though: what it puts
    in place of the tolerance is counted, and that it takes in most of what the interface is off.
    """
    lines = {line.name: line for line in budget.contributions}
    unchecked = brew_budget.TOLERANCE in lines
    found = []
    for name, line in lines.items():
        if name not in _CURES or (unchecked and name == brew_budget.JUNCTION):
            continue  # the check of an unchecked probe is made on the interface, and sees to both
        after = _once_checked(budget) if name == brew_budget.TOLERANCE else budget.without(name)
        found.append(Cure(name, _text(line, budget), after.expanded_k()))
    worth_k = (1.0 - WORTH_TELLING) * budget.expanded_k()
    return tuple(
        sorted((cure for cure in found if cure.reached_k < worth_k), key=lambda c: c.reached_k)[:most]
    )


def _text(line: Contribution, budget: Budget) -> str:
    if line.name == brew_budget.SLOPE and budget.correlations:
        return _SLOPE_OF_SEVERAL
    if line.name == brew_budget.DRIFT and not line.estimate:
        return _SEEN
    if line.name == brew_budget.DRIFT and line.share_k <= _FRESH_K:
        return _HISTORY
    return _CURES[line.name]


def _once_checked(budget: Budget) -> Budget:
    """Return an unchecked probe's budget as a good boil check would leave it."""
    kept = [line for line in budget.contributions if line.name != brew_budget.TOLERANCE]
    usual = brew_budget.JUNCTION_UNCHECKED_HALF_WIDTH_K / sqrt(3.0)
    checked = brew_budget.JUNCTION_CHECKED_HALF_WIDTH_K / sqrt(3.0)
    kept = [
        # An estimate of the user's own stays as it is.
        msgspec.structs.replace(line, uncertainty=checked)
        if line.name == brew_budget.JUNCTION and isclose(line.uncertainty, usual)
        else line
        for line in kept
    ]
    return msgspec.structs.replace(
        budget,
        contributions=(
            *kept,
            Contribution(name=brew_budget.CALIBRATION, uncertainty=_CHECKED_K),
            Contribution(name=brew_budget.DRIFT, uncertainty=_CHECKED_DRIFT_K),
        ),
    )


def bar(share: float, width: int = BAR_WIDTH, *, unicode: bool = True) -> str:
    """Return a bar for a share of 0 to 1, at most `width` characters.

    >>> bar(0.5, 4), bar(0.5, 4, unicode=False)
    ('██', '##')
    """
    share = min(max(share, 0.0), 1.0)
    if not unicode:
        return "#" * round(share * width)
    eighths = round(share * width * 8)
    return (_FULL * (eighths // 8) + _EIGHTHS[eighths % 8]).rstrip()


def result_text(value: float, expanded_k: float, unit: TempUnit, *, difference: bool = False) -> str:
    """Return a result with its expanded uncertainty in a unit, such as `93.21 ± 0.35 °C`."""
    shown = delta_to(value, unit) if difference else degc_to(value, unit)
    sign = "+" if difference and value >= 0.0 else ""
    symbol = unit.symbol
    return f"{sign}{shown:.2f} ± {delta_to(expanded_k, unit):.2f} {symbol}".replace("-", MINUS)


def budget_lines(budget: Budget, unit: TempUnit = TempUnit.DEGC, *, unicode: bool = True) -> list[str]:
    """Return a budget as the lines of a table.

    Each line's figure is what it contributes to the result at one standard uncertainty; bars are lengths of
    those figures, percentages shares of the sum of their squares.
    """
    rows = budget_rows(budget)
    width = max(len(row.contribution.name) for row in rows)
    longest_k = max(row.contribution.share_k for row in rows) or 1.0
    lines = [
        f"{'what may be wrong'.ljust(width)}   k = 1   part  {'how it weighs'.ljust(BAR_WIDTH)}  from",
    ]
    for row in rows:
        line = row.contribution
        drawn = bar(line.share_k / longest_k, unicode=unicode).ljust(BAR_WIDTH)
        figure = f"{delta_to(line.share_k, unit):6.3f}"
        lines.append(f"{line.name.ljust(width)}  {figure}  {100 * row.share:3.0f} %  {drawn}  {_note(line)}")
    together = delta_to(budget.uncertainty_k, unit)
    lines.append(f"{'together'.ljust(width)}  {together:6.3f} {unit.symbol}")
    lines.append(
        f"expanded: ± {delta_to(budget.expanded_k(), unit):.2f} {unit.symbol}, coverage factor k = "
        f"{budget.coverage_factor():.2f} (about 95 %)"
    )
    return lines


def _note(line: Contribution) -> str:
    parts = [line.note] if line.note else []
    if line.estimate:
        parts.append("estimate")
    return ", ".join(parts)


def cure_lines(budget: Budget, unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return what would make a result better, as lines; empty where nothing would."""
    found = cures(budget)
    if not found:
        return []
    return [
        "What would make this number better?",
        *(
            f"  {cure.text}: at best ± {delta_to(cure.reached_k, unit):.2f} {unit.symbol} ({cure.name})"
            for cure in found
        ),
    ]


def difference_line(what: str, difference: Difference, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return a difference between two shots in one line, told both ways."""
    cancelled, independent = difference.cancelled, difference.independent
    told = result_text(cancelled.value, cancelled.expanded_k(), unit, difference=True)
    whole_k = independent.expanded_k()
    if sqrt(abs(whole_k**2 - cancelled.expanded_k() ** 2)) < 0.01 * whole_k:
        return f"{what}: {told}, nothing is shared"
    alone = f"{delta_to(whole_k, unit):.2f} {unit.symbol}"
    return f"{what}: {told}; what both share cancels (± {alone} if nothing were shared)"


def budget_json(budget: Budget) -> dict[str, object]:
    """Return a budget as plain values."""
    return {
        "quantity": budget.quantity,
        "value": budget.value,
        "unit": budget.unit,
        "uncertainty_k": budget.uncertainty_k,
        "expanded_uncertainty_k": budget.expanded_k(),
        "coverage_factor": budget.coverage_factor(),
        "contributions": [
            {
                "name": row.contribution.name,
                "uncertainty": row.contribution.uncertainty,
                "unit": row.contribution.unit,
                "sensitivity": row.contribution.sensitivity,
                "distribution": str(row.contribution.distribution),
                "dof": row.contribution.dof,
                "kind": str(row.contribution.kind),
                "estimate": row.contribution.estimate,
                "note": row.contribution.note,
                "share_k": row.contribution.share_k,
                "part": row.share,
                "expanded_without_k": row.without_k,
            }
            for row in budget_rows(budget)
        ],
        "correlations": [
            {"first": tie.first, "second": tie.second, "coefficient": tie.coefficient}
            for tie in budget.correlations
        ],
    }
