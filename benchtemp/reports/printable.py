"""Texts that people typed, made fit to be shown: no control characters, nothing that turns writing round."""

from __future__ import annotations

LONGEST = 4000
"""Characters; nobody means a longer note to be read in a document."""
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
_HARMLESS = (
    "\N{ZERO WIDTH JOINER}\N{ZERO WIDTH NON-JOINER}"
    "\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}\N{IDEOGRAPHIC SPACE}"
)


def printable(text: str, longest: int = LONGEST) -> str:
    """Return a text on one line with everything that cannot be printed replaced, cut where it is too long.

    Direction overrides, control characters and halves of surrogate pairs become a replacement character: a
    file's name must read as it is, and no document format takes them all.

    >>> printable("cup" + chr(9) + "changed" + chr(0))
    'cup changed\N{REPLACEMENT CHARACTER}'
    """
    kept = "".join(
        " " if char in "\t\n\r" else char if char.isprintable() or char in _HARMLESS else REPLACEMENT
        for char in text[: longest + 1]
    )
    return kept if len(kept) <= longest else f"{kept[: longest - 1].rstrip()}…"
