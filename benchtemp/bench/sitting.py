"""Setting up a sitting: a source, the files it is kept in, and the bench between them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import msgspec

from benchtemp.bench.engine import Bench
from benchtemp.bench.keeping import Keeper
from benchtemp.bench.live import LiveBench
from benchtemp.logbook.folder import Logbook
from benchtemp.probes.correction import Correction
from benchtemp.readings.source import Source
from benchtemp.shots.entries import Entries


def start_sitting(
    source: Source,
    *,
    logbook: Logbook | None,
    entries: Entries | None = None,
    machine: str = "",
    corrections: Mapping[str, Correction] | None = None,
    basket_channel: str | None = None,
    scale: Source | None = None,
) -> LiveBench:
    """Return a live bench, not yet started, that keeps what `source` gives.

    Args:
        source: Not yet open.
        logbook: Where recording and shots go; None keeps nothing (a replay for a trainee).
        entries: Recipe and tags to begin with.
        machine: Name of the machine under test.
        corrections: By channel name; a channel without one is shown as reported.
        basket_channel: Which channel's probe sits in the basket; the first where None.
        scale: A second source that gives weights.
    """
    raise NotImplementedError
