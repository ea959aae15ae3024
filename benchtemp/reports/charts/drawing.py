"""Drawing a chart: one figure from the plain description, in any palette, unit and size."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

from benchtemp.readings.reading import FloatArray
from benchtemp.reports.charts.axes import Converted, converted, reach, set_up_axis
from benchtemp.reports.charts.palette import LIGHT, Palette
from benchtemp.reports.printable import printable
from benchtemp.studies.chart import Chart, Level, Look, Series
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FONT = "DejaVu Sans"
"""Comes with the plotting library, so that a chart looks the same on every computer."""
LABELLED_AT_MOST = 6
MANY_LINES = 8
"""Of more lines each is drawn thinner."""
LEGEND_LONGEST = 40
TITLE_LONGEST = 90
_SALT = "benchtemp"
_HANDLE_PT = 48.0
"""What a line's sample and the space around it take in a legend."""


@contextmanager
def drawing_rules(size_pt: float = 8.5) -> Iterator[None]:
    """Set the plotting library up for our charts, and quiet about letters its font lacks.

    Args:
        size_pt: Of ordinary text.
    """
    import matplotlib as mpl  # noqa: PLC0415  (start-up time)

    # Typed as anything: the library's own type for them is a list of every rule there is.
    rules: Any = {
        "font.family": [FONT, "sans-serif"],
        "font.size": size_pt,
        "axes.titlesize": size_pt * 1.2,
        "axes.labelsize": size_pt,
        "xtick.labelsize": size_pt * 0.94,
        "ytick.labelsize": size_pt * 0.94,
        "legend.fontsize": size_pt * 0.94,
        # A dollar sign in a name is a dollar sign.
        "text.parse_math": False,
        "text.usetex": False,
        "svg.fonttype": "none",
        "svg.hashsalt": _SALT,
        "pdf.fonttype": 42,
        "path.simplify": True,
        "axes.unicode_minus": True,
    }
    if "font.enable_last_resort" in mpl.rcParams:
        # It would put a second, large font into every PDF for a letter that is a box either way.
        rules["font.enable_last_resort"] = False
    with mpl.rc_context(rules), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .* missing from", category=UserWarning)
        yield


