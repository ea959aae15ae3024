"""Drawing the pictures of a film: what never changes once, what moves for every picture anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from benchtemp.reports.charts.axes import converted, set_up_axis
from benchtemp.reports.charts.drawing import drawing_rules, dressed, edged
from benchtemp.reports.charts.palette import PALETTES, Palette, PictureLook
from benchtemp.reports.charts.size import dots_per_inch, size_in_inches
from benchtemp.reports.film.moments import Moment
from benchtemp.reports.printable import printable
from benchtemp.studies.chart import Axis, Quantity
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Picture = npt.NDArray[np.uint8]
"""Shape (height, width, 4): red, green, blue, opacity; colours are not weighed with opacity."""

TEXT_PT = 9.0
_BIG, _SMALL = 2.6, 0.95


@dataclass(frozen=True, slots=True)
class Stage:
    """What stands still in a film.

    Attributes:
        size_px: Width and height.
        look: On what it is to stand.
        unit: Shown.
        x_s: From where to where time goes, since pump on.
        y_degc: The same for temperature.
        band_degc: The target band.
        title: Below the figures; empty for none.
    """

    size_px: tuple[int, int]
    look: PictureLook
    unit: TempUnit
    x_s: tuple[float, float]
    y_degc: tuple[float, float]
    band_degc: tuple[float, float]
    title: str = ""


class Artist:
    """Draws one picture after the other; make it and use it under `drawing_rules`."""

    def __init__(self, stage: Stage) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415  (start-up time)
        from matplotlib.figure import Figure  # noqa: PLC0415

        self._stage = stage
        self._palette: Palette = PALETTES[stage.look]
        self._figure: Figure = Figure(figsize=size_in_inches(stage.size_px), dpi=dots_per_inch(stage.size_px))
        self._figure.set_facecolor(self._palette.ground or "none")
        # Typed as anything: the library says nothing of what its canvas gives.
        canvas: Any = FigureCanvasAgg
        self._canvas: Any = canvas(self._figure)
        self._axes: Axes = self._figure.add_axes((0.085, 0.12, 0.885, 0.66))
        self._moving: list[Any] = []
        self._still()
        self._make_moving()
        if self._palette.edge:
            edged(self._figure, self._palette.edge)
        for artist in self._moving:
            artist.set_animated(True)
        self._canvas.draw()
        self._ground = self._canvas.copy_from_bbox(self._figure.bbox)

    def _still(self) -> None:
        stage, axes, palette = self._stage, self._axes, self._palette
        dressed(axes, palette)
        to_y = converted(Quantity.TEMP_DEGC, stage.unit)
        x_axis = Axis(quantity=Quantity.TIME_S, title="time since pump on")
        y_axis = Axis(quantity=Quantity.TEMP_DEGC, title="temperature")
        low, high = to_y(stage.y_degc).tolist()
        set_up_axis(axes, x_axis, stage.unit, upright=False, limits=stage.x_s)
        set_up_axis(axes, y_axis, stage.unit, upright=True, limits=(low, high))
        band = to_y(stage.band_degc).tolist()
        strip = axes.axhspan(band[0], band[1], facecolor=palette.band, edgecolor="none", zorder=0.4)
        if palette.ground is None:
            strip.set_alpha(0.3)
        if stage.title:
            self._text(0.97, 0.955, size=_SMALL, soft=True, right=True).set_text(printable(stage.title, 70))
        for x, label in ((0.03, "temperature"), (0.32, "pump"), (0.56, "brew temperature")):
            self._text(x, 0.955, size=_SMALL, soft=True).set_text(label)

    def _make_moving(self) -> None:
        axes, palette = self._axes, self._palette
        look = palette.of(0)
        self._plateau = axes.axvspan(0, 0, facecolor=palette.stretch, edgecolor="none", zorder=0.5)
        if palette.ground is None:
            self._plateau.set_alpha(0.3)
        dash: Any = (0, (1.5, 2.5))
        self._pump_on = axes.axvline(0, color=palette.soft, linewidth=1.1, linestyle=dash, zorder=1.6)
        self._pump_off = axes.axvline(0, color=palette.soft, linewidth=1.1, linestyle=dash, zorder=1.6)
        (self._line,) = axes.plot([], [], color=look.colour, linewidth=2.0, solid_joinstyle="round", zorder=2)
        (self._dot,) = axes.plot(
            [], [], color=look.colour, marker="o", markersize=6.5, linestyle="none", zorder=3
        )
        self._temp = self._text(0.03, 0.865, size=_BIG, bold=True)
        self._pump = self._text(0.32, 0.865, size=_BIG)
        self._brew = self._text(0.56, 0.865, size=_BIG)
        self._note = self._text(0.97, 0.80, size=1.1, right=True)
        self._moving += [self._plateau, self._pump_on, self._pump_off, self._line, self._dot]
        self._moving += [self._temp, self._pump, self._brew, self._note]

    def _text(
        self, x: float, y: float, *, size: float, bold: bool = False, soft: bool = False, right: bool = False
    ) -> Any:
        return self._figure.text(
            x,
            y,
            "",
            fontsize=TEXT_PT * size,
            fontweight="bold" if bold else "normal",
            color=self._palette.soft if soft else self._palette.ink,
            ha="right" if right else "left",
            va="center",
        )

    def picture(self, moment: Moment) -> Picture:
        """Return the picture of one moment."""
        self._set(moment)
        self._canvas.restore_region(self._ground)
        for artist in self._moving:
            (self._figure if artist.axes is None else self._axes).draw_artist(artist)
        return np.array(self._canvas.buffer_rgba(), dtype=np.uint8)

    def _set(self, moment: Moment) -> None:
        unit = self._stage.unit
        degc = converted(Quantity.TEMP_DEGC, unit)(moment.trace_degc.tolist())
        self._line.set_data(moment.trace_s, degc)
        self._dot.set_data(moment.trace_s[-1:], degc[-1:])
        started = moment.pump_s is not None
        self._pump_on.set_visible(started)
        off_s = moment.pump_s if moment.is_final else None
        self._pump_off.set_visible(off_s is not None)
        if off_s is not None:
            self._pump_off.set_xdata([off_s, off_s])
        self._plateau.set_visible(moment.plateau_s is not None)
        if moment.plateau_s is not None:
            end_s = moment.t_s if moment.plateau_end_s is None else moment.plateau_end_s
            self._plateau.set_bounds(moment.plateau_s, 0, max(end_s - moment.plateau_s, 0.0), 1)
        self._temp.set_text(_temp(moment.temp_degc, unit))
        self._pump.set_text("—" if moment.pump_s is None else f"{moment.pump_s:.1f} s")
        self._brew.set_text(_brew(moment, unit))
        self._note.set_text(printable(moment.note, 70))


def _temp(value_degc: float, unit: TempUnit) -> str:
    if not isfinite(value_degc):
        return f"— {unit.symbol}"
    return f"{degc_to(value_degc, unit):.1f} {unit.symbol}".replace("-", MINUS)


def _brew(moment: Moment, unit: TempUnit) -> str:
    if moment.brew_degc is None:
        return "—"
    told = f"{degc_to(moment.brew_degc, unit):.1f}"
    if moment.expanded_k is not None:
        told += f" ± {delta_to(moment.expanded_k, unit):.1f}"
    return f"{told} {unit.symbol}".replace("-", MINUS)


def pictures(stage: Stage, shown: Iterator[Moment]) -> Iterator[Picture]:
    """Give the pictures of a film in order."""
    with drawing_rules(TEXT_PT):
        artist = Artist(stage)
        for moment in shown:
            yield artist.picture(moment)
