"""What the trainee marked, and the reference beside it, drawn on a plot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pyqtgraph as pg
from PySide6.QtGui import QColor

from benchtemp.window.plot.canvas import Canvas, pen

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme


@dataclass(frozen=True, slots=True)
class Upright:
    """A line at a time.

    Attributes:
        t_s: Where.
        text: What it is.
        own: Whether it is the trainee's; else it is the reference's.
    """

    t_s: float
    text: str
    own: bool


@dataclass(frozen=True, slots=True)
class Level:
    """A line at a temperature, from a time to another.

    Attributes:
        temp: In the unit shown.
        start_s, end_s: From where to where.
        own: Whether it is the trainee's; else it is the reference's.
    """

    temp: float
    start_s: float
    end_s: float
    own: bool


_HEIGHTS = {True: (0.42, 0.34, 0.26), False: (0.2, 0.12, 0.04)}
"""Where the texts stand: the trainee's above, the reference's below, so that they never lie on each other."""
_DASH = (7.0, 4.0)


class AnswerLines:
    """Lines of two kinds: the trainee's are dashed, the reference's are whole."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._items: list[Any] = []
        self._theme: Theme | None = None
        self.uprights: tuple[Upright, ...] = ()
        self.levels: tuple[Level, ...] = ()

    def restyle(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._theme = theme
        self._draw()

    def show(self, uprights: tuple[Upright, ...], levels: tuple[Level, ...] = ()) -> None:
        """Draw these in place of those before."""
        if (uprights, levels) != (self.uprights, self.levels):
            self.uprights, self.levels = uprights, levels
            self._draw()

    def _draw(self) -> None:
        theme = self._theme
        if theme is None:
            return
        for item in self._items:
            self._canvas.removeItem(item)
        self._items = []
        counted = {True: 0, False: 0}
        for line in self.uprights:
            place = _HEIGHTS[line.own][counted[line.own] % 3]
            counted[line.own] += 1
            self._add(self._upright(line, place, theme))
        for level in self.levels:
            item = pg.PlotDataItem([level.start_s, level.end_s], [level.temp, level.temp])
            item.setPen(_pen(theme, own=level.own))
            item.setZValue(8)
            self._add(item)

    def _add(self, item: Any) -> None:
        self._canvas.addItem(item, ignoreBounds=True)
        self._items.append(item)

    @staticmethod
    def _upright(line: Upright, place: float, theme: Theme) -> Any:
        text = f"{line.text}, yours" if line.own else f"{line.text}, reference"
        item = pg.InfiniteLine(
            line.t_s,
            angle=90,
            movable=False,
            pen=_pen(theme, own=line.own),
            label=text,
            labelOpts={"position": place, "anchors": [(0, 0.5), (0, 0.5)], "color": theme.text},
        )
        ground = QColor(theme.surface)
        ground.setAlphaF(0.75)
        item.label.fill = pg.mkBrush(ground)
        item.label.setFont(theme.font(0.95, bold=not line.own))
        item.setZValue(9)
        return item


def _pen(theme: Theme, *, own: bool) -> Any:
    return pen(theme.caution, _DASH, 2.0) if own else pen(theme.good, (), 2.0)
