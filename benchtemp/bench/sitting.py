"""Setting up a sitting: a source, the files it is kept in, and the bench between them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import msgspec

from benchtemp import __version__
from benchtemp.bench.engine import Bench
from benchtemp.bench.keeping import Keeper, channel_headers
from benchtemp.bench.live import LiveBench
from benchtemp.bench.plugged import ProbeChoice, plugged_probes
from benchtemp.bench.replaying import bench_for_replay
from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.preferences import without_none
from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.source import Source
from benchtemp.shots.budget import stored_grounds
from benchtemp.shots.entries import Entries
from benchtemp.shots.shot import stored_correction


def start_sitting(
    source: Source,
    *,
    logbook: Logbook | None,
    entries: Entries | None = None,
    machine: str = "",
    probes: ProbeChoice | None = None,
    basket_channel: str | None = None,
    scale: Source | None = None,
    recording_path: Path | None = None,
) -> LiveBench:
    """Return a live bench, not yet started, that keeps what `source` gives.

    Args:
        source: Not yet open.
        logbook: Where recording and shots go; None keeps nothing. A replay is never recorded again.
        entries: Recipe and tags to begin with; a replay without them begins with the recording's own.
        machine: Name of the machine under test.
        probes: Which probe is on which channel; a channel without one is shown as reported.
        basket_channel: Which channel's probe sits in the basket; the first where None.
        scale: A second source that gives weights.
        recording_path: Where the recording goes instead of into the logbook.
    """
    if isinstance(source, ReplaySource):
        stream = source.stream
        recipe = entries.recipe if entries else None
        return LiveBench(source, lambda _opened: bench_for_replay(stream, recipe))
    kept: list[Keeper] = []

    def build(opened: Source) -> Bench:
        bench, keeper = _bench_for(
            opened,
            logbook=logbook,
            entries=entries or Entries(),
            machine=machine,
            probes=probes or ProbeChoice(),
            basket_channel=basket_channel,
            scale=scale,
            recording_path=recording_path,
        )
        if keeper:
            kept.append(keeper)
        return bench

    def close() -> None:
        for keeper in kept:
            keeper.close()

    return LiveBench(source, build, scale=scale, on_close=close)


def _bench_for(
    source: Source,
    *,
    logbook: Logbook | None,
    entries: Entries,
    machine: str,
    probes: ProbeChoice,
    basket_channel: str | None,
    scale: Source | None,
    recording_path: Path | None,
) -> tuple[Bench, Keeper | None]:
    channels = source.channels
    if basket_channel is not None and basket_channel not in channels:
        raise BadInput(f"The source has no channel {basket_channel}; it has {', '.join(channels)}.")
    basket = channels.index(basket_channel) if basket_channel else 0
    started = dt.datetime.now().astimezone() - dt.timedelta(seconds=source.now_s())
    has_weight = source.has_weight or scale is not None
    moment = started.isoformat(timespec="milliseconds")
    plugged = plugged_probes(probes, channels, source.details, logbook, moment)
    header: dict[str, Any] = {
        "kind": "recording",
        "format_version": 1,
        "program": f"benchtemp {__version__}",
        "started": moment,
        "source": dict(source.details),
        "channels": channel_headers(channels, plugged.notes, source.details),
        "basket_channel": channels[basket],
        "machine": machine,
        "recipe": msgspec.to_builtins(entries.recipe),
        "tags": dict(entries.tags),
        "uncertainty": without_none(msgspec.to_builtins(probes.estimates)),
    }
    keeper = None
    if logbook is not None:
        if scale is not None:
            header["scale"] = dict(scale.details)
        recorder = logbook.new_recording(
            channels=channels, has_weight=has_weight, meta=header, path=recording_path
        )
        keeper = Keeper(logbook, recorder, header)
    bench = Bench(
        channels,
        keeper=keeper,
        entries=entries,
        # Read back from the header, as a replay will: so that both see the very same.
        corrections=tuple(stored_correction(header, name) for name in channels) if plugged.notes else (),
        grounds=stored_grounds(header, channels[basket]),
        check_warnings=plugged.warnings,
        basket=basket,
        has_weight=has_weight,
        started=started,
    )
    return bench, keeper
