"""A comparison's charts: shots by group, traces laid over each other, differences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.studies.comparison_groups import Group, Pair

NEAR_PLATEAU_K = 8.0
"""Traces are drawn from where one comes this close to its highest: before that they climb from the room."""


def shots_chart(groups: Sequence[Group], factor: str, summary: str) -> Chart:
    """Return every group's shots, spread out a little, with mean and interval."""
    series: list[Series] = []
    for index, group in enumerate(groups):
        spots = np.linspace(index - 0.15, index + 0.15, group.count) if group.count > 1 else [float(index)]
        series.append(
            Series(
                name="",
                look=Look.POINTS,
                x=tuple(float(x) for x in spots),
                y=group.brew_degc,
                group=index,
                faint=True,
            )
        )
    for index, group in enumerate(groups):
        series.append(
            Series(
                name="",
                look=Look.INTERVALS,
                # Beside the shots, so that neither hides the other.
                x=(index + 0.27,),
                y=(group.mean_degc,),
                low=(group.interval.low,),
                high=(group.interval.high,),
                group=index,
            )
        )
    return Chart(
        title=f"Brew temperature by {factor}: shots, mean and its interval",
        summary=summary,
        x=Axis(quantity=Quantity.NAME, title=factor, names=tuple(group.name for group in groups)),
        y=Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature"),
        series=tuple(series),
    )


def traces_chart(groups: Sequence[Group], grid_s: Sequence[float]) -> Chart | None:
    """Return the groups' mean traces with a band of one standard deviation; None where there are none."""
    traced = [(index, group) for index, group in enumerate(groups) if group.traces]
    if not traced:
        return None
    means = np.array([group.trace_degc for _, group in traced])
    highest = np.nanmax(means, axis=1, initial=-np.inf, where=np.isfinite(means))
    near = np.flatnonzero((means > highest[:, None] - NEAR_PLATEAU_K).any(axis=0))
    kept = slice(int(near[0]), int(near[-1]) + 1) if len(near) else slice(None)
    x = tuple(grid_s[kept])

    def near_top(values: tuple[float, ...], top: float) -> tuple[float, ...]:
        shown = np.array(values[kept])
        shown[shown < top - NEAR_PLATEAU_K] = np.nan
        return tuple(shown.tolist())

    bands = [
        Series(
            name=f"{group.name}, ± 1 sd",
            look=Look.BAND,
            x=x,
            low=near_top(group.trace_low, float(top)),
            high=near_top(group.trace_high, float(top)),
            group=index,
            faint=True,
        )
        for (index, group), top in zip(traced, highest, strict=True)
    ]
    lines = [
        Series(name=group.name, look=Look.LINE, x=x, y=near_top(group.trace_degc, float(top)), group=index)
        for (index, group), top in zip(traced, highest, strict=True)
    ]
    return Chart(
        title="Traces laid over each other",
        summary="Mean probe temperature of each group, with one standard deviation around it.",
        x=Axis(quantity=Quantity.TIME_S, title="since pump on"),
        y=Axis(quantity=Quantity.TEMP_DEGC, title="probe temperature"),
        series=(*bands, *lines),
    )


def differences_chart(pairs: Sequence[Pair], summary: str) -> Chart:
    """Return the difference of every pair with its interval; those beyond chance stand out."""
    return Chart(
        title="Differences",
        summary=summary,
        x=Axis(
            quantity=Quantity.NAME,
            title="pair",
            names=tuple(f"{pair.first} − {pair.second}" for pair in pairs),
        ),
        y=Axis(quantity=Quantity.DELTA_K, title="difference"),
        series=(
            Series(
                name="difference and its interval",
                look=Look.INTERVALS,
                x=tuple(float(index) for index in range(len(pairs))),
                y=tuple(pair.difference.difference for pair in pairs),
                low=tuple(pair.interval.low for pair in pairs),
                high=tuple(pair.interval.high for pair in pairs),
                marked=tuple(index for index, pair in enumerate(pairs) if pair.shown),
                marked_as="beyond chance",
            ),
        ),
        levels=(Level(name="no difference", at=0.0, faint=True),),
    )
