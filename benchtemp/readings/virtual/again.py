"""A sitting at a virtual machine once more, from nothing but its recording: the very same readings."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Item, Mark, Reading, Stream
from benchtemp.readings.virtual.catalogue import virtual_machines
from benchtemp.readings.virtual.orders import Order, deeds_in
from benchtemp.readings.virtual.parameters import Machine, Place, Scale
from benchtemp.readings.virtual.source import VirtualSource

_TIME_DECIMALS = 4


class _SetClock:
    """A clock that is set from outside."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


def sitting_again(stream: Stream) -> Stream:
    """Do to a virtual machine once more what a recording tells, and return what its interface gives.

    Args:
        stream: Recorded live on a virtual machine of the catalogue.

    Returns: its readings and the marks the machine makes by itself; the header is the recording's.

    Raises:
        BadInput: It was not recorded on one of them.
    """
    had = _as_told(stream)
    clock = _SetClock()
    source = VirtualSource(
        had.machine,
        had.seed,
        had.rate_hz,
        had.places,
        scale=None if stream.weight_g is None else Scale(),
        clock=clock,
    )
    source.open()
    for t_s, what in deeds_in(stream.marks):
        if isinstance(what, Order):
            source.order(what, t_s=t_s)
        elif what is None:
            source.tare(t_s=t_s)
        else:
            source.pump(on=what, t_s=t_s)
    if len(stream.t_s):
        clock.now_s = float(stream.t_s[-1]) + 0.5 / had.rate_hz
    items: list[Item] = []
    while found := source.read():
        items.extend(found)
        source.interrupt()
    source.close()
    readings = [item for item in items if isinstance(item, Reading)]
    marks = [item for item in items if isinstance(item, Mark)]
    return Stream(
        channels=stream.channels,
        t_s=np.array([round(reading.t_s, _TIME_DECIMALS) for reading in readings]),
        temps_degc=np.array([reading.temps_degc for reading in readings]).reshape(len(readings), -1),
        weight_g=None if stream.weight_g is None else np.array([reading.weight_g for reading in readings]),
        marks=tuple(marks),
        mark_rows=tuple(sum(reading.t_s < mark.t_s for reading in readings) for mark in marks),
        meta=dict(stream.meta),
    )


class _Told(NamedTuple):
    """What a header says of the virtual machine it was recorded on."""

    machine: Machine
    seed: int
    rate_hz: float
    places: list[Place]


def _as_told(stream: Stream) -> _Told:
    told = stream.meta.get("source")
    named = {machine.name: machine for machine in virtual_machines().values()}
    if not isinstance(told, dict) or told.get("kind") != "virtual machine" or told.get("name") not in named:
        raise BadInput(
            "This was not recorded on a virtual machine that can be had again; give a recording of a sitting "
            "at one of those that 'benchtemp simulate --list' names."
        )
    try:
        places = [Place(place) for place in told["places"]]
        return _Told(named[told["name"]], int(told["seed"]), float(told["rate_hz"]), places)
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(
            "Its header does not say how the virtual machine was read; it was changed or is cut off."
        ) from error
