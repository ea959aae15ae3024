"""The studies a report is asked for, by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Stream
from benchtemp.reports.tested import Tested
from benchtemp.studies.evidence.gathering import recordings_of
from benchtemp.studies.evidence.traces import aligned_traces
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


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the questions are about.

    Attributes:
        target_degc: Brew temperature wanted.
        idle_min: Idle time that the routine answers for.
        by: What tells the groups of a comparison apart: machine, date, any tag.
        channel: Which channel watches boiler or group.
    """

    target_degc: float = 93.0
    idle_min: float = 10.0
    by: str = "machine"
    channel: str = "T2"


def answers(asked: Sequence[Asked], tested: Tested, wanted: Wanted | None = None) -> tuple[Study, ...]:
    """Return the studies asked for, in that order.

    Args:
        asked: Their names; each is done once.
        tested: The shots.
        wanted: What they are about.

    Raises:
        BadInput: A study cannot be done with these shots.
    """
    about = wanted or Wanted()
    return tuple(_STUDIES[name](tested, about) for name in dict.fromkeys(asked))


def _steadiness(tested: Tested, _: Wanted) -> Study:
    from benchtemp.studies.steadiness import steadiness  # noqa: PLC0415  (start-up time, here and below)

    return steadiness(tested.shot_set)


def _setpoint(tested: Tested, wanted: Wanted) -> Study:
    from benchtemp.studies.setpoint import setpoint  # noqa: PLC0415

    return setpoint(tested.shot_set, target_degc=wanted.target_degc)


def _routine(tested: Tested, wanted: Wanted) -> Study:
    from benchtemp.studies.routine import routine  # noqa: PLC0415

    return routine(tested.shot_set, idle_min=wanted.idle_min, target_degc=wanted.target_degc)


def _warm_up(tested: Tested, _: Wanted) -> Study:
    from benchtemp.studies.warm_up import warm_up  # noqa: PLC0415

    return warm_up(tested.shot_set)


def _cycle(tested: Tested, wanted: Wanted) -> Study:
    from benchtemp.studies.cycle import heating_cycle  # noqa: PLC0415

    channel = wanted.channel
    recordings = {name: stream for name, stream in _recordings(tested).items() if channel in stream.channels}
    if not recordings:
        raise BadInput(
            f"None of the recordings meant has a channel {channel}; put a probe at the boiler or the "
            "group and record it beside the basket's, or name another channel."
        )
    shots = tested.shot_set.keeping(
        lambda shot: shot.recording in recordings, f"its recording has no channel {channel}"
    )
    return heating_cycle(recordings, channel, shots, target_degc=wanted.target_degc)


def _comparison(tested: Tested, wanted: Wanted) -> Study:
    from benchtemp.studies.comparison import comparison  # noqa: PLC0415

    traces = aligned_traces(tested.shot_set.used, tested.streams)
    return comparison(tested.shot_set, wanted.by, traces=traces)


def _testers(tested: Tested, _: Wanted) -> Study:
    from benchtemp.studies.repeatability import repeatability  # noqa: PLC0415

    return repeatability(tested.shot_set)


def _recordings(tested: Tested) -> dict[str, Stream]:
    """Return the recordings read, and those in the logbook that shot files were cut from."""
    found = dict(tested.streams)
    if tested.logbook is not None:
        names = [one.record.recording for one in tested.shots if one.record.recording not in found]
        found |= recordings_of(tested.logbook, names)
    return found


_STUDIES: dict[Asked, Callable[[Tested, Wanted], Study]] = {
    Asked.STEADINESS: _steadiness,
    Asked.SETPOINT: _setpoint,
    Asked.ROUTINE: _routine,
    Asked.WARM_UP: _warm_up,
    Asked.CYCLE: _cycle,
    Asked.COMPARISON: _comparison,
    Asked.TESTERS: _testers,
}
