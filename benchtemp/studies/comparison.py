"""Comparison: whether machines, settings, routines or dates differ, and by how much."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf, isfinite

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray
from benchtemp.shots.statistics import mean
from benchtemp.studies.chart import Chart
from benchtemp.studies.comparison_charts import differences_chart, shots_chart, traces_chart
from benchtemp.studies.comparison_groups import Group, Pair, group_of, pair_of
from benchtemp.studies.concerns import (
    coarse_concern,
    confounders,
    file_concerns,
    outlier_concerns,
    too_few_to_begin,
    varied,
    varied_concerns,
)
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.evidence.traces import GRID_S
from benchtemp.studies.outcome import About, Concern, Study, Table, plural, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns
from benchtemp.studies.statistics.groups import (
    VarianceTable,
    equal_spread_p,
    every_pair,
    one_way,
    welch_anova_p,
)
from benchtemp.studies.statistics.intervals import (
    LEVEL,
    Interval,
)
from benchtemp.studies.wording import (
    DASH,
    chance,
    decimals_for,
    delta,
    delta_span,
    listed,
    number,
    percent,
    span,
    temp,
    temp_span,
)
from benchtemp.units import TempUnit

ENOUGH = 4
MOST_NAMED = 2
"""So many pairs that differ are named in the verdict."""
MATTERS_K = 0.5
"""A difference in brew temperature that a person may taste or care about (our choice)."""
NEGLIGIBLE_K = 0.02
"""Less than this left of the probes' own errors counts as cancelled."""


