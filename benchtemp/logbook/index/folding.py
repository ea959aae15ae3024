"""Texts made alike for searching: case, accents and width do not matter."""

from __future__ import annotations

import re
import unicodedata

NEEDLES_MAX = 20
_NEEDLES = re.compile(r'"([^"]*)"?|(\S+)')


def folded(text: str) -> str:
    """Return `text` as it is compared: without case, accents or width, one space between words.

    >>> folded("Café  KESTREL")
    'cafe kestrel'
    """
    if not text.isascii():
        parts = unicodedata.normalize("NFKD", text.casefold())
        text = "".join(char for char in parts if not unicodedata.combining(char))
        text = text.encode("utf-8", "replace").decode("utf-8")
    return " ".join(text.replace("\0", " ").casefold().split())


def needles(text: str) -> tuple[str, ...]:
    """Return what a typed search looks for: its words, and phrases in double quotes as a whole.

    >>> needles('Kestrel "house blend" #2')
    ('kestrel', 'house blend', '#2')
    """
    found = (folded(phrase or word) for phrase, word in _NEEDLES.findall(text[:2000]))
    return tuple(dict.fromkeys(needle for needle in found if needle))[:NEEDLES_MAX]
