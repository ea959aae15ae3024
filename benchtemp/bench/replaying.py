"""Replaying: the bench a stream is fed back into."""

from __future__ import annotations

import msgspec

from benchtemp.bench.engine import Bench
from benchtemp.bench.keeping import Keeper
from benchtemp.readings.reading import Stream
from benchtemp.shots.budget import stored_grounds
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.shot import header_entries, stored_correction


def bench_for_replay(stream: Stream, recipe: Recipe | None = None, keeper: Keeper | None = None) -> Bench:
    """Return a bench that starts as the recording did: same recipe, tags, probes.

    Args:
        stream: What will be fed to it.
        recipe: Held to instead of the recording's own.
        keeper: Keeps the shots; nothing is kept where None.
    """
    entries, _ = header_entries(stream.meta)
    if recipe is not None:
        entries = msgspec.structs.replace(entries, recipe=recipe)
    named = str(stream.meta.get("basket_channel", stream.channels[0]))
    basket = stream.channels.index(named) if named in stream.channels else 0
    shot = stream.meta.get("shot")
    number = shot.get("number") if isinstance(shot, dict) else None
    return Bench(
        stream.channels,
        keeper=keeper,
        entries=entries,
        corrections=tuple(stored_correction(stream.meta, channel) for channel in stream.channels),
        grounds=stored_grounds(stream.meta, stream.channels[basket]),
        basket=basket,
        has_weight=stream.weight_g is not None,
        started=stream.started,
        first_number=number if isinstance(number, int) and number > 0 else 1,
    )
