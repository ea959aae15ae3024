"""A chart's axes: quantities in the unit that is shown, titles, ticks, and how far an axis reaches."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.reports.printable import printable
from benchtemp.studies.chart import Axis, Chart, Look, Quantity
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis as DrawnAxis

Converted = Callable[[Iterable[float]], FloatArray]

NAME_LONGEST = 18
"""Characters of a line of a name below the axis; it has two."""
MANY_NAMES = 6
"""From so many names on they are written slanted."""
STRIP_TIMES = 2.5
"""A strip more than so many times as wide as what is drawn is cut at the chart's edge, not shown whole."""
_MARGIN = 0.06
_UPRIGHT_SHARE = 0.8
"""How much of a picture's height the upright axis has."""


def converted(quantity: Quantity, unit: TempUnit) -> Converted:
    """Return what turns values of an axis into those shown."""
    scale, shift = 1.0, 0.0
    if quantity in {Quantity.TEMP_DEGC, Quantity.SETPOINT_DEGC} and unit is not TempUnit.DEGC:
        scale, shift = (1.8, 32.0) if unit is TempUnit.DEGF else (1.0, 273.15)
    elif quantity is Quantity.DELTA_K and unit is TempUnit.DEGF:
        scale = 1.8
    elif quantity is Quantity.SHARE:
        scale = 100.0

    def apply(values: Iterable[float]) -> FloatArray:
        return np.asarray(tuple(values), dtype=np.float64) * scale + shift

    return apply


def axis_title(axis: Axis, unit: TempUnit) -> str:
    """Return an axis's title with the unit shown."""
    units = {
        Quantity.TEMP_DEGC: unit.symbol,
        Quantity.SETPOINT_DEGC: unit.symbol,
        Quantity.DELTA_K: unit.symbol,
        Quantity.TIME_S: "s",
        Quantity.TIME_MIN: "min",
        Quantity.GRAMS: "g",
        Quantity.SHARE: "%",
    }
    title = printable(axis.title, 60)
    shown = units.get(axis.quantity, "")
    return f"{title} ({shown})" if shown else title


def _fitted_upright(title: str, axes: Axes) -> str:
    """Return the title of the upright axis, in two lines where it would be longer than the axis is high."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    room_pt = 72.0 * float(figure.get_figheight()) * _UPRIGHT_SHARE
    letter_pt = 0.55 * float(axes.yaxis.label.get_fontsize())
    fits = max(12, int(room_pt / letter_pt))
    return title if len(title) <= fits else "\n".join(wrap(title, max(fits, (len(title) + 8) // 2)))


def _finite(values: Iterable[FloatArray]) -> FloatArray:
    parts = [part[np.isfinite(part)] for part in values]
    return np.concatenate(parts) if parts else np.empty(0)


def reach(chart: Chart, *, upright: bool, convert: Converted) -> tuple[float, float]:
    """Return from where to where an axis goes: all that is drawn, and levels that are not far off.

    Args:
        chart: What is drawn.
        upright: The y axis; else the x axis.
        convert: Into the values shown.
    """
    drawn: list[FloatArray] = []
    for series in chart.series:
        if upright:
            drawn += [convert(values) for values in (series.y, series.low, series.high) if values]
            if series.look is Look.BARS:
                drawn.append(np.zeros(1))
        else:
            drawn.append(convert(series.x))
    values = _finite(drawn)
    if not len(values):
        values = np.array([0.0, 1.0])
    low, high = float(values.min()), float(values.max())
    span = max(high - low, 1e-9)
    for level in chart.levels:
        if level.upright == upright:
            continue  # an upright line stands at a place on the x axis
        ends = convert([level.at] if level.to is None else [level.at, level.to])
        if level.to is None or float(np.ptp(ends)) <= STRIP_TIMES * span:
            ends = ends[np.isfinite(ends)]
            low, high = min([low, *ends.tolist()]), max([high, *ends.tolist()])
    if high - low < 1e-9:
        half = 0.5 if not upright else max(abs(high) * 0.005, 0.25)
        return low - half, high + half
    if not upright and chart.x.quantity is Quantity.SHOT:
        return low - 0.6, high + 0.6
    margin = _MARGIN * (high - low)
    bars = upright and any(series.look is Look.BARS for series in chart.series)
    return (0.0 if bars and low >= 0 else low - margin), high + margin


def _in_lines(name: str) -> str:
    return "\n".join(wrap(printable(name, 80), NAME_LONGEST, max_lines=2, placeholder="…"))


def set_up_axis(
    axes: Axes, axis: Axis, unit: TempUnit, *, upright: bool, limits: tuple[float, float]
) -> None:
    """Give an axis its title, reach and ticks."""
    from matplotlib.ticker import MaxNLocator  # noqa: PLC0415  (start-up time)

    title = axis_title(axis, unit)
    drawn: DrawnAxis
    if upright:
        axes.set_ylabel(_fitted_upright(title, axes))
        axes.set_ylim(*limits)
        drawn = axes.yaxis
    else:
        axes.set_xlabel(title)
        axes.set_xlim(*limits)
        drawn = axes.xaxis
    if axis.quantity in {Quantity.NAME, Quantity.SHOT}:
        axes.grid(visible=False, axis="y" if upright else "x")
    if axis.quantity is Quantity.NAME:
        names = [_in_lines(name) for name in axis.names]
        ticks = drawn.set_ticks(list(range(len(names))), names)
        if not upright and len(names) > MANY_NAMES:
            for tick in ticks:
                tick.label1.set(rotation=25.0, horizontalalignment="right")
        reach_of_names = (-0.6, max(len(names) - 0.4, 0.6))
        if upright:
            axes.set_ylim(*reach_of_names)
        else:
            axes.set_xlim(*reach_of_names)
    elif axis.quantity is Quantity.SHOT:
        drawn.set_major_locator(MaxNLocator(integer=True, nbins=12, min_n_ticks=1))
