"""Sizes of pictures in pixels."""

from __future__ import annotations

import re

from benchtemp.errors import BadInput

SMALLEST_PX, LARGEST_PX = 120, 8192
MOST_PIXELS = 40_000_000
_SIZE = re.compile(r"(\d{1,5})\s*[x×]\s*(\d{1,5})")


def size_from(text: str) -> tuple[int, int]:
    """Return width and height in pixels from a text such as `1600x900`.

    Raises:
        BadInput: It is no size, or one no picture can have.
    """
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise BadInput(f"'{text}' is no size; write width and height in pixels, such as 1600x900.")
    size_px = int(found[1]), int(found[2])
    check_size(size_px)
    return size_px


def check_size(size_px: tuple[int, int]) -> None:
    """Check a size in pixels.

    Raises:
        BadInput: It is too small or too large.
    """
    width, height = size_px
    if not all(SMALLEST_PX <= side <= LARGEST_PX for side in size_px) or width * height > MOST_PIXELS:
        raise BadInput(
            f"A picture of {width}×{height} pixels cannot be made; each side must be {SMALLEST_PX} to "
            f"{LARGEST_PX}, and both together at most {MOST_PIXELS // 1_000_000} million pixels."
        )


def dots_per_inch(size_px: tuple[int, int]) -> float:
    """Return the dots to an inch at which texts have the same share of any picture's size."""
    return float((size_px[0] * size_px[1]) ** 0.5) / 6.0


def size_in_inches(size_px: tuple[int, int]) -> tuple[float, float]:
    """Return a size in inches at those dots, and a little more, so that rounding down meets it."""
    dpi = dots_per_inch(size_px)
    return (size_px[0] + 0.01) / dpi, (size_px[1] + 0.01) / dpi
