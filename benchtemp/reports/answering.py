"""The studies by name: what each answers, what it needs to be told, and how it is done."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING

import msgspec

from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from benchtemp.readings.reading import Stream
    from benchtemp.reports.tested import Tested
    from benchtemp.studies.evidence.shot_set import ShotSet
    from benchtemp.studies.outcome import Study


class Asked(StrEnum):
    """What can be asked of shots."""

    STEADINESS = "steadiness"
    SETPOINT = "setpoint"
    ROUTINE = "routine"
    WARM_UP = "warm-up"
    CYCLE = "cycle"
    COMPARISON = "comparison"
    TESTERS = "testers"

    @property
    def question(self) -> str:
        """Return what it answers."""
        return {
            Asked.STEADINESS: "How alike are shots, one after another and within each?",
            Asked.SETPOINT: "What does the machine brew at for what its display says?",
            Asked.ROUTINE: "What do idle time and flush do, and how much must be flushed?",
            Asked.WARM_UP: "From when on after switching on does it brew as it will all day?",
            Asked.CYCLE: "How does the thermostat swing, and when in it is best to start?",
            Asked.COMPARISON: "Do machines, settings or days differ, and by how much?",
            Asked.TESTERS: "How much of the scatter comes from who, or which probe, measured?",
        }[self]

    @property
    def heading(self) -> str:
        """Return its name for a choice."""
        return "Heating cycle" if self is Asked.CYCLE else self.value.capitalize()


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the questions are about.

    Attributes:
        target_degc: Brew temperature wanted (setpoint, routine, heating cycle).
        idle_min: Idle time that the routine answers for.
        by: What tells the groups of a comparison apart: machine, date, any tag.
        matters_k: Smallest difference that matters in a comparison.
        channel: Which channel watches boiler or group (heating cycle).
        within_k: How close counts as settled (warm-up).
        settling_channel: Channel whose own warm-up is wanted; empty for that of the shots.
        check_days: After how many days a probe's check counts as old; as the shots come where None.
    """

    target_degc: float = 93.0
    idle_min: float = 10.0
    by: str = "machine"
    matters_k: float = 0.5
    channel: str = "T2"
    within_k: float = 0.5
    settling_channel: str = ""
    check_days: float | None = None


Recordings = Callable[[], Mapping[str, "Stream"]]
"""Reads the recordings that shots were cut from, by file name; called only by studies that need them."""


def answer(
    asked: Asked,
    shots: ShotSet,
    wanted: Wanted | None = None,
    *,
    recordings: Recordings | None = None,
    streams: Mapping[str, Stream] | None = None,
) -> Study:
    """Return one study.

    Args:
        asked: Which.
        shots: Those that are meant.
        wanted: What it is about.
        recordings: Where the studies that watch a channel find it; none where there are no recordings.
        streams: Recordings in memory that shots without files of their own were cut from.

    Raises:
        BadInput: It cannot be done with these shots, and what is missing.
    """
    about = wanted or Wanted()
    if about.check_days is not None:
        shots = msgspec.structs.replace(shots, check_days=about.check_days)
    match asked:
        case Asked.STEADINESS:
            from benchtemp.studies.steadiness import steadiness  # noqa: PLC0415 - start-up time, as below

            return steadiness(shots)
        case Asked.SETPOINT:
            from benchtemp.studies.setpoint import setpoint  # noqa: PLC0415

            return setpoint(shots, target_degc=about.target_degc)
        case Asked.ROUTINE:
            from benchtemp.studies.routine import routine  # noqa: PLC0415

            return routine(shots, idle_min=about.idle_min, target_degc=about.target_degc)
        case Asked.WARM_UP:
            return _warm_up(shots, about, recordings)
        case Asked.CYCLE:
            return _cycle(shots, about, recordings)
        case Asked.COMPARISON:
            from benchtemp.studies.comparison import comparison  # noqa: PLC0415
            from benchtemp.studies.evidence.traces import aligned_traces  # noqa: PLC0415

            traces = aligned_traces(shots.used, streams)
            return comparison(shots, about.by, traces=traces, matters_k=about.matters_k)
        case Asked.TESTERS:
            from benchtemp.studies.repeatability import repeatability  # noqa: PLC0415

            return repeatability(shots)


def answers(asked: Sequence[Asked], tested: Tested, wanted: Wanted | None = None) -> tuple[Study, ...]:
    """Return the studies asked for, in that order.

    Args:
        asked: Their names; each is done once.
        tested: The shots.
        wanted: What they are about.

    Raises:
        BadInput: A study cannot be done with these shots.
    """
    recordings = partial(_recordings, tested)
    return tuple(
        answer(name, tested.shot_set, wanted, recordings=recordings, streams=tested.streams)
        for name in dict.fromkeys(asked)
    )


def _recordings(tested: Tested) -> dict[str, Stream]:
    """Return the recordings read, and those in the logbook that shot files were cut from."""
    from benchtemp.studies.evidence.gathering import recordings_of  # noqa: PLC0415

    found = dict(tested.streams)
    if tested.logbook is not None:
        names = [one.record.recording for one in tested.shots if one.record.recording not in found]
        found |= recordings_of(tested.logbook, names)
    return found


def _watching(channel: str, recordings: Recordings | None) -> dict[str, Stream]:
    """Return the recordings that have a channel."""
    found = recordings() if recordings is not None else {}
    watching = {name: stream for name, stream in found.items() if channel in stream.channels}
    if not watching:
        raise BadInput(
            f"None of the recordings meant has a channel {channel}; put a probe at the boiler or the group "
            "and record it beside the basket's, or choose other shots or another channel."
        )
    return watching


def _warm_up(shots: ShotSet, about: Wanted, recordings: Recordings | None) -> Study:
    from benchtemp.studies.warm_up import warm_up, warm_up_channel  # noqa: PLC0415

    channel = about.settling_channel
    if not channel:
        return warm_up(shots, within_k=about.within_k)
    watching = _watching(channel, recordings)
    if len(watching) > 1:
        raise BadInput(
            f"A channel's warm-up is read from one recording, and {len(watching)} of those have a channel "
            f"{channel}; choose the recording, or the plan or the day it belongs to."
        )
    (stream,) = watching.values()
    return warm_up_channel(stream, channel, within_k=about.within_k)


def _cycle(shots: ShotSet, about: Wanted, recordings: Recordings | None) -> Study:
    from benchtemp.studies.cycle import heating_cycle  # noqa: PLC0415

    watching = _watching(about.channel, recordings)
    kept = shots.keeping(
        lambda shot: shot.recording in watching, f"its recording has no channel {about.channel}"
    )
    return heating_cycle(watching, about.channel, kept, target_degc=about.target_degc)
