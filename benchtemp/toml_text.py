"""Reading TOML that anyone may have written: what would take a parser for ever is refused first."""

from __future__ import annotations

import re
import tomllib
from typing import Any

PARTS_MAX = 32
"""Parts of one dotted name. Many cost a parser the square of their number; ours have three at most."""

_BEGINS = re.compile(r"\"\"\"|'''|\"|'|#")
_ENDS = {
    '"""': re.compile(r'\\.|"{3,5}', re.DOTALL),
    "'''": re.compile(r"'{3,5}"),
    '"': re.compile(r'\\.|"|\n', re.DOTALL),
    "'": re.compile(r"'|\n"),
    "#": re.compile(r"\n"),
}
"""By what a text or a comment begins with: what ends it, or is escaped and does not."""
_IN_NO_NAME = re.compile(r"[^\w.\- \t]")


def parse_toml(content: bytes) -> dict[str, Any]:
    """Return what a TOML file says.

    Only names are bounded: any text may stand in a value, so that whatever was written is read again.

    Args:
        content: UTF-8, of a size its reader has bounded.

    Raises:
        ValueError: It is no UTF-8, no TOML, nested too deeply, or has a name of far too many parts.
    """
    text = content.decode("utf-8-sig").replace("\r\n", "\n")
    if any(run.count(".") >= PARTS_MAX for run in _IN_NO_NAME.split(_without_texts(text))):
        raise ValueError(f"it has a name of more than {PARTS_MAX} parts")
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise ValueError("it is nested too deeply") from error


def _without_texts(toml: str) -> str:
    """Return what stands outside of texts and comments, as far as the first text that never ends."""
    bare = []
    at = 0
    while (begins := _BEGINS.search(toml, at)) is not None:
        bare.append(toml[at : begins.start()])
        ends = (found for found in _ENDS[begins[0]].finditer(toml, begins.end()) if found[0][0] != "\\")
        end = next(ends, None)
        if end is None:
            return "".join(bare)
        at = end.end() - (end[0] == "\n")
    return "".join((*bare, toml[at:]))
