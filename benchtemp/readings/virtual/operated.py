"""A virtual machine with somebody at it: what is ordered, what follows from it, and the notes on it."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Item, Mark, MarkKind, Notice, NoticeKind
from benchtemp.readings.virtual.attendant import Agenda, Attendant
from benchtemp.readings.virtual.instrument import Instrument
from benchtemp.readings.virtual.machine import VirtualMachine
from benchtemp.readings.virtual.orders import Order, OrderKind

ORDER_TAGS = frozenset({"setpoint_degc", "grind", "flush_s"})
"""Tags that orders set by themselves, so that studies know of them."""

USUAL_GRIND = 100.0
_KNOCK, _FILL, _FLUSH_OVER, _RINSED, _READY, _WAITED = (
    "knock out",
    "fill",
    "flush over",
    "rinsed",
    "ready",
    "waited",
)


class MachineState(msgspec.Struct, frozen=True, kw_only=True):
    """What the controls of a virtual machine show.

    Attributes:
        setpoint_degc: As displayed.
        dose_g: Of the next basket.
        grind_percent: Mean particle size, 100 for the usual.
        pump_on: Whether water runs for a shot.
        flushing: Whether it runs for a flush.
        idle_since_s: When water last ran, on the source's clock; None while it runs or before it ever did.
        waits_until_s: End of an idle time that was ordered, None without.
    """

    setpoint_degc: float
    dose_g: float
    grind_percent: float = USUAL_GRIND
    pump_on: bool = False
    flushing: bool = False
    idle_since_s: float | None = None
    waits_until_s: float | None = None


class OperatedMachine:
    """A machine, its instrument and its attendant on one clock, which begins when the sitting does.

    Knows no real time and no thread: what is done and when comes from outside, so the same deeds at the same
    times give the same readings.
    """

    def __init__(
        self,
        machine: VirtualMachine,
        instrument: Instrument,
        attendant: Attendant | None,
        *,
        display_above_k: float = 0.0,
    ) -> None:
        """Take over a machine that stands ready now.

        Args:
            machine: The machine.
            instrument: What reads it.
            attendant: Who looks after the portafilter, None for nobody.
            display_above_k: By how much the display shows more than the boiler's setpoint (below 0: less).
        """
        self.machine = machine
        self._instrument = instrument
        self._attendant = attendant
        self._display_above_k = display_above_k
        self._begin_s = machine.t_s
        self._agenda = Agenda()
        self._told: list[Item] = []
        self._dose_g = attendant.dose_g if attendant is not None else 0.0
        self._grind_percent = USUAL_GRIND
        self._flushing = False
        self._flushed_s = 0.0
        self._idle_since_s: float | None = None
        self._waits_until_s: float | None = None

    @property
    def t_s(self) -> float:
        """Return the time of the sitting at which the machine stands."""
        return round(self.machine.t_s - self._begin_s, 6)

    @property
    def state(self) -> MachineState:
        """Return what the controls show."""
        return MachineState(
            setpoint_degc=self.machine.setpoint_degc + self._display_above_k,
            dose_g=self._dose_g,
            grind_percent=self._grind_percent,
            pump_on=self.machine.pump_unit.on and not self._flushing,
            flushing=self._flushing,
            idle_since_s=self._idle_since_s,
            waits_until_s=self._waits_until_s,
        )

    def refuse(self, order: Order) -> None:
        """Complain where an order makes no sense as things stand.

        Raises:
            BadInput: Why, in a sentence.
        """
        if order.kind is OrderKind.FLUSH:
            if self._flushing:
                raise BadInput("The flush is still running; wait for its end.")
            if self.machine.pump_unit.on:
                raise BadInput("A shot is under way; stop the pump (Space) before you flush.")
        elif order.ends_waiting:
            if self._waits_until_s is None:
                raise BadInput("The machine is not waiting; there is nothing to end.")
        elif order.kind is OrderKind.IDLE:
            if self.machine.pump_unit.on:
                raise BadInput("Water runs; the idle time begins when the pump has stopped (Space).")
            idle_min = (self.t_s - (self._idle_since_s or 0.0)) / 60.0
            if idle_min >= order.value:
                raise BadInput(
                    f"The machine has stood idle for {idle_min:.1f} min already; give a longer time."
                )

    def waits_until_s(self, order: Order) -> float:
        """Return when an idle time ordered now would be over."""
        return (self._idle_since_s or 0.0) + order.value * 60.0

    # -- time

    def advance(self, to_s: float, next_command_s: float, do_command: Callable[[], None]) -> bool:
        """Let time pass to the first of `to_s`, the next command and what is due; tell whether to go on.

        Args:
            to_s: On the sitting's clock.
            next_command_s: When the operator does something next, infinite for nothing.
            do_command: Does that.

        Returns: False once `to_s` is reached.
        """
        due_s = self._agenda.next_s
        at_s = min(next_command_s, due_s)
        if at_s > to_s:
            self.machine.advance(self._begin_s + to_s)
            return False
        self.machine.advance(self._begin_s + at_s)
        if next_command_s <= due_s:
            do_command()
        else:
            self._agenda.do_next()
        return True

    def take_told(self) -> list[Item]:
        """Return the notes and notices since the last call, oldest first."""
        told, self._told = self._told, []
        return told

    def tell(self, text: str) -> None:
        """Say something to the operator."""
        self._told.append(Notice(self.t_s, NoticeKind.READING, text))

    def tell_lost(self, text: str) -> None:
        """Say that the interface is gone."""
        self._told.append(Notice(self.t_s, NoticeKind.LOST, text))

    def note(self, kind: MarkKind, text: str) -> None:
        """Put a mark into the recording."""
        self._told.append(Mark(self.t_s, kind, text))

    # -- deeds

    def pump(self, *, on: bool) -> None:
        """Switch the pump for a shot."""
        machine, attendant = self.machine, self._attendant
        if on:
            self._end_waiting()
            self._agenda.drop(_FLUSH_OVER)
            self._flushing = False
            self._idle_since_s = None
            if attendant is not None:
                if not machine.basket.locked or machine.basket.dose_kg <= 0.0:
                    self.lock_in(self._dose_g)
                self._agenda.drop(_KNOCK, _FILL)
        else:
            if machine.pump_unit.on:
                self._idle_since_s = self.t_s
            if attendant is not None:
                self._agenda.drop(_FILL)
                self._agenda.put(_KNOCK, self.t_s + attendant.rest_s, self._knock)
        machine.pump(on=on)

    def flush(self, *, on: bool) -> None:
        """Let water run through the group with the portafilter out, or stop it."""
        self._agenda.drop(_KNOCK, _FILL, _FLUSH_OVER)
        if on:
            self._end_waiting()
            self.machine.knock_out()
            self._idle_since_s = None
        else:
            self._idle_since_s = self.t_s
            if self._attendant is not None:
                self._agenda.put(_FILL, self.t_s + self._attendant.out_s, self._fill)
        self._flushing = on
        self.machine.pump(on=on)

    def lock_in(self, dose_g: float) -> None:
        """Lock in a fresh dose, 0 g for an empty basket."""
        self.machine.lock_in(dose_g)
        self._instrument.renew_cup()
        self._agenda.drop(_KNOCK, _FILL)

    def knock_out(self) -> None:
        """Take the portafilter out and leave it out."""
        self.machine.knock_out()
        self._agenda.drop(_KNOCK, _FILL)

    def set_setpoint(self, setpoint_degc: float) -> None:
        """Change the setpoint as displayed."""
        self.machine.set_setpoint(setpoint_degc - self._display_above_k)

    def obey(self, order: Order) -> None:
        """Carry out an order at this moment, and note it; what makes no sense any more is left undone."""
        try:
            self.refuse(order)
        except BadInput as error:
            self.tell(str(error))
            return
        self.note(MarkKind.NOTE, order.note)
        match order.kind:
            case OrderKind.SETPOINT:
                self.set_setpoint(order.value)
                self.note(MarkKind.SET, f"tag.setpoint_degc={order.value:g}")
            case OrderKind.FLUSH:
                self.flush(on=True)
                self._agenda.put(_FLUSH_OVER, self.t_s + order.value, lambda: self.flush(on=False))
                self._flushed_s += order.value
                self.note(MarkKind.SET, f"tag.flush_s={self._flushed_s:g}")
            case OrderKind.DOSE:
                self._dose_g = order.value
                self._renew_dry_bed()
            case OrderKind.GRIND:
                self._grind_percent = order.value
                self.machine.set_grind(order.value / USUAL_GRIND)
                self.note(MarkKind.SET, f"tag.grind={order.value:g} %")
                self._renew_dry_bed()
            case OrderKind.IDLE:
                if order.ends_waiting:
                    self._end_waiting()
                    self._fill_empty_basket()
                else:
                    self._wait(order.value * 60.0)

    def _wait(self, idle_s: float) -> None:
        until_s = self._waits_until_s = (self._idle_since_s or 0.0) + idle_s
        self._agenda.put(_WAITED, until_s, self._have_waited)
        attendant = self._attendant
        if attendant is None or until_s - self.t_s < attendant.rinsed_s + attendant.ready_s:
            return
        self._agenda.drop(_KNOCK, _FILL)
        self._forget_flush()
        self.machine.knock_out()
        self._agenda.put(_RINSED, self.t_s + attendant.rinsed_s, lambda: self.lock_in(0.0))
        self._agenda.put(_READY, until_s - attendant.ready_s, self._fill)

    def _end_waiting(self) -> None:
        self._waits_until_s = None
        self._agenda.drop(_RINSED, _READY, _WAITED)

    def _have_waited(self) -> None:
        self._waits_until_s = None
        self.tell("The idle time is over; start the pump (Space) or flush.")

    def _renew_dry_bed(self) -> None:
        """Weigh in anew where the basket stands ready: what was set holds for the very next shot."""
        basket = self.machine.basket
        if self._attendant is not None and basket.locked and basket.dose_kg > 0.0 and not basket.wetness:
            self.lock_in(self._dose_g)

    def _fill_empty_basket(self) -> None:
        if self._attendant is not None and self.machine.basket.dose_kg <= 0.0:
            self._fill()

    # -- what the attendant does

    def _knock(self) -> None:
        """Take out the spent bed."""
        assert self._attendant is not None
        self.machine.knock_out()
        self._agenda.put(_FILL, self.t_s + self._attendant.out_s, self._fill)
        self.tell("The spent bed is knocked out.")
        self._forget_flush()

    def _forget_flush(self) -> None:
        """Let a flush count for one shot only."""
        if self._flushed_s:
            self._flushed_s = 0.0
            self.note(MarkKind.SET, "tag.flush_s=")

    def _fill(self) -> None:
        """Lock in a fresh dose."""
        self.lock_in(self._dose_g)
        self.tell(f"A fresh {self._dose_g:g} g is locked in; start the pump when you like.")
