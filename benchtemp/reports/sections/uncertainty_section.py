"""How sure the figures are: the uncertainty budget of the least certain shot with each probe."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import isfinite

from benchtemp.probes.uncertainty import Budget, Contribution
from benchtemp.reports.budget import budget_rows, cures, result_text
from benchtemp.reports.content import Block, Bullets, Grid, Paragraph, Row, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.phrases import moment
from benchtemp.reports.tested import Tested, TestedShot
from benchtemp.shots.budget import budget_of
from benchtemp.studies.wording import delta, number, percent, temp
from benchtemp.units import TempUnit, delta_to

BUDGETS_AT_MOST = 6
_DEGC = re.compile(r"(± |steps of )?(\d+(?:\.\d+)?) °C")
"""In the notes of a budget, which are written in °C."""
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d[\d:.]*(?:Z|[+-]\d\d:\d\d)?")


def uncertainty_section(tested: Tested, unit: TempUnit) -> Section | None:
    """Return the budgets; None where no shot has a brew temperature."""
    widest = _widest(tested.used or tested.shots)
    if not widest:
        return None
    blocks: list[Block] = [
        Paragraph(
            "Below is, line by line, what may be wrong with a brew temperature, for the shot of each "
            "probe that is known least well. Probe, interface and place in the puck are taken to be "
            "wrong by the same amount in every shot, so differences between shots with one probe are known "
            "far better than any one temperature."
        )
    ]
    for one, budget, count in widest[:BUDGETS_AT_MOST]:
        blocks += _budget_blocks(one, budget, count, unit)
    if len(widest) > BUDGETS_AT_MOST:
        blocks.append(
            Paragraph(f"{len(widest) - BUDGETS_AT_MOST} more probes or checks are not shown.", quiet=True)
        )
    return Section("How sure the figures are", tuple(blocks))


def _widest(shots: Sequence[TestedShot]) -> list[tuple[TestedShot, Budget, int]]:
    """Return for each probe, check and interface the shot of the widest budget, and how many there are."""
    found: dict[tuple[str, str, str], list[tuple[TestedShot, Budget]]] = {}
    for one in shots:
        budget = budget_of(one.shot)
        if budget is not None:
            key = (one.record.probe, one.record.checked, one.shot.grounds.interface)
            found.setdefault(key, []).append((one, budget))
    widest = []
    for pairs in found.values():
        one, budget = max(pairs, key=lambda pair: pair[1].uncertainty_k)
        widest.append((one, budget, len(pairs)))
    return widest


def _budget_blocks(one: TestedShot, budget: Budget, count: int, unit: TempUnit) -> list[Block]:
    symbol = unit.symbol
    rows = [
        Row(
            (
                printable(row.contribution.name, 80),
                _input(row.contribution.uncertainty, row.contribution.unit, unit),
                number(row.contribution.sensitivity, 2),
                number(delta_to(row.contribution.share_k, unit), 3),
                percent(row.share),
                f"{row.contribution.kind}, {row.contribution.distribution}",
                printable("; ".join(_origin(row.contribution, unit)), 200),
            )
        )
        for row in budget_rows(budget)
    ]
    expanded_k, factor = budget.expanded_k(), budget.coverage_factor()
    dof = (
        f"{number(budget.dof, 0)} effective degrees of freedom"
        if isfinite(budget.dof) and budget.dof < 10_000
        else ("practically unlimited degrees of freedom")
    )
    probe = f"probe {one.record.probe}" if one.record.probe else "the probe"
    grid = Grid(
        title=printable(
            f"{one.name}, {probe}" + (f": the widest of {count} shots" if count > 1 else ""), 160
        ),
        headings=(
            "what may be wrong",
            "input",
            "sensitivity",
            f"share {symbol}",
            "of all",
            "type",
            "from",
        ),
        rows=tuple(rows),
        figures=(1, 2, 3, 4),
        wide=(0, 5, 6),
        note="Inputs and shares are standard uncertainties (k = 1). Together "
        f"{number(delta_to(budget.uncertainty_k, unit), 3)} {symbol}, {dof}; with the coverage factor k "
        f"= {factor:.2f}: {result_text(budget.value, expanded_k, unit)}.",
    )
    blocks: list[Block] = [grid]
    better = [
        f"{cure.text}: at best ± {number(delta_to(cure.reached_k, unit), 2)} {symbol}"
        for cure in cures(budget)
    ]
    if better:
        blocks += [Paragraph("What would make this figure better:"), Bullets(tuple(better))]
    return blocks


def _input(value: float, quantity: str, unit: TempUnit) -> str:
    if quantity == "K":
        return f"{number(delta_to(value, unit), 3)} {unit.symbol}"
    return f"{number(value, 4)} {quantity}"


def _origin(line: Contribution, unit: TempUnit) -> list[str]:
    note = _MOMENT.sub(lambda found: moment(found[0]), line.note)
    note = _DEGC.sub(lambda found: _in_unit(found, unit), note)
    return [part for part in (note, "estimate" if line.estimate else "") if part]


def _in_unit(found: re.Match[str], unit: TempUnit) -> str:
    """Return a temperature named in a note, or a difference if that is what it is, in a unit."""
    value, decimals = float(found[2]), len(found[2].partition(".")[2])
    shown = delta(value, unit, decimals) if found[1] else temp(value, unit, decimals)
    return f"{found[1] or ''}{shown}"
