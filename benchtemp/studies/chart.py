"""Charts as plain data: what to draw, in which quantities, for the window, a report or a terminal to draw."""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Quantity(StrEnum):
    """What an axis shows; temperatures and differences are converted where they are drawn."""

    TEMP_DEGC = "temp_degc"
    DELTA_K = "delta_k"
    SETPOINT_DEGC = "setpoint_degc"
    TIME_S = "time_s"
    TIME_MIN = "time_min"
    GRAMS = "grams"
    SHOT = "shot"
    """Shots counted from 1."""
    SHARE = "share"
    """0 to 1."""
    NAME = "name"
    """Places 0, 1, 2… with the names of `Axis.names`."""


class Look(StrEnum):
    """How a series is drawn."""

    POINTS = "points"
    LINE = "line"
    BAND = "band"
    """Between `low` and `high`."""
    INTERVALS = "intervals"
    """Points at `y` with bars from `low` to `high`."""
    BARS = "bars"
    """From 0 to `y`, with a whisker from `low` to `high` where given."""


class Axis(msgspec.Struct, frozen=True, kw_only=True):
    """One axis: its quantity, and its title without the unit."""

    quantity: Quantity
    title: str
    names: tuple[str, ...] = ()


class Series(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to draw.

    Attributes:
        name: For the legend.
        look: How.
        x, y: Values in the axes' quantities; y is empty for a band.
        low, high: Ends of a band or of bars, as many as x; infinite where there is no end.
        marked: Indices of points that stand out and are drawn so.
        marked_as: What that means, for the legend.
        labels: What each point is, as many as x, or none.
        group: Series of the same group share a colour; 0 is the main one.
        faint: Background, such as limits or single traces.
    """

    name: str
    look: Look
    x: tuple[float, ...]
    y: tuple[float, ...] = ()
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    marked: tuple[int, ...] = ()
    marked_as: str = "stands out"
    labels: tuple[str, ...] = ()
    group: int = 0
    faint: bool = False


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """A line across the chart, or a strip from `at` to `to`; horizontal unless `upright`."""

    name: str
    at: float
    to: float | None = None
    upright: bool = False
    faint: bool = False


class Chart(msgspec.Struct, frozen=True, kw_only=True):
    """A chart.

    Attributes:
        title: Above it.
        summary: What it shows in a sentence, for those who do not see it.
        x, y: Axes.
        series: Drawn in this order, first at the back.
        levels: Lines and strips behind them.
    """

    title: str
    summary: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    levels: tuple[Level, ...] = ()
