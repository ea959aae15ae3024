"""Reading TOML that anyone may have written: what would take a parser for ever is refused first."""

from __future__ import annotations

import tomllib
from typing import Any

DOTS_MAX = 1000
"""In one line; a name of very many parts costs a parser the square of their number, and ours have few."""


def parse_toml(content: bytes) -> dict[str, Any]:
    """Return what a TOML file says.

    Args:
        content: UTF-8, of a size its reader has bounded.

    Raises:
        ValueError: It is no TOML, nested too deeply, or has names of far too many parts.
    """
    if any(line.count(b".") > DOTS_MAX for line in content.splitlines()):
        raise ValueError("it has a line with far too many dots")
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except RecursionError as error:
        raise ValueError("it is nested too deeply") from error
