"""An uncertainty budget as a table with bars: what may be wrong, how much, and what would make it better."""

from __future__ import annotations

from math import sqrt
from typing import NamedTuple

from benchtemp.probes import brew_budget
from benchtemp.probes.brew_budget import Difference
from benchtemp.probes.uncertainty import Budget, Contribution
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

BAR_WIDTH = 24
_EIGHTHS = " ▏▎▍▌▋▊▉"
_FULL = "█"
WORTH_TELLING = 0.02
"""A cure that shrinks the expanded uncertainty by a smaller share than this is not worth a sentence."""

_CURES = {
    brew_budget.TOLERANCE: "check the probe in boiling water",
    brew_budget.CALIBRATION: "check the probe with the air pressure known, and let it settle for longer",
    brew_budget.SLOPE: "check the probe in an ice bath too, or nearer to the brew temperature",
    brew_budget.DRIFT: "check the probe again",
    brew_budget.JUNCTION: "let the interface warm up, keep it away from heat, and check the probe on it",
    brew_budget.POSITION: "compare places in the puck, and enter how far they really differ",
    brew_budget.NOISE: "pull a longer plateau, mark the pump, or read faster",
    brew_budget.RESOLUTION: "let the interface send one more decimal",
}


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
        without_k: What the expanded uncertainty would be at best, K.
    """

    name: str
    text: str
    without_k: float


def budget_rows(budget: Budget) -> tuple[BudgetRow, ...]:
    """Return the lines of a budget, largest first."""
    return tuple(
        BudgetRow(line, share, budget.without(line.name).expanded_k()) for line, share in budget.ranked()
    )


def cures(budget: Budget, *, most: int = 3) -> tuple[Cure, ...]:
    """Return what would make a result better, the most helpful first; only what is worth it."""
    whole_k = budget.expanded_k()
    found = [
        Cure(row.contribution.name, _CURES[row.contribution.name], row.without_k)
        for row in budget_rows(budget)
        if row.contribution.name in _CURES and row.without_k < (1.0 - WORTH_TELLING) * whole_k
    ]
    return tuple(sorted(found, key=lambda cure: cure.without_k)[:most])


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
            f"  {cure.text}: at best ± {delta_to(cure.without_k, unit):.2f} {unit.symbol} ({cure.name})"
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
