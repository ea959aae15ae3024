"""What an operator sets on a virtual machine, as notes that say it and can be read back from a recording."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import NamedTuple

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind

PREFIX = "machine:"
"""How a note begins that says what was done to the machine."""


class OrderKind(StrEnum):
    """What is ordered; the value is its word in a note."""

    SETPOINT = "setpoint"
    """°C as the machine displays it."""
    FLUSH = "flush"
    """Seconds of water through the group, the portafilter out."""
    DOSE = "dose"
    """Grams of dry coffee from the next basket on; a dry bed in the group is replaced at once."""
    GRIND = "grind"
    """Mean particle size in percent of the usual, from the next basket on (a dry bed is replaced at once)."""
    IDLE = "idle"
    """Minutes without water, counted from the last; 0 when the waiting is over."""


class Limits(NamedTuple):
    """What can be ordered.

    Attributes:
        low, high: Both included.
        unit: As written in a note.
        what: How a sentence names it.
    """

    low: float
    high: float
    unit: str
    what: str


LIMITS: dict[OrderKind, Limits] = {
    OrderKind.SETPOINT: Limits(60.0, 130.0, "°C", "setpoint"),
    OrderKind.FLUSH: Limits(1.0, 60.0, "s", "flush"),
    OrderKind.DOSE: Limits(5.0, 30.0, "g", "dose"),
    OrderKind.GRIND: Limits(70.0, 140.0, "%", "grind size"),
    OrderKind.IDLE: Limits(0.5, 180.0, "min", "idle time"),
}

_NOTE = re.compile(rf"{PREFIX} (\w+) (\d+(?:\.\d+)?) ([^\s]+)")
_OVER = f"{PREFIX} {OrderKind.IDLE} over"


@dataclass(frozen=True, slots=True)
class Order:
    """Something to do to the machine.

    Attributes:
        kind: What.
        value: In the unit of its limits; 0 ends an idle time.
    """

    kind: OrderKind
    value: float = 0.0

    def checked(self) -> Order:
        """Return itself, the value as its note writes it, so that reading the note back gives the same.

        Raises:
            BadInput: Such a value cannot be.
        """
        if self.ends_waiting:
            return self
        low, high, unit, what = LIMITS[self.kind]
        if not (isfinite(self.value) and low <= self.value <= high):
            raise BadInput(
                f"A {what} of {self.value:g} {unit} cannot be set here; give {low:g} to {high:g} {unit}."
            )
        return Order(self.kind, round(self.value, 2))

    @property
    def ends_waiting(self) -> bool:
        """Tell whether this ends an idle time."""
        return self.kind is OrderKind.IDLE and self.value == 0.0

    @property
    def words(self) -> str:
        """Return it as people write it, such as `flush 4 s`."""
        return "idle over" if self.ends_waiting else f"{self.kind} {self.value:g} {LIMITS[self.kind].unit}"

    @property
    def note(self) -> str:
        """Return the text of the note that says it."""
        return f"{PREFIX} {self.words}"


def order_from(note: str) -> Order | None:
    """Return the order a note tells of, None where it tells of none.

    >>> order_from("machine: flush 4 s")
    Order(kind=<OrderKind.FLUSH: 'flush'>, value=4.0)
    >>> order_from("cup changed") is None
    True
    """
    if note == _OVER:
        return Order(OrderKind.IDLE)
    found = _NOTE.fullmatch(note)
    if found is None or found[1] not in tuple(OrderKind):
        return None
    order = Order(OrderKind(found[1]), float(found[2]))
    low, high, unit, _what = LIMITS[order.kind]
    return order if unit == found[3] and low <= order.value <= high else None


class Deed(NamedTuple):
    """What was done at one moment of a sitting.

    Attributes:
        t_s: On the source's clock.
        what: An order, True for pump on, False for pump off, None for the scale set to zero.
    """

    t_s: float
    what: Order | bool | None


def deeds_in(marks: Iterable[Mark]) -> tuple[Deed, ...]:
    """Return all that was done to a virtual machine, as its recording's marks tell.

    Args:
        marks: Of the recording, in its order.
    """
    deeds: list[Deed] = []
    pumped: list[bool] = []
    for mark in marks:
        if mark.kind in {MarkKind.PUMP_ON, MarkKind.PUMP_OFF}:
            pumped.append(mark.kind is MarkKind.PUMP_ON)
            deeds.append(Deed(mark.t_s, pumped[-1]))
        elif mark.kind is MarkKind.UNDO and pumped:
            # The machine obeys what is left of the marks.
            pumped.pop()
            deeds.append(Deed(mark.t_s, bool(pumped) and pumped[-1]))
        elif mark.kind is MarkKind.TARE:
            deeds.append(Deed(mark.t_s, None))
        elif mark.kind is MarkKind.NOTE and (order := order_from(mark.text)) is not None:
            deeds.append(Deed(mark.t_s, order))
    return tuple(deeds)