class Comparison(Study, frozen=True, kw_only=True, tag="comparison"):
    """Groups of shots compared.

    Attributes:
        factor: What tells them apart.
        groups: In order of appearance.
        pairs: Every two of them.
        table: Analysis of variance with more than two groups, None if it cannot be made.
        welch_p: How likely means so different are by chance, without asking for equal scatter.
        spread_p: How likely scatters so different are by chance.
        matters_k: The smallest difference that matters.
        grid_s: Seconds since pump on of the groups' mean traces.
        outliers: Indices of shots that stand apart in their group.
    """

    factor: str
    groups: tuple[Group, ...]
    pairs: tuple[Pair, ...]
    table: VarianceTable | None
    welch_p: float
    spread_p: float
    matters_k: float
    grid_s: tuple[float, ...] = ()
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Comparison by {self.factor}"

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        found = self._two(self.pairs[0], unit) if len(self.groups) == 2 else self._several(unit)
        if not self.mixed or not any(pair.shown for pair in self.pairs):
            return found
        return (
            f"{found.removesuffix('.')}; but these shots differ in {listed(self.mixed)} too, so it need not "
            f"be the {self.factor}."
        )

    def _two(self, pair: Pair, unit: TempUnit) -> str:
        found = pair.difference.difference
        places = decimals_for(pair.interval.half_width)
        probe = (
            "the probe's own error cancels"
            if pair.left_over_k < NEGLIGIBLE_K
            else f"with ± {delta(2.0 * pair.left_over_k, unit, 1)} for different probes or checks in it"
        )
        size = delta(abs(found), unit, places)
        low, high = sorted((pair.interval.low, pair.interval.high))
        if not isfinite(pair.interval.half_width):
            alone = "one shot in a group tells nothing of chance"
            return f"{pair.first} and {pair.second} differ by {size}; {alone}."
        if pair.shown:
            hotter, colder = (pair.first, pair.second) if found > 0 else (pair.second, pair.first)
            ends = sorted((abs(low), abs(high)))
            interval = Interval(low=ends[0], high=ends[1], level=pair.interval.level)
            little = (
                f"; that is less than the {delta(self.matters_k, unit, 1)} taken to matter"
                if ends[1] < self.matters_k
                else ""
            )
            return (
                f"{hotter} brews {size} hotter than {colder} ({delta_span(interval, unit, places)}; "
                f"{probe}){little}."
            )
        seen = delta_span(Interval(low=low, high=high, level=pair.interval.level), unit, places)
        more = (
            f"{plural(pair.more_for_matters, 'more shot')} each would show {delta(self.matters_k, unit, 1)}"
            if pair.more_for_matters
            else f"one of {delta(pair.detectable_k, unit, places)} would most likely have shown"
        )
        return f"No difference between {pair.first} and {pair.second} was shown ({seen}; {probe}); {more}."

    def _several(self, unit: TempUnit) -> str:
        ranked = sorted(self.groups, key=lambda group: -group.mean_degc)
        means = listed([f"{group.name} {temp(group.mean_degc, unit, 1)}" for group in ranked])
        shown = [pair for pair in self.pairs if pair.shown]
        if not shown:
            most = max((p.detectable_k for p in self.pairs if isfinite(p.detectable_k)), default=inf)
            return (
                f"No difference between the {len(self.groups)} groups was shown ({means}); differences of "
                f"{delta(most, unit, 1)} or more most likely would have been."
            )
        head = f"The {len(self.groups)} groups do not brew alike ({means})"
        if len(shown) <= MOST_NAMED:
            rest = len(self.pairs) - len(shown)
            others = f"; {plural(rest, 'other pair')} could not be told apart" if rest else ""
            return f"{head}: {', and '.join(_hotter(pair, unit) for pair in shown)}{others}."
        top, bottom = ranked[0], ranked[-1]
        widest = next(pair for pair in self.pairs if {pair.first, pair.second} == {top.name, bottom.name})
        reach = f"; {_hotter(widest, unit)}" if widest.shown else ""
        return f"{head}: {len(shown)} of {len(self.pairs)} pairs differ beyond chance{reach}."

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        del unit
        few, many = (end(group.count for group in self.groups) for end in (min, max))
        left = max((pair.left_over_k for pair in self.pairs), default=0.0)
        return (
            self.counted_phrase(),
            f"{few} shots a group" if few == many else f"{few} to {many} shots a group",
            "the probe's own error cancels: all shots share it"
            if left < NEGLIGIBLE_K
            else "different probes or checks: their errors do not cancel and are in the intervals, "
            "though not in the chances",
            f"intervals at {percent(self.pairs[0].interval.level)} confidence"
            + (", all pairs together" if len(self.groups) > 2 else ""),
        )

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return groups, pairs and, with more than two, the analysis of variance."""
        groups = tuple(
            (
                group.name,
                str(group.count),
                temp(group.mean_degc, unit, 2),
                temp_span(group.interval, unit, 2) if group.count > 1 else DASH,
                delta(group.sd_k, unit, 2),
                delta_span(group.sd_interval, unit, 2) if group.count > 1 else DASH,
            )
            for group in self.groups
        )
        pairs = tuple(
            (
                f"{pair.first} − {pair.second}",
                delta(pair.difference.difference, unit, 2, sign=True),
                delta_span(pair.interval, unit, 2) if isfinite(pair.interval.half_width) else DASH,
                chance(pair.difference.p),
                _ratio(pair),
                delta(pair.detectable_k, unit, 2),
                _more(pair),
            )
            for pair in self.pairs
        )
        tables = [
            Table(
                title="Groups",
                headings=(self.factor, "shots", "mean", "interval", "sd", "interval of sd"),
                rows=groups,
            ),
            Table(
                title="Differences",
                headings=(
                    "pair",
                    "difference",
                    "interval",
                    "chance",
                    "sd ratio",
                    "would show",
                    "more shots each",
                ),
                rows=pairs,
            ),
        ]
        if self.table is not None:
            found = self.table
            rows = (
                (
                    "between groups",
                    str(found.dof_between),
                    number(found.square_sum_between, 4),
                    number(found.f, 2),
                    chance(found.p),
                ),
                ("within groups", str(found.dof_within), number(found.square_sum_within, 4), "", ""),
                ("without equal scatter (Welch)", "", "", "", chance(self.welch_p)),
                ("scatter differs (Brown, Forsythe)", "", "", "", chance(self.spread_p)),
            )
            headings = ("source", "dof", "sum of squares in K²", "F", "chance")
            tables.append(Table(title="Analysis of variance", headings=headings, rows=rows))
        return tuple(tables)

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the groups' shots and means, their overlaid traces, and the differences."""
        summary = self.sentence(unit)
        shots = shots_chart(self.groups, self.factor, summary)
        traces = traces_chart(self.groups, self.grid_s)
        differences = differences_chart(self.pairs, summary)
        return (shots, differences) if traces is None else (shots, traces, differences)


