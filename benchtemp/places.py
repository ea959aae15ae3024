"""Where things lie on this computer: what we ship, what the user keeps, what we remember."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

_PACKAGE = Path(__file__).parent


def _shipped(name: str) -> Path:
    """Return a folder that ships with the program: inside an installed wheel, or beside the package."""
    installed = _PACKAGE / "_shipped" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name


def resources_dir() -> Path:
    """Return the folder of ready-made layouts and other files we ship."""
    return _shipped("resources")


def demo_streams_dir() -> Path:
    """Return the folder of ready-made demo recordings."""
    return _shipped("demo_streams")


def default_logbook_dir() -> Path:
    """Return the logbook folder used when none is named; `BENCHTEMP_LOGBOOK` overrides it."""
    named = os.environ.get("BENCHTEMP_LOGBOOK")
    return Path(named) if named else Path(platformdirs.user_documents_dir()) / "benchtemp logbook"


def preferences_dir() -> Path:
    """Return the folder of the user's choices; `BENCHTEMP_PREFERENCES` overrides it (tests use that)."""
    named = os.environ.get("BENCHTEMP_PREFERENCES")
    return Path(named) if named else Path(platformdirs.user_config_dir("benchtemp", appauthor=False))


def cache_dir() -> Path:
    """Return the folder of what can always be made again; `BENCHTEMP_CACHE` overrides it."""
    named = os.environ.get("BENCHTEMP_CACHE")
    return Path(named) if named else Path(platformdirs.user_cache_dir("benchtemp", appauthor=False))
