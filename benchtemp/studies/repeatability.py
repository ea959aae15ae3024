"""Repeatability of the tester: how much of the scatter comes from who, or which probe, did the measuring."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.shots.statistics import mean
from benchtemp.studies.chart import Axis, Chart, Look, Quantity, Series
from benchtemp.studies.concerns import (
    coarse_concern,
    drift_concern,
    file_concerns,
    outlier_concerns,
    too_few,
    too_few_to_begin,
    varied,
    varied_concerns,
)
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import About, Concern, Study, Table, machine_name, plural, used_shots
from benchtemp.studies.probe_checks import probe_checks
from benchtemp.studies.probe_concerns import probe_concerns, proof_concerns
from benchtemp.studies.statistics.components import (
    Component,
    Components,
    crossed_components,
    one_way_components,
)
from benchtemp.studies.statistics.intervals import LEVEL, Interval
from benchtemp.studies.wording import chance, decimals_for, delta, delta_span, listed, percent, temp
from benchtemp.units import TempUnit

FACTORS = ("operator", "probe")
ENOUGH_LEVELS = 4
LIMIT = 1.96 * sqrt(2.0)
"""Two shots differ by less than so many standard deviations 95 times out of 100 (ISO 5725-6: 2.8)."""


class TesterMean(msgspec.Struct, frozen=True, kw_only=True):
    """One operator's or probe's shots: how many, and their mean brew temperature in °C."""

    name: str
    count: int
    mean_degc: float


class Repeatability(Study, frozen=True, kw_only=True, tag="testers"):
    """A scatter taken apart into what shots, operators and probes add.

    Attributes:
        factors: Those that varied.
        components: The parts.
        levels: By factor, each operator or probe.
        labels: By factor, the operator or probe of each shot.
        repeatability_limit_k: Two shots by the same tester differ by less, 95 times out of 100.
        reproducibility_limit_k: Two shots by any two testers do.
        brew_degc: One per shot.
        outliers: Indices of shots that stand apart in their group.
    """

    factors: tuple[str, ...]
    components: Components
    levels: dict[str, tuple[TesterMean, ...]]
    labels: dict[str, tuple[str, ...]]
    repeatability_limit_k: float
    reproducibility_limit_k: float
    brew_degc: tuple[float, ...]
    outliers: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        """Return what to call the study."""
        return f"Testers on {self.machine}"

    def sentence(self, unit: TempUnit) -> str:
        """Return the verdict's sentence."""
        own = self.components.repeatability
        places = decimals_for(own.sd)

        def part(component: Component) -> str:
            if not component.sd > 0:
                return f"nothing that shows (at most {delta(component.interval.high, unit, places)})"
            size = delta(component.sd, unit, places)
            return f"{size} ({delta_span(component.interval, unit, places)})"

        between = listed([f"{part(one)} between {one.name}s" for one in self.components.between])
        places = decimals_for(self.reproducibility_limit_k)
        whole = self.components.reproducibility.interval
        reach = Interval(low=LIMIT * whole.low, high=LIMIT * whole.high, level=whole.level)
        return self.hedged(
            f"On {self.machine}, shots by the same tester scatter by {part(own)}, to which comes {between}; "
            "two shots by any two testers differ by less than "
            f"{delta(self.reproducibility_limit_k, unit, places)} ({delta_span(reach, unit, places)}), "
            "95 times out of 100."
        )

    def limits(self, unit: TempUnit) -> tuple[str, ...]:
        """Return on what the verdict rests."""
        del unit
        counted = [plural(len(self.levels[factor]), factor) for factor in self.factors]
        return (
            self.counted_phrase(),
            listed(counted),
            f"intervals at {percent(self.components.repeatability.interval.level)} confidence",
        )

    def tables(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Table, ...]:
        """Return the parts, and the mean of each operator or probe."""
        parts = [self.components.repeatability, *self.components.between, self.components.reproducibility]
        rows = tuple(
            (
                component.name if index in {0, len(parts) - 1} else f"between {component.name}s",
                delta(component.sd, unit, 2),
                delta_span(component.interval, unit, 2),
                str(component.levels),
            )
            for index, component in enumerate(parts)
        )
        tables = [
            Table(
                title="Standard deviations",
                headings=("part", "sd", "interval", "levels or degrees of freedom"),
                rows=rows,
            )
        ]
        for factor, levels in self.levels.items():
            means = tuple((one.name, str(one.count), temp(one.mean_degc, unit, 2)) for one in levels)
            tables.append(
                Table(title=f"By {factor}", headings=(factor, "shots", "mean brew temperature"), rows=means)
            )
        table = self.components.table
        if table is not None:
            variance = (
                ("between", str(table.dof_between), f"{table.f:.2f}", chance(table.p)),
                ("within", str(table.dof_within), "", ""),
            )
            tables.append(
                Table(title="Analysis of variance", headings=("source", "dof", "F", "chance"), rows=variance)
            )
        return tuple(tables)

    def charts(self, unit: TempUnit = TempUnit.DEGC) -> tuple[Chart, ...]:
        """Return the parts as bars, and the shots by operator or probe."""
        parts = [self.components.repeatability, *self.components.between, self.components.reproducibility]
        names = tuple(component.name for component in parts)
        charts = [
            Chart(
                title="Where the scatter comes from",
                summary=self.sentence(unit),
                x=Axis(quantity=Quantity.NAME, title="part", names=names),
                y=Axis(quantity=Quantity.DELTA_K, title="standard deviation"),
                series=(
                    Series(
                        name="standard deviation",
                        look=Look.BARS,
                        x=tuple(float(index) for index in range(len(parts))),
                        y=tuple(component.sd for component in parts),
                        low=tuple(component.interval.low for component in parts),
                        high=tuple(component.interval.high for component in parts),
                    ),
                ),
            )
        ]
        charts += [self._by(factor) for factor in self.factors]
        return tuple(charts)

    def _by(self, factor: str) -> Chart:
        names = tuple(one.name for one in self.levels[factor])
        places = tuple(float(names.index(label)) for label in self.labels[factor])
        return Chart(
            title=f"By {factor}",
            summary=f"Brew temperature of each shot, by {factor}, with the means.",
            x=Axis(quantity=Quantity.NAME, title=factor, names=names),
            y=Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature"),
            series=(
                Series(
                    name="shots",
                    look=Look.POINTS,
                    x=places,
                    y=self.brew_degc,
                    marked=self.outliers,
                    labels=tuple(shot.name for shot in self.used),
                ),
                Series(
                    name="mean",
                    look=Look.INTERVALS,
                    x=tuple(float(index) for index in range(len(names))),
                    y=tuple(one.mean_degc for one in self.levels[factor]),
                    group=1,
                ),
            ),
        )