def _hotter(pair: Pair, unit: TempUnit) -> str:
    """Say by how much one of a pair brews hotter; only for pairs whose interval leaves 0 out."""
    interval = pair.interval
    low, high = sorted((abs(interval.low), abs(interval.high)))
    reach = Interval(low=low, high=high, level=interval.level)
    names = (pair.first, pair.second) if pair.difference.difference > 0 else (pair.second, pair.first)
    by = delta_span(reach, unit, decimals_for(interval.half_width))
    return f"{names[0]} is {by} hotter than {names[1]}"


def _more(pair: Pair) -> str:
    if not isfinite(pair.detectable_k):
        return DASH
    if pair.more_shots is not None:
        return str(pair.more_shots)
    return "first check the probes" if pair.probes_hide_it else "hundreds"


def _ratio(pair: Pair) -> str:
    if not isfinite(pair.sd_ratio):
        return DASH
    low, high = pair.sd_ratio_interval.low, pair.sd_ratio_interval.high
    return f"{number(pair.sd_ratio, 2)} ({span(low, high, 2)})"


def comparison(
    shots: ShotSet,
    factor: str,
    *,
    traces: Mapping[str, FloatArray] | None = None,
    matters_k: float = MATTERS_K,
    level: float = LEVEL,
) -> Comparison:
    """Compare groups of shots.

    Args:
        shots: All of them.
        factor: What tells the groups apart: `machine`, `setpoint`, `operator`, `probe`, `date`, `recording`,
            or any tag.
        traces: By the shots' paths, on `evidence.traces.GRID_S`, to lay over each other.
        matters_k: The smallest difference that matters, K.
        level: Level of confidence.

    Raises:
        BadInput: There are fewer than two groups, or too many to make sense of.
    """
    if len(shots) < 2:
        raise too_few_to_begin("A comparison", len(shots), 2)
    shots = shots.labelled(factor, f"it has no {factor}")
    parts = shots.by(factor)
    if len(parts) < 2:
        alike = (
            f"all shots have {factor} {next(iter(parts))}" if parts else f"no shot that counts has a {factor}"
        )
        raise BadInput(f"A comparison needs two groups; {alike}. Choose another factor or more shots.")
    if len(parts) > 20:
        raise BadInput(
            f"{len(parts)} groups are too many to compare; choose fewer, or another factor than {factor}."
        )
    if len(parts) > 2 and max(len(part) for part in parts.values()) < 2:
        raise BadInput(
            f"No {factor} has two shots, so nothing tells a difference from chance; pull more of each."
        )
    names = list(parts)
    values = [part.brew_degc for part in parts.values()]
    found = every_pair(values, level)
    pairs = tuple(pair_of(one, names, list(parts.values()), matters_k, level) for one in found)
    rest = np.array([shot.brew_temp_degc for shot in shots.used], dtype=np.float64)
    rest -= np.array([mean(parts[shot.label(factor)].brew_degc) for shot in shots.used])
    apart, apart_concerns = outlier_concerns(shots, rest)
    enough = sum(len(group) for group in values) > len(values)
    besides = (factor,)
    smallest = min(len(group) for group in values)
    concerns = (
        *_small_group(smallest),
        *confounders(parts, factor),
        *varied_concerns(*parts.values(), besides=besides),
        *probe_concerns(shots),
        *_spread_concern(values),
        *coarse_concern(shots, rest),
        *apart_concerns,
        *file_concerns(shots),
    )
    return Comparison(
        machine=", ".join(name for name in shots.machines if name),
        used=used_shots(shots),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots),
        concerns=concerns,
        factor=factor,
        groups=tuple(group_of(name, part, traces or {}, level) for name, part in parts.items()),
        pairs=pairs,
        table=one_way(values) if enough and len(values) > 2 else None,
        welch_p=welch_anova_p(values),
        spread_p=equal_spread_p(values),
        matters_k=matters_k,
        grid_s=tuple(GRID_S.tolist()),
        mixed=varied(shots, besides=besides),
        outliers=apart,
    )


def _small_group(smallest: int) -> tuple[Concern, ...]:
    if smallest >= ENOUGH:
        return ()
    text = f"The smallest group has only {plural(smallest, 'shot')}: a comparison wants {ENOUGH} in each."
    return (Concern(about=About.TOO_FEW, text=text),)


def _spread_concern(values: list[FloatArray]) -> tuple[Concern, ...]:
    p = equal_spread_p(values)
    if not p < 0.05:
        return ()
    text = f"The groups do not scatter alike (chance {chance(p)}); the intervals allow for that."
    return (Concern(about=About.FIT, text=text),)
