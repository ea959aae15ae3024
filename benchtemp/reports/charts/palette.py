"""Colours of charts and documents, light and dark.

Series use the colours of Okabe and Ito (Color Universal Design, 2008), some shifted for contrast with the
ground; each series also has a dash pattern and a marker of its own, so that colour is never alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class PictureLook(StrEnum):
    """On what a picture is to stand."""

    LIGHT = "light"
    DARK = "dark"
    TRANSPARENT = "transparent"
    """No ground; light lines with a dark edge, to lie over a film."""


@dataclass(frozen=True, slots=True)
class SeriesLook:
    """How one series is drawn.

    Attributes:
        colour: `#rrggbb`.
        dash: Lengths on and off in points; empty for a whole line.
        marker: Matplotlib's letter.
    """

    colour: str
    dash: tuple[float, ...]
    marker: str


@dataclass(frozen=True, slots=True)
class Palette:
    """All colours of one look, `#rrggbb` and no two alike, so that each can be told by its value.

    Attributes:
        ground: Behind everything; None for nothing there.
        ink, soft: Texts, and quieter texts with lines across a chart.
        grid, rule: Lines of a chart's grid, and of its frame.
        band: Strips across, such as the target band.
        stretch: Strips upright, such as the plateau.
        alarm: Rings around points that stand out.
        series: By number of the group.
        edge: Drawn around lines and texts where there is no ground; None for nothing.
    """

    ground: str | None
    ink: str
    soft: str
    grid: str
    rule: str
    band: str
    stretch: str
    alarm: str
    series: tuple[SeriesLook, ...]
    edge: str | None = None

    def of(self, group: int) -> SeriesLook:
        """Return the look of a group of series."""
        return self.series[group % len(self.series)]

    def named(self) -> dict[str, str]:
        """Return all colours by their names."""
        names = ("ink", "soft", "grid", "rule", "band", "stretch", "alarm")
        found = {name: str(getattr(self, name)) for name in names}
        return found | {f"series-{number}": look.colour for number, look in enumerate(self.series)}


_DASHES: tuple[tuple[float, ...], ...] = (
    (),
    (6, 2.5),
    (1.5, 1.8),
    (6, 2, 1.5, 2),
    (10, 3),
    (3, 3),
    (6, 2, 1.5, 2, 1.5, 2),
    (1, 4),
)
_MARKERS = "os^Dv<>p"


def _series(*colours: str) -> tuple[SeriesLook, ...]:
    return tuple(
        SeriesLook(colour, dash, marker)
        for colour, dash, marker in zip(colours, _DASHES, _MARKERS, strict=True)
    )


LIGHT = Palette(
    ground="#ffffff",
    ink="#171b1e",
    soft="#525c62",
    grid="#d3dadc",
    rule="#9aa4a9",
    band="#d8eee6",
    stretch="#dfe9f4",
    alarm="#b03a00",
    series=_series("#0072b2", "#d55e00", "#009e73", "#a9548a", "#a87600", "#2f3437", "#3a97cf", "#7c868c"),
)
DARK = Palette(
    ground="#16191b",
    ink="#eef1f2",
    soft="#aab4ba",
    grid="#343b40",
    rule="#66717a",
    band="#173a31",
    stretch="#1d3148",
    alarm="#ff9d5c",
    series=_series("#56b4e9", "#ee8434", "#2fc59a", "#dd94bb", "#e69f00", "#fbfcfc", "#8fd0f5", "#96a1a8"),
)
TRANSPARENT = Palette(
    ground=None,
    ink="#ffffff",
    soft="#e4e8ea",
    grid="#aeb6ba",
    rule="#d3d8da",
    band="#2fc5a0",
    stretch="#7fb8ea",
    alarm="#ffb27a",
    series=_series("#6fc3f2", "#ff9a4d", "#35d3a6", "#f0a8cd", "#ffb92e", "#fafafa", "#a5dcfa", "#c3cbd0"),
    edge="#101315",
)
PALETTES = {PictureLook.LIGHT: LIGHT, PictureLook.DARK: DARK, PictureLook.TRANSPARENT: TRANSPARENT}
