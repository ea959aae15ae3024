"""The virtual machine as a source: readings in real time, a pump that obeys the key, a scale."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from math import ceil, inf
from typing import NamedTuple

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Item, MarkKind, Notice, NoticeKind
from benchtemp.readings.virtual.attendant import Attendant
from benchtemp.readings.virtual.instrument import Instrument
from benchtemp.readings.virtual.machine import VirtualMachine
from benchtemp.readings.virtual.operated import ORDER_TAGS, MachineState, OperatedMachine
from benchtemp.readings.virtual.orders import Order, OrderKind
from benchtemp.readings.virtual.paced_clock import PacedClock
from benchtemp.readings.virtual.parameters import Machine, Place, Scale

SPEED_MAX = 64.0
_BATCH = 500
_SETTLED_S = 20.0
_KEPT_FOR_KEY_S = 2.0
"""How long at most, in real time, the machine waits for what a key pressed just now will make it do."""
_PER_SECOND = 10_000
"""Deeds stand at whole tenths of a millisecond, as the marks that tell of them."""


def _on_the_mark(t_s: float) -> float:
    """Return the first time from here on that a mark can tell exactly."""
    return ceil(round(t_s * _PER_SECOND, 3)) / _PER_SECOND


class _Command(NamedTuple):
    """Something to do to the machine at a time on the source's clock."""

    t_s: float
    act: Callable[[], None]