def draw(
    chart: Chart,
    *,
    unit: TempUnit = TempUnit.DEGC,
    palette: Palette = LIGHT,
    size_in: tuple[float, float] = (7.0, 3.3),
    dpi: float = 100.0,
    title: str = "",
    heavy: float = 1.0,
    pad_in: float = 0.04,
) -> Figure:
    """Return a chart as a figure; call it and save the figure under `drawing_rules`.

    Args:
        chart: What to draw, in °C and K.
        unit: Shown.
        palette: Colours.
        size_in: Width and height in inches.
        dpi: Pixels to an inch, for pictures made of them.
        title: Written above; nothing where empty.
        heavy: How many times as thick as usual lines are.
        pad_in: Room left at the edges, inches.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415
    from matplotlib.layout_engine import ConstrainedLayoutEngine  # noqa: PLC0415

    figure = Figure(figsize=size_in, dpi=dpi, layout=ConstrainedLayoutEngine(w_pad=pad_in, h_pad=pad_in))
    figure.set_facecolor(palette.ground or "none")
    axes = figure.add_subplot()
    dressed(axes, palette)
    to_x, to_y = converted(chart.x.quantity, unit), converted(chart.y.quantity, unit)
    x_limits = reach(chart, upright=False, convert=to_x)
    y_limits = reach(chart, upright=True, convert=to_y)
    set_up_axis(axes, chart.x, unit, upright=False, limits=x_limits)
    set_up_axis(axes, chart.y, unit, upright=True, limits=y_limits)
    pen = _Pen(axes, palette, to_x=to_x, to_y=to_y, y_limits=axes.get_ylim(), heavy=heavy)
    lines = sum(series.look is Look.LINE and not series.faint for series in chart.series)
    pen.thin = 1.0 if lines <= MANY_LINES else max(0.45, (MANY_LINES / lines) ** 0.5)
    for level in chart.levels:
        pen.level(level)
    for order, series in enumerate(chart.series):
        pen.series(series, order)
    above = printable(title, TITLE_LONGEST)
    if not pen.legend(figure, above) and above:
        axes.set_title(above, loc="left", color=palette.ink, pad=8)
    if palette.edge:
        edged(figure, palette.edge)
    return figure


def dressed(axes: Axes, palette: Palette) -> None:
    """Give a pair of axes its grid, frame and colours."""
    axes.set_facecolor("none")
    axes.grid(visible=True, color=palette.grid, linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(palette.rule)
        axes.spines[side].set_linewidth(0.8)
    axes.tick_params(colors=palette.rule, labelcolor=palette.ink, width=0.7, length=3)
    axes.xaxis.label.set_color(palette.soft)
    axes.yaxis.label.set_color(palette.soft)


def edged(figure: Figure, edge: str) -> None:
    """Put a dark edge around texts and lines, so that they read on anything."""
    from matplotlib.lines import Line2D  # noqa: PLC0415
    from matplotlib.patheffects import Normal, Stroke  # noqa: PLC0415
    from matplotlib.text import Text  # noqa: PLC0415

    plain = {
        line
        for axes in figure.axes
        for axis in (axes.xaxis, axes.yaxis)
        for line in (*axis.get_gridlines(), *axis.get_ticklines())
    }
    for artist in figure.findobj(lambda one: isinstance(one, Text | Line2D) and one not in plain):
        more = float(artist.get_linewidth()) + 1.6 if isinstance(artist, Line2D) else 2.2
        artist.set_path_effects([Stroke(linewidth=more, foreground=edge), Normal()])


class _Pen:
    """Draws series and levels into one pair of axes, and remembers what the legend must say."""

    def __init__(
        self,
        axes: Axes,
        palette: Palette,
        *,
        to_x: Converted,
        to_y: Converted,
        y_limits: tuple[float, float],
        heavy: float,
    ) -> None:
        self._axes = axes
        self._palette = palette
        self._to_x = to_x
        self._to_y = to_y
        self._y_limits = y_limits
        self._heavy = heavy
        self.thin = 1.0
        self._told: dict[str, Any] = {}
        self._size_pt = float(axes.xaxis.label.get_fontsize())

    def level(self, level: Level) -> None:
        """Draw a line across or upright, or a strip."""
        palette, axes = self._palette, self._axes
        convert = self._to_x if level.upright else self._to_y
        if level.to is None:
            at = float(convert([level.at])[0])
            if not np.isfinite(at):
                return
            dash: Any = (0, (1.5, 2.5)) if level.faint else (0, (7, 2.5))
            line = axes.axvline if level.upright else axes.axhline
            drawn = line(
                at,
                color=palette.soft,
                linewidth=self._heavy * (0.9 if level.faint else 1.2),
                linestyle=dash,
                zorder=1.6,
            )
            self._tell(level.name, drawn)
            return
        low, high = sorted(convert([level.at, level.to]).tolist())
        if level.upright:
            strip = axes.axvspan(low, high, facecolor=palette.stretch, edgecolor="none", zorder=0.5)
        else:
            strip = axes.axhspan(low, high, facecolor=palette.band, edgecolor="none", zorder=0.4)
        if palette.ground is None:
            strip.set_alpha(0.28)
        self._tell(level.name, strip)

    def series(self, series: Series, order: int) -> None:
        """Draw one series."""
        x = self._to_x(series.x)
        draw_it = {
            Look.POINTS: self._points,
            Look.LINE: self._line,
            Look.BAND: self._band,
            Look.INTERVALS: self._intervals,
            Look.BARS: self._bars,
        }[series.look]
        drawn = draw_it(series, x, 2.0 + 0.01 * order)
        if series.y and series.look in {Look.POINTS, Look.INTERVALS}:
            self._marked(series, x)
        self._tell(series.name, drawn, weak=series.faint)

    def _line(self, series: Series, x: FloatArray, zorder: float) -> Any:
        look = self._palette.of(series.group)
        (line,) = self._axes.plot(
            x,
            self._to_y(series.y),
            color=self._palette.soft if series.faint else look.colour,
            linewidth=self._heavy * (0.8 if series.faint else 1.5 * self.thin),
            linestyle="solid" if series.faint or not look.dash else (0, look.dash),
            alpha=0.6 if series.faint else 1.0,
            solid_joinstyle="round",
            zorder=zorder,
        )
        return line

    def _points(self, series: Series, x: FloatArray, zorder: float) -> Any:
        look = self._palette.of(series.group)
        (points,) = self._axes.plot(
            x,
            self._to_y(series.y),
            linestyle="none",
            marker=look.marker,
            markersize=5.0 * self._heavy**0.5,
            color=self._palette.soft if series.faint else look.colour,
            markeredgecolor=self._palette.ground or self._palette.edge,
            markeredgewidth=0.5,
            zorder=zorder + 0.5,
        )
        return points

    def _band(self, series: Series, x: FloatArray, zorder: float) -> Any:
        look = self._palette.of(series.group)
        return self._axes.fill_between(
            x,
            self._clipped(self._to_y(series.low)),
            self._clipped(self._to_y(series.high)),
            facecolor=look.colour,
            alpha=0.16,
            linewidth=0,
            zorder=zorder - 0.6,
        )

    def _intervals(self, series: Series, x: FloatArray, zorder: float) -> Any:
        look = self._palette.of(series.group)
        if series.low and series.high:
            self._axes.vlines(
                x,
                self._clipped(self._to_y(series.low)),
                self._clipped(self._to_y(series.high)),
                colors=look.colour,
                linewidth=self._heavy * 1.4,
                zorder=zorder + 0.4,
            )
        return self._points(series, x, zorder)

    def _bars(self, series: Series, x: FloatArray, zorder: float) -> Any:
        look = self._palette.of(series.group)
        y = self._to_y(series.y)
        width = 0.62 if len(x) < 2 else 0.62 * float(np.min(np.diff(np.unique(x)), initial=1.0))
        bars = self._axes.bar(
            x,
            np.nan_to_num(y),
            width=width,
            color=look.colour,
            alpha=0.85,
            linewidth=0,
            zorder=zorder,
        )
        if series.low and series.high:
            self._axes.vlines(
                x,
                self._clipped(self._to_y(series.low)),
                self._clipped(self._to_y(series.high)),
                colors=self._palette.ink,
                linewidth=self._heavy * 1.1,
                zorder=zorder + 0.4,
            )
        return bars

    def _clipped(self, values: FloatArray) -> FloatArray:
        """Return ends of intervals that a drawing can hold: one without an end goes to the chart's edge."""
        low, high = self._y_limits
        far = 2.0 * (high - low)
        return np.clip(values, low - far, high + far)

    def _marked(self, series: Series, x: FloatArray) -> None:
        marked = [index for index in series.marked if index < len(x)]
        if not marked:
            return
        y = self._to_y(series.y)
        (rings,) = self._axes.plot(
            x[marked],
            y[marked],
            linestyle="none",
            marker="o",
            markersize=10.5 * self._heavy**0.5,
            markerfacecolor="none",
            markeredgecolor=self._palette.alarm,
            markeredgewidth=1.3 * self._heavy,
            zorder=3.5,
        )
        self._tell(series.marked_as, rings)
        if series.labels and len(marked) <= LABELLED_AT_MOST:
            for index in marked:
                self._axes.annotate(
                    printable(series.labels[index], 40),
                    (float(x[index]), float(y[index])),
                    xytext=(0, 8),
                    textcoords="offset points",
                    ha="center",
                    color=self._palette.soft,
                    fontsize="small",
                    zorder=4,
                )

    def _tell(self, name: str, drawn: Any, *, weak: bool = False) -> None:
        """Note an entry for the legend; of several with one name the strongest is shown."""
        shown = printable(name, LEGEND_LONGEST).strip()
        if shown and not (weak and shown in self._told):
            # The plotting library passes over labels that begin with an underscore.
            self._told[f" {shown}" if shown.startswith("_") else shown] = drawn

    def legend(self, figure: Figure, title: str = "") -> bool:
        """Write the legend above the chart where there is more than one thing in it, under a title.

        Returns: whether there is a legend, and the title with it.
        """
        if len(self._told) < 2:
            return False
        from matplotlib import rcParams  # noqa: PLC0415  (start-up time)

        width_in = float(figure.get_figwidth())
        longest = max(len(name) for name in self._told)
        columns = max(
            1, min(len(self._told), int(72.0 * width_in / (0.56 * self._size_pt * longest + _HANDLE_PT)))
        )
        legend = figure.legend(
            list(self._told.values()),
            list(self._told),
            loc="outside upper left",
            ncols=columns,
            frameon=False,
            handlelength=2.6,
            columnspacing=1.6,
            borderaxespad=0.2,
            labelcolor=self._palette.ink,
            title=title or None,
            title_fontsize=rcParams["axes.titlesize"],
            alignment="left",
        )
        legend.get_title().set_color(self._palette.ink)
        legend.set_in_layout(True)
        return True
