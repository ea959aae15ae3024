"""What an operator does, step by step: plain values, for recordings without an operator."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from benchtemp.errors import BadInput

_LOCKED_IN_S = 12.0
"""How long before pump on the portafilter is locked in (our choice)."""
_OUT_S = 10.0
"""How long the portafilter is out for knocking out, dosing and tamping (our choice)."""
_REST_S = 9.0
"""How long it stays in the group after a shot, until the last drops have fallen (our choice)."""
_RINSED_S = 8.0
"""How long it is out before it is locked in again, empty, to keep warm (our choice)."""
WEIGHED_AFTER_S = 7.0
"""How long after pump off the cup is weighed; a shot's step lasts until then (our choice)."""


class Step(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """One step."""


class Wait(Step, frozen=True, kw_only=True):
    """Let time pass."""

    seconds: float


class WaitSinceShot(Step, frozen=True, kw_only=True):
    """Let time pass until so long after the last shot's pump on; before the first, since the beginning."""

    seconds: float


class WaitForHeater(Step, frozen=True, kw_only=True):
    """Let time pass until the heater next goes on or off, two hours at most."""

    on: bool


class KnockOut(Step, frozen=True, kw_only=True):
    """Take the portafilter out and empty it."""


class LockIn(Step, frozen=True, kw_only=True):
    """Lock in a fresh dose; 0 g for an empty basket."""

    dose_g: float = 18.0


class Shot(Step, frozen=True, kw_only=True):
    """Pump on, and off after a time or, sooner, when the cup nears a yield; then the cup is weighed."""

    seconds: float = 25.0
    yield_g: float | None = None


class Flush(Step, frozen=True, kw_only=True):
    """Water through the group, the portafilter out unless `basket_in`.

    With the basket in, the operator presses the pump key; without, only a note says what was done.
    """

    seconds: float
    basket_in: bool = False


class Steam(Step, frozen=True, kw_only=True):
    """Open the steam valve for a time."""

    seconds: float


class Setpoint(Step, frozen=True, kw_only=True):
    """Change the setpoint."""

    degc: float


class Grind(Step, frozen=True, kw_only=True):
    """Grind the beds to come to another mean particle size, in percent of the usual."""

    percent: float


class Note(Step, frozen=True, kw_only=True):
    """The operator writes a note."""

    text: str


class Enter(Step, frozen=True, kw_only=True):
    """The operator enters a value, such as `dose_g=18`."""

    text: str


class EnterYield(Step, frozen=True, kw_only=True):
    """The operator weighs the last shot's cup and types its yield."""


class Tare(Step, frozen=True, kw_only=True):
    """The operator sets the scale to zero."""


class Unplug(Step, frozen=True, kw_only=True):
    """The interface's cable is out for a time, beginning so long after the next shot's pump on if given."""

    seconds: float
    into_shot_s: float | None = None


class Spike(Step, frozen=True, kw_only=True):
    """A single value of one channel is far off, so long after the next shot's pump on if given, else now."""

    delta_k: float
    channel: int = 1
    into_shot_s: float | None = None


AnyStep = (
    Wait
    | WaitSinceShot
    | WaitForHeater
    | KnockOut
    | LockIn
    | Shot
    | Flush
    | Steam
    | Setpoint
    | Grind
    | Note
    | Enter
    | EnterYield
    | Tare
    | Unplug
    | Spike
)
Script = tuple[AnyStep, ...]


def series(
    shots: int,
    *,
    interval_s: float = 180.0,
    lead_s: float = 30.0,
    dose_g: float = 18.0,
    seconds: float = 25.0,
    yield_g: float | None = None,
    flush_s: float = 0.0,
    typed_yields: bool = False,
    tail_s: float = 20.0,
    during: Sequence[AnyStep] = (),
) -> Script:
    """Return a script of shots whose pump starts lie a fixed interval apart.

    Args:
        shots: How many.
        interval_s: From pump on to pump on.
        lead_s: From the beginning to the first pump on.
        dose_g: Dry coffee.
        seconds: Pump time, the longest one where a yield is given.
        yield_g: Stop when the cup nears it.
        flush_s: Water through the empty group shortly before each locking in; 0 for none.
        typed_yields: The operator types dose and yields, for want of a scale.
        tail_s: From the last pump off to the end.
        during: Steps to put right before the first shot, for instance spikes in it.

    Raises:
        BadInput: The shots do not fit the interval, or the first does not fit the lead.
    """
    handling_s = _LOCKED_IN_S + _OUT_S + flush_s
    if lead_s < handling_s:
        raise BadInput(
            f"A lead of {lead_s:g} s is too short to prepare the shot; give at least {handling_s:g} s."
        )
    if shots > 1 and interval_s < seconds + _REST_S + handling_s:
        shortest_s = seconds + _REST_S + handling_s
        raise BadInput(
            f"An interval of {interval_s:g} s is too short for shots of {seconds:g} s; "
            f"give at least {shortest_s:g} s."
        )
    steps: list[AnyStep] = [Enter(text=f"dose_g={dose_g:g}")]
    for number in range(shots):
        start_s = interval_s if number else lead_s
        if number and interval_s >= seconds + _REST_S + handling_s + _RINSED_S:
            steps += [KnockOut(), Wait(seconds=_RINSED_S), LockIn(dose_g=0.0)]
        steps += [WaitSinceShot(seconds=start_s - handling_s), KnockOut()]
        if flush_s > 0.0:
            steps.append(Flush(seconds=flush_s))
        steps += [WaitSinceShot(seconds=start_s - _LOCKED_IN_S), LockIn(dose_g=dose_g), Tare()]
        steps += [WaitSinceShot(seconds=start_s), *(during if not number else ())]
        steps.append(Shot(seconds=seconds, yield_g=yield_g))
        if typed_yields:
            steps.append(EnterYield())
        steps.append(Wait(seconds=_REST_S - WEIGHED_AFTER_S))
    return (*steps, Wait(seconds=max(0.0, tail_s - _REST_S)))


def standing(idle_s: float, lead_s: float) -> Script:
    """Return what goes before a recording so that the machine has stood for `idle_s` at its first shot.

    The machine is used (two long flushes), then left alone.

    Raises:
        BadInput: The idle time is shorter than the recording's lead.
    """
    if idle_s < lead_s:
        raise BadInput(f"An idle time of {idle_s:g} s is too short; give at least {lead_s:g} s.")
    return (
        Flush(seconds=25.0),
        Wait(seconds=120.0),
        Flush(seconds=20.0),
        LockIn(dose_g=0.0),
        Wait(seconds=idle_s - lead_s),
    )