class VirtualSource:
    """A virtual machine read live; what the operator does acts at the time it was done, between readings.

    `pump`, `flush`, `lock_in`, `knock_out`, `set_setpoint`, `steam`, `unplug`, `tare`, `order` and `key_s`
    may be called by any thread. The same seed and the same commands at the same times give the same readings.
    Orders note themselves: `orders.deeds_in` finds in a recording what `order`, `pump` and `tare` did.

    Attributes:
        parameters: The machine.
        name: The machine's name.
        channels: `("T1", …)`.
        has_weight: Whether a scale stands under the cup.
        state: What its controls show, as of the last reading.
        order_tags: Names of the tags that its orders set by themselves.
    """

    order_tags = ORDER_TAGS

    def __init__(
        self,
        parameters: Machine,
        seed: int = 0,
        rate_hz: float = 10.0,
        channels: Sequence[Place] | None = None,
        *,
        speed: float = 1.0,
        scale: Scale | None = Scale(),  # noqa: B008  frozen
        warm: bool = True,
        attendant: Attendant | None = Attendant(),  # noqa: B008  frozen
        standing_s: float = _SETTLED_S,
        display_above_k: float = 0.0,
        details: Mapping[str, object] | None = None,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        """Describe the machine and how to read it; nothing runs before `open`.

        Args:
            parameters: The machine.
            seed: Of noise and of how one bed differs from the next.
            rate_hz: Readings per second of the source's clock.
            channels: Where probes sit, T1 first; None for the machine's own places.
            speed: How fast the source's clock runs, 1 for real time.
            scale: Under the cup; None without one.
            warm: Switched on for hours; otherwise the machine is cold and is switched on by `open`.
            attendant: Who looks after the portafilter; None leaves it to `lock_in` and `knock_out`.
            standing_s: So long the machine has been standing when the clock starts, with an attendant, the
                last 20 s of it with a fresh dose locked in.
            display_above_k: By how much the machine displays more than its boiler's setpoint.
            details: What it says of itself in a header; None for all there is to know.
            clock: Seconds from anywhere, for instance a test's own.

        Raises:
            BadInput: Rate, speed or channels cannot be.
        """
        self._paced = PacedClock(rate_hz, speed, SPEED_MAX, clock)
        places = tuple(parameters.places if channels is None else channels)
        if not 1 <= len(places) <= 8:
            raise BadInput(f"{len(places)} channels cannot be; choose 1 to 8.")
        self.parameters = parameters
        self.name = parameters.name
        self.channels = tuple(f"T{number}" for number in range(1, len(places) + 1))
        self.has_weight = scale is not None
        self.details: dict[str, object] = (
            dict(details)
            if details is not None
            else {
                "kind": "virtual machine",
                "name": parameters.name,
                "build": parameters.kind,
                "seed": seed,
                "rate_hz": rate_hz,
                "places": [str(place) for place in places],
                "quantum_k": parameters.probe.quantum_k,
                "noise_k": parameters.probe.noise_k,
            }
        )
        self._seed = seed
        self._places = places
        self._scale = scale
        self._warm = warm
        self._attendant = attendant
        self._standing_s = max(_SETTLED_S, standing_s)
        self._display_above_k = display_above_k
        self._lock = threading.Lock()
        self._commands: list[_Command] = []
        self._keys: list[tuple[float, float]] = []
        self._operated: OperatedMachine | None = None
        self._index = 0
        self._unplugged_until_s = -inf
        self.state = MachineState(
            setpoint_degc=parameters.boiler.control.setpoint_degc + display_above_k,
            dose_g=attendant.dose_g if attendant is not None else 0.0,
        )

    # -- source

    def open(self) -> None:
        """Warm the machine up (or leave it cold), lock in a first dose and start the clock."""
        machine = VirtualMachine(self.parameters, seed=self._seed, places=self._places, warm=self._warm)
        instrument = Instrument(machine, seed=self._seed, scale=self._scale)
        self._instrument = instrument
        self._index = 0
        self._unplugged_until_s = -inf
        self._commands.clear()
        self._keys.clear()
        attendant = self._attendant
        if attendant is not None:
            machine.advance(self._standing_s - _SETTLED_S)
            machine.lock_in(attendant.dose_g)
            instrument.renew_cup()
            machine.advance(self._standing_s)
        operated = OperatedMachine(machine, instrument, attendant, display_above_k=self._display_above_k)
        if attendant is not None:
            operated.tell(f"A portafilter with {attendant.dose_g:g} g is locked in; start the pump.")
        self._operated = operated
        self.state = operated.state
        self._paced.start()

    def read(self) -> Sequence[Item]:
        """Return the readings due by now, waiting at most 0.2 s for the next one."""
        paced = self._paced
        if not paced.runs:
            return ()
        paced.wait_for(self._index)
        found: list[Item] = []
        now_s = self.now_s()
        with self._lock:
            while paced.runs and len(found) < _BATCH and self._may_read(now_s):
                found.extend(self._items_until(paced.due_s(self._index)))
                self._index += 1
            paced.have_read(paced.due_s(self._index))
            self.state = self._opened.state
        return found

    def _may_read(self, now_s: float) -> bool:
        """Tell whether the next reading is due and no key pressed before it is still on its way."""
        due_s = self._paced.due_s(self._index)
        if due_s > now_s:
            return False
        if not self._keys:
            return True
        real_s = time.monotonic()
        self._keys = [key for key in self._keys if key[1] > real_s]
        return not self._keys or due_s < self._keys[0][0]

    def now_s(self) -> float:
        """Return the source's clock, which runs `speed` times as fast as real time."""
        return self._paced.now_s()

    @property
    def hurrying(self) -> bool:
        """Tell whether its clock runs fast, through an idle time."""
        return self._paced.hurrying

    def key_s(self) -> float:
        """Return the time for a key pressed at this moment, and wait there for what it will do.

        Without the wait a reading could pass the key while it is on its way, and the pump would start a
        little after its mark: then the recording alone would not give the same sitting again.
        """
        with self._lock:
            self._paced.stop_hurrying()
            t_s = self._next_moment_s()
            self._keys.append((t_s, time.monotonic() + _KEPT_FOR_KEY_S))
            return t_s

    def key_done(self, t_s: float) -> None:
        """Wait no longer for the key of this time."""
        with self._lock:
            self._keys = [key for key in self._keys if key[0] != t_s]

    def interrupt(self) -> None:
        """Make a waiting `read` return soon."""
        self._paced.interrupt()

    def close(self) -> None:
        """Switch the machine off."""
        self._paced.stop()

    # -- what the operator does, from any thread

    def order(self, order: Order, *, t_s: float | None = None) -> None:
        """Do something to the machine, now or at a time to come, and note it in the recording.

        Raises:
            BadInput: It cannot be done, or not now; the sentence says why.
        """
        order = order.checked()
        with self._lock:
            operated = self._opened
            if t_s is None:
                if not self._commands:  # else what they make of the machine decides, when its turn comes
                    operated.refuse(order)
                if order.ends_waiting or order.kind is OrderKind.FLUSH:
                    self._paced.stop_hurrying()
                t_s = self._next_moment_s()
                if order.kind is OrderKind.IDLE and not order.ends_waiting:
                    self._paced.hurry(operated.waits_until_s(order))
            self._put(t_s, lambda: operated.obey(order))
        self._paced.interrupt()

    def pump(self, *, on: bool, t_s: float) -> None:
        """Start or stop the pump as of `t_s`; a time already past acts at once."""
        self._order(t_s, lambda: self._opened.pump(on=on))

    def flush(self, *, on: bool, t_s: float) -> None:
        """Start or stop water through the group with the portafilter taken out."""
        self._order(t_s, lambda: self._opened.flush(on=on))

    def lock_in(self, *, dose_g: float, t_s: float) -> None:
        """Lock in a fresh dose, 0 g for an empty basket."""
        self._order(t_s, lambda: self._opened.lock_in(dose_g))

    def knock_out(self, *, t_s: float) -> None:
        """Take the portafilter out and leave it out."""
        self._order(t_s, self._opened.knock_out)

    def set_setpoint(self, setpoint_degc: float, *, t_s: float) -> None:
        """Change the machine's setpoint; raises BadInput where it cannot be."""
        if not 20.0 <= setpoint_degc <= 140.0:
            raise BadInput(f"A setpoint of {setpoint_degc:g} °C cannot be; give 20 to 140 °C.")
        self._order(t_s, lambda: self._opened.set_setpoint(setpoint_degc))

    def steam(self, *, on: bool, t_s: float) -> None:
        """Open or close the steam valve; raises BadInput where the machine has none."""
        if self.parameters.steam is None:
            raise BadInput(f"{self.name} has no steam valve; leave steam out.")
        self._order(t_s, lambda: self._opened.machine.steam(on=on))

    def unplug(self, seconds: float, *, t_s: float) -> None:
        """Pull the interface's cable out for some seconds."""

        def act() -> None:
            operated = self._opened
            self._unplugged_until_s = operated.t_s + seconds
            operated.note(MarkKind.GAP, "unplugged")
            operated.tell_lost("The virtual cable is unplugged.")

        self._order(t_s, act)

    def tare(self, *, t_s: float | None = None) -> bool:
        """Set the scale to zero, now or at a time to come; False without one."""
        if not self.has_weight:
            return False
        with self._lock:
            if t_s is None:
                # The key that asks for it has a time already, which its mark will tell.
                t_s = self._keys[-1][0] if self._keys else self._next_moment_s()
            self._done_key(t_s)
            self._put(t_s, self._instrument.tare)
        return True

    @property
    def found_tags(self) -> dict[str, str]:
        """Return the tags that say how the machine is set when a sitting begins."""
        return {"setpoint_degc": f"{self.state.setpoint_degc:g}"}

    @property
    def true_water_degc(self) -> float:
        """Return what surrounds the basket probe at this moment, °C, without noise, steps or lag."""
        return self._opened.machine.true_water_degc

    # -- inside

    @property
    def _opened(self) -> OperatedMachine:
        if self._operated is None:
            raise BadInput("The virtual machine is not open yet; open it first.")
        return self._operated

    def _next_moment_s(self) -> float:
        """Return the next time at which something can be done, to be told by a mark; holds the lock."""
        reached_s = self._operated.t_s if self._operated is not None else 0.0
        return _on_the_mark(max(self._paced.now_s(), reached_s))

    def _order(self, t_s: float, act: Callable[[], None]) -> None:
        with self._lock:
            self._done_key(t_s)
            self._put(t_s, act)

    def _done_key(self, t_s: float) -> None:
        self._keys = [key for key in self._keys if key[0] > t_s]

    def _put(self, t_s: float, act: Callable[[], None]) -> None:
        self._commands.append(_Command(t_s, act))
        self._commands.sort(key=lambda command: command.t_s)

    def _items_until(self, t_s: float) -> list[Item]:
        """Let the machine reach `t_s`, doing what was ordered on the way, and read it."""
        operated = self._opened
        while operated.advance(t_s, self._commands[0].t_s if self._commands else inf, self._do_command):
            pass
        stamp_s = round(t_s, 6)
        found: list[Item] = operated.take_told()
        if t_s < self._unplugged_until_s:
            return found
        if self._unplugged_until_s > -inf:
            self._unplugged_until_s = -inf
            found.append(Notice(stamp_s, NoticeKind.READING, "The virtual cable is plugged in again."))
        return [*found, self._instrument.reading(stamp_s)]

    def _do_command(self) -> None:
        self._commands.pop(0).act()