def repeatability(shots: ShotSet, *, level: float = LEVEL) -> Repeatability:
    """Take the scatter of shots apart into what the shots, the operators and the probes add.

    Args:
        shots: Of one machine at one setting, by two or more operators or with two or more probes.
        level: Level of confidence.

    Raises:
        BadInput: Neither operator nor probe varied, or nobody pulled twice.
    """
    factors = [factor for factor in FACTORS if _varies(shots, factor, [factor])]
    for factor in reversed(factors):
        # Of the shots that know all of them, too.
        if not _varies(shots, factor, factors):
            factors.remove(factor)
    if not factors:
        raise BadInput(
            "Neither the operator nor the probe differs between these shots; tag them with 'operator', or "
            "choose shots by several testers."
        )
    concerns: tuple[Concern, ...] = ()
    if len(factors) == 2 and _same_parting(shots):
        factors = ["operator"]
        text = "Every operator used a probe of their own: operator and probe cannot be told apart."
        concerns = (Concern(about=About.CONFOUNDED, text=text),)
    for factor in factors:
        shots = shots.labelled(factor, f"its {factor} is not known")
    groups = {factor: shots.by(factor) for factor in factors}
    if len(shots) < 4 or any(max(len(part) for part in parts.values()) < 2 for parts in groups.values()):
        raise too_few_to_begin("A study of testers", len(shots), 4, "shots, at least two by the same tester,")
    brew = shots.brew_degc
    labels = {factor: tuple(shot.label(factor) for shot in shots.used) for factor in factors}
    if len(factors) == 1:
        found = one_way_components(
            factors[0], [part.brew_degc for part in groups[factors[0]].values()], level
        )
    else:
        found = crossed_components(brew, labels, level)
    first = groups[factors[0]]
    rest = brew - np.array([mean(first[label].brew_degc) for label in labels[factors[0]]])
    apart, apart_concerns = outlier_concerns(shots, rest)
    fewest = min(len(parts) for parts in groups.values())
    concerns = (
        *concerns,
        *_few_levels(fewest),
        *too_few(len(shots), 3 * fewest, "telling shots and testers apart"),
        *(proof_concerns(shots) if "probe" in factors else probe_concerns(shots)),
        *varied_concerns(shots),
        *drift_concern(rest),
        *coarse_concern(shots, rest),
        *apart_concerns,
        *file_concerns(shots),
    )
    return Repeatability(
        machine=machine_name(shots),
        used=used_shots(shots),
        left_out=shots.left_out,
        probe_checks=probe_checks(shots),
        concerns=concerns,
        factors=tuple(factors),
        components=found,
        levels={
            factor: tuple(
                TesterMean(name=name, count=len(part), mean_degc=mean(part.brew_degc))
                for name, part in parts.items()
            )
            for factor, parts in groups.items()
        },
        labels=labels,
        repeatability_limit_k=LIMIT * found.repeatability.sd,
        reproducibility_limit_k=LIMIT * found.reproducibility.sd,
        brew_degc=tuple(brew.tolist()),
        outliers=apart,
        mixed=varied(shots),
    )


def _same_parting(shots: ShotSet) -> bool:
    """Tell whether operator and probe part the shots in one and the same way."""
    pairs = {(shot.label("operator"), shot.label("probe")) for shot in shots.used}
    return len(pairs) == len({one for one, _ in pairs}) == len({other for _, other in pairs})


def _varies(shots: ShotSet, factor: str, others: Sequence[str]) -> bool:
    """Tell whether a factor differs among the shots that would be left: those that know all factors."""
    known = [shot for shot in shots.used if all(shot.label(other) for other in others)]
    return len({shot.label(factor) for shot in known}) > 1


def _few_levels(fewest: int) -> tuple[Concern, ...]:
    if fewest >= ENOUGH_LEVELS:
        return ()
    text = f"Only {fewest} testers of a kind: how far testers differ is known to a factor of several at best."
    return (Concern(about=About.TOO_FEW, text=text),)
