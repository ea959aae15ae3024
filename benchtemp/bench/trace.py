"""The recent readings in memory: append-only, bounded, shared without copying."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from benchtemp.readings.reading import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class TraceView:
    """A window on the readings so far; its arrays are never written to again.

    Attributes:
        t_s: Shape (rows,).
        temps_degc: Corrected °C, shape (rows, channels), NaN where there is none.
        weight_g: Shape (rows,), NaN where there is none.
        first_row: How many rows came before these (they are on disk only).
        reported_degc: °C as reported, before any correction, shape (rows, channels).
    """

    t_s: FloatArray
    temps_degc: FloatArray
    weight_g: FloatArray
    first_row: int = 0
    reported_degc: FloatArray = field(default_factory=lambda: np.empty((0, 0)))

    @property
    def rows_taken(self) -> int:
        """Return how many rows had come in all when this view was taken."""
        return self.first_row + len(self.t_s)

    def reported_since(self, row: int) -> tuple[FloatArray, FloatArray]:
        """Return times and reported °C of the rows from a number (counted from the very first) on."""
        start = max(0, row - self.first_row)
        return self.t_s[start:], self.reported_degc[start:]


class TraceBuffer:
    """Takes rows and gives views of them.

    Rows lie in arrays that are only ever appended to, so a view stays true for as long as somebody holds it.
    When the arrays are full they are replaced by larger ones, up to `rows_max`; from then on the older half
    is let go of, so that memory stays flat however long the bench runs.
    """

    def __init__(self, channel_count: int, rows_max: int = 40_000) -> None:
        self._channel_count = channel_count
        self._rows_max = rows_max
        self._rows = 0
        self._first_row = 0
        self._allocate(min(1024, rows_max))

    def _allocate(self, capacity: int) -> None:
        self._t_s = np.empty(capacity)
        self._reported = np.empty((capacity, self._channel_count))
        self._corrected = np.empty((capacity, self._channel_count))
        self._weight_g = np.empty(capacity)

    def append(
        self, t_s: float, reported: tuple[float, ...], corrected: tuple[float, ...], weight_g: float
    ) -> None:
        """Add a row; an instant without temperatures (a weight alone) gets NaN in every channel."""
        if self._rows == len(self._t_s):
            self._make_room()
        row = self._rows
        self._t_s[row] = t_s
        self._reported[row] = reported or np.nan
        self._corrected[row] = corrected or np.nan
        self._weight_g[row] = weight_g
        self._rows = row + 1

    def _make_room(self) -> None:
        old = (self._t_s, self._reported, self._corrected, self._weight_g)
        keep_from = 0 if self._rows < self._rows_max else self._rows // 2
        kept = self._rows - keep_from
        self._allocate(min(max(2 * kept, 1024), self._rows_max))
        for new_array, old_array in zip(
            (self._t_s, self._reported, self._corrected, self._weight_g), old, strict=True
        ):
            new_array[:kept] = old_array[keep_from : keep_from + kept]
        self._rows = kept
        self._first_row += keep_from

    @property
    def rows_taken(self) -> int:
        """Return how many rows have come in all."""
        return self._first_row + self._rows

    def view(self) -> TraceView:
        """Return everything in memory with corrected temperatures."""
        rows = self._rows
        return TraceView(
            self._t_s[:rows],
            self._corrected[:rows],
            self._weight_g[:rows],
            self._first_row,
            self._reported[:rows],
        )

    def row_at(self, t_s: float) -> int:
        """Return the number (counted from the very first) of the first row in memory not before `t_s`."""
        return self._first_row + int(np.searchsorted(self._t_s[: self._rows], t_s, side="left"))

    def cut(self, first_row: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return copies of times, reported and corrected temperatures and weights from a row number on."""
        start = max(0, first_row - self._first_row)
        stop = self._rows
        return (
            self._t_s[start:stop].copy(),
            self._reported[start:stop].copy(),
            self._corrected[start:stop].copy(),
            self._weight_g[start:stop].copy(),
        )
