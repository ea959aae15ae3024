"""Target band, plateau and marks: what is shaded and lined on the plot. Items are made once and moved."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pyqtgraph as pg
from PySide6.QtGui import QBrush, QColor

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.marks import standing_pump_marks
from benchtemp.window.plot.canvas import Canvas, pen, veil

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme

MARKS_MAX = 40
"""So many marks are lined at most, the latest in view."""
_TOP = 0.96
_BELOW = (0.3, 0.22, 0.14)
"""Heights of texts in the plot: pump on beside the foot of the climb, all others below the plateau."""
_TEXT_MAX = 28
_NAME_ROOM = 1.8
"""So much room, against its own width, the band's name leaves for the ends of curves and their names."""


def _clear(colour: str, alpha: float) -> QColor:
    made = QColor(colour)
    made.setAlphaF(alpha)
    return made


class Shading:
    """The target band across, the plateau upright."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self.band = pg.LinearRegionItem(orientation="horizontal", movable=False)
        self.plateau = pg.LinearRegionItem(orientation="vertical", movable=False)
        self._band_name = pg.TextItem(anchor=(1.0, 0.0))
        self._plateau_name = pg.TextItem(anchor=(0.0, 1.0))
        for depth, item in enumerate((self.band, self.plateau, self._band_name, self._plateau_name)):
            item.setZValue(-20 + depth)
            canvas.addItem(item, ignoreBounds=True)
        self._band: tuple[float, float] | None = None
        self._plateau: tuple[float, float] | None = None
        self._curves_end = float("-inf")
        self._veil = QBrush()
        self._band_name_at: tuple[bool, bool, float, float] | None = None
        self._cross = False
        self.show_plateau(None)

    def restyle(self, theme: Theme, scale: float) -> None:
        """Take a theme's colours; the band has dashed edges, the plateau whole ones."""
        font = theme.font(scale * 0.95)
        for item, colour, alpha, edge in (
            (self.band, theme.band, 0.16, (6.0, 4.0)),
            (self.plateau, theme.plateau, 0.14, ()),
        ):
            item.setBrush(_clear(colour, alpha))
            for line in item.lines:
                line.setPen(pen(colour, edge))
        for name, text in ((self._band_name, "target band"), (self._plateau_name, "plateau")):
            name.setFont(font)
            name.setText(text, color=theme.soft)
        self._veil = veil(theme)
        self._band_name_at = None
        self.let_curves_cross(self._cross)

    def let_curves_cross(self, cross: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Draw the plateau's name so that it can be read where other channels' curves run through it."""
        self._cross = cross
        self._plateau_name.fill = self._veil if cross else QBrush()

    def show_band(self, low: float, high: float) -> None:
        """Shade the target band; temperatures in the unit shown."""
        if self._band != (low, high):
            self._band = (low, high)
            self.band.setRegion((low, high))
            self.place_names()

    def let_band_be_seen(self, seen: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Draw the target band with its name, or neither."""
        self.band.setVisible(seen)
        self._band_name.setVisible(seen)

    def show_plateau(self, span_s: tuple[float, float] | None) -> None:
        """Shade the plateau from a time to another on the axis, or nothing."""
        if span_s == self._plateau and span_s is not None:
            return
        self._plateau = span_s
        self.plateau.setVisible(span_s is not None)
        self._plateau_name.setVisible(span_s is not None)
        if span_s is not None:
            self.plateau.setRegion(span_s)
            self.place_names()

    def keep_clear_of(self, end: float) -> None:
        """Keep the band's name away from the ends of the curves, and their names, at a place in time."""
        if end != self._curves_end:
            self._curves_end = end
            self.place_names()

    def place_names(self) -> None:
        """Put the names where they are in view: the band's at the right, or left where curves end there."""
        (left, right), (low, high) = self._canvas.view.viewRange()
        if self._band:
            size = self._band_name.boundingRect()
            room = size.width() * _NAME_ROOM * (right - left) / max(1.0, self._canvas.view.width())
            at_right = not right - room < self._curves_end <= right
            # A band too narrow for its name has it above, or below where the plot ends above it.
            height = size.height() * (high - low) / max(1.0, self._canvas.view.height())
            within = self._band[1] - self._band[0] >= height
            above = not within and high - self._band[1] >= height
            level = self._band[1] if within or above else self._band[0]
            place = (at_right, within, right if at_right else left, level)
            if place != self._band_name_at:  # asked with every reading, and a text set anew is drawn anew
                self._band_name_at = place
                self._band_name.setAnchor((1.0 if at_right else 0.0, 1.0 if above else 0.0))
                self._band_name.fill = QBrush() if at_right and within else self._veil
                self._band_name.setPos(*place[2:])
        if self._plateau:
            self._plateau_name.setPos(max(left, self._plateau[0]), low)


class MarkLines:
    """Marks as upright lines with their text; lines are kept and used again."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas
        self._lines: list[Any] = []
        self._shown: tuple[tuple[float, str], ...] = ()
        self._key: object = None
        self._theme: Theme | None = None
        self._scale = 1.0

    @property
    def shown(self) -> tuple[tuple[float, str], ...]:
        """Return place on the axis and text of every line in view."""
        return self._shown

    def restyle(self, theme: Theme, scale: float) -> None:
        """Take a theme's colours."""
        self._theme, self._scale = theme, scale
        for line in self._lines:
            self._restyle(line)

    def _restyle(self, line: Any) -> None:
        assert self._theme is not None
        line.setPen(pen(self._theme.mark, (3, 3)))
        line.label.setColor(self._theme.text)
        line.label.setFont(self._theme.font(self._scale * 0.95))
        line.label.fill = veil(self._theme)

    def show(self, marks: tuple[Mark, ...], origin_s: float, start_s: float, end_s: float) -> None:
        """Line the marks from a time to another, counted from `origin_s`."""
        wanted = tuple(
            (mark.t_s - origin_s, _mark_text(mark))
            for mark in worth_a_line(marks)
            if start_s <= mark.t_s - origin_s <= end_s
        )[-MARKS_MAX:]
        key = (wanted, start_s, end_s)
        if key == self._key:
            return
        self._key, self._shown = key, wanted
        while len(self._lines) < len(wanted):
            line = pg.InfiniteLine(
                angle=90,
                movable=False,
                label="",
                labelOpts={"position": 0.96, "anchors": [(0, 0.5), (0, 0.5)]},
            )
            # A text runs to the right, over the lines of later marks.
            line.setZValue(3 - len(self._lines) / MARKS_MAX)
            self._canvas.addItem(line, ignoreBounds=True)
            self._lines.append(line)
            self._restyle(line)
        for index, line in enumerate(self._lines):
            line.setVisible(index < len(wanted))
            if index < len(wanted):
                x_s, text = wanted[index]
                line.setPos(x_s)
                line.label.setFormat(text.replace("{", "(").replace("}", ")"))
                after_s = min((x for x, _ in wanted if x > x_s), default=end_s)
                side = self._side(line, x_s, start_s=start_s, after_s=after_s, end_s=end_s)
                line.label.anchors = [side] * 2
                high = text == str(MarkKind.PUMP_ON)
                line.label.setPosition(_TOP if high else _BELOW[index % len(_BELOW)])

    def _side(
        self, line: Any, x_s: float, *, start_s: float, after_s: float, end_s: float
    ) -> tuple[float, float]:
        """Return the text's anchor: right of the line; left where it would leave the plot or cross the next.

        Args:
            line: With its text.
            x_s: Its place on the axis.
            start_s: The plot's left edge.
            after_s: Place of the next line.
            end_s: The plot's right edge.
        """
        width_s = line.label.boundingRect().width() / max(1.0, self._canvas.view.width()) * (end_s - start_s)
        leaves, crosses = x_s + width_s > end_s, x_s + width_s > after_s
        return (1.0, 0.5) if leaves or (crosses and x_s - width_s >= start_s) else (0.0, 0.5)


def worth_a_line(marks: tuple[Mark, ...]) -> list[Mark]:
    """Return the marks to draw: notes, gaps, tares, and those pump marks that were not taken back."""
    standing = set(map(id, standing_pump_marks(marks)))
    lined = {MarkKind.NOTE, MarkKind.GAP, MarkKind.TARE}
    return [mark for mark in marks if mark.kind in lined or id(mark) in standing]


def _mark_text(mark: Mark) -> str:
    # What was done to a virtual machine is told by a note; here the rest of the note is enough.
    text = mark.text.removeprefix("machine: ") if mark.kind is MarkKind.NOTE else str(mark)
    return text if len(text) <= _TEXT_MAX else text[: _TEXT_MAX - 1] + "…"
