"""The virtual machine as a source: readings in real time, a pump that obeys the key, a scale."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from math import inf
from typing import NamedTuple

import msgspec

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Item, Mark, MarkKind, Notice, NoticeKind, Reading
from benchtemp.readings.virtual.instrument import Instrument
from benchtemp.readings.virtual.machine import VirtualMachine
from benchtemp.readings.virtual.paced_clock import PacedClock
from benchtemp.readings.virtual.parameters import Machine, Place, Scale

SPEED_MAX = 64.0
_BATCH = 500
_SETTLED_S = 20.0


class Attendant(msgspec.Struct, frozen=True, kw_only=True):
    """Looks after the portafilter, so that the pump key alone is enough to pull shot after shot.

    After a pull the spent bed is knocked out and a fresh one locked in; if the pump is started while the
    portafilter is out, it is locked in first. All times are our own choice.

    Attributes:
        dose_g: Dry coffee per shot.
        rest_s: From pump off until the portafilter is taken out.
        out_s: How long it is out.
    """

    dose_g: float = 18.0
    rest_s: float = 8.0
    out_s: float = 10.0


class _Command(NamedTuple):
    """Something to do to the machine at a time on the source's clock."""

    t_s: float
    act: Callable[[], None]


class VirtualSource:
    """A virtual machine read live; what the operator does acts at the time it was done, between readings.

    `pump`, `flush`, `lock_in`, `knock_out`, `set_setpoint`, `steam`, `unplug` and `tare` may be called by any
    thread. The same seed and the same commands at the same times give the same readings.

    Attributes:
        parameters: The machine.
        name: The machine's name.
        channels: `("T1", …)`.
        has_weight: Whether a scale stands under the cup.
    """

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
        self.details: dict[str, object] = {
            "kind": "virtual machine",
            "name": parameters.name,
            "build": parameters.kind,
            "seed": seed,
            "rate_hz": rate_hz,
            "places": [str(place) for place in places],
            "quantum_k": parameters.probe.quantum_k,
            "noise_k": parameters.probe.noise_k,
        }
        self._seed = seed
        self._places = places
        self._scale = scale
        self._warm = warm
        self._attendant = attendant
        self._lock = threading.Lock()
        self._commands: list[_Command] = []
        self._notices: list[Item] = []
        self._machine: VirtualMachine | None = None
        self._offset_s = 0.0
        self._index = 0
        self._attend_s = inf
        self._unplugged_until_s = -inf

    # -- source

    def open(self) -> None:
        """Warm the machine up (or leave it cold), lock in a first dose and start the clock."""
        machine = VirtualMachine(self.parameters, seed=self._seed, places=self._places, warm=self._warm)
        instrument = Instrument(machine, seed=self._seed, scale=self._scale)
        self._machine, self._instrument = machine, instrument
        self._index = 0
        self._attend_s = inf
        self._unplugged_until_s = -inf
        self._commands.clear()
        self._notices.clear()
        if self._attendant is not None:
            machine.lock_in(self._attendant.dose_g)
            instrument.renew_cup()
            machine.advance(_SETTLED_S)
            self._tell(0.0, f"A portafilter with {self._attendant.dose_g:g} g is locked in; start the pump.")
        self._offset_s = machine.t_s
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
            while paced.runs and len(found) < _BATCH and paced.due_s(self._index) <= now_s:
                found.extend(self._items_until(paced.due_s(self._index)))
                self._index += 1
        return found

    def now_s(self) -> float:
        """Return the source's clock, which runs `speed` times as fast as real time."""
        return self._paced.now_s()

    def interrupt(self) -> None:
        """Make a waiting `read` return soon."""
        self._paced.interrupt()

    def close(self) -> None:
        """Switch the machine off."""
        self._paced.stop()

    # -- what the operator does, from any thread

    def pump(self, *, on: bool, t_s: float) -> None:
        """Start or stop the pump as of `t_s`; a time already past acts at once."""
        self._order(t_s, lambda: self._pump(on=on))

    def flush(self, *, on: bool, t_s: float) -> None:
        """Start or stop water through the group with the portafilter taken out."""

        def act() -> None:
            if on:
                self._opened.knock_out()
                self._attend_s = inf
            elif self._attendant is not None:
                self._attend_s = self._time_s() + self._attendant.out_s
            self._opened.pump(on=on)

        self._order(t_s, act)

    def lock_in(self, *, dose_g: float, t_s: float) -> None:
        """Lock in a fresh dose, 0 g for an empty basket."""
        self._order(t_s, lambda: self._lock_in(dose_g))

    def knock_out(self, *, t_s: float) -> None:
        """Take the portafilter out and leave it out."""

        def act() -> None:
            self._opened.knock_out()
            self._attend_s = inf

        self._order(t_s, act)

    def set_setpoint(self, setpoint_degc: float, *, t_s: float) -> None:
        """Change the machine's setpoint; raises BadInput where it cannot be."""
        if not 20.0 <= setpoint_degc <= 140.0:
            raise BadInput(f"A setpoint of {setpoint_degc:g} °C cannot be; give 20 to 140 °C.")
        self._order(t_s, lambda: self._opened.set_setpoint(setpoint_degc))

    def steam(self, *, on: bool, t_s: float) -> None:
        """Open or close the steam valve; raises BadInput where the machine has none."""
        if self.parameters.steam is None:
            raise BadInput(f"{self.name} has no steam valve; leave steam out.")
        self._order(t_s, lambda: self._opened.steam(on=on))

    def unplug(self, seconds: float, *, t_s: float) -> None:
        """Pull the interface's cable out for some seconds."""

        def act() -> None:
            at_s = self._time_s()
            self._unplugged_until_s = at_s + seconds
            self._notices.append(Mark(at_s, MarkKind.GAP, "unplugged"))
            self._notices.append(Notice(at_s, NoticeKind.LOST, "The virtual cable is unplugged."))

        self._order(t_s, act)

    def tare(self) -> bool:
        """Set the scale to zero; False without one."""
        if not self.has_weight:
            return False
        self._order(self.now_s(), self._instrument.tare)
        return True

    @property
    def true_water_degc(self) -> float:
        """Return what surrounds the basket probe at this moment, °C, without noise, steps or lag."""
        return self._opened.true_water_degc

    # -- inside

    @property
    def _opened(self) -> VirtualMachine:
        if self._machine is None:
            raise BadInput("The virtual machine is not open yet; open it first.")
        return self._machine

    def _time_s(self) -> float:
        return round(self._opened.t_s - self._offset_s, 6)

    def _order(self, t_s: float, act: Callable[[], None]) -> None:
        with self._lock:
            self._commands.append(_Command(t_s, act))
            self._commands.sort(key=lambda command: command.t_s)

    def _tell(self, t_s: float, text: str) -> None:
        self._notices.append(Notice(t_s, NoticeKind.READING, text))

    def _items_until(self, t_s: float) -> list[Item]:
        """Let the machine reach `t_s`, doing what was ordered on the way, and read it."""
        machine = self._opened
        while True:
            command_s = self._commands[0].t_s if self._commands else inf
            if min(command_s, self._attend_s) > t_s:
                break
            machine.advance(self._offset_s + min(command_s, self._attend_s))
            if command_s <= self._attend_s:
                self._commands.pop(0).act()
            else:
                self._attend()
        machine.advance(self._offset_s + t_s)
        stamp_s = round(t_s, 6)
        found: list[Item] = list(self._notices)
        self._notices.clear()
        if t_s < self._unplugged_until_s:
            return found
        if self._unplugged_until_s > -inf:
            self._unplugged_until_s = -inf
            found.append(Notice(stamp_s, NoticeKind.READING, "The virtual cable is plugged in again."))
        reading: Reading = self._instrument.reading(stamp_s)
        return [*found, reading]

    def _pump(self, *, on: bool) -> None:
        if self._attendant is not None:
            if on and not self._opened.basket.locked:
                self._lock_in(self._attendant.dose_g)
            self._attend_s = inf if on else self._time_s() + self._attendant.rest_s
        self._opened.pump(on=on)

    def _lock_in(self, dose_g: float) -> None:
        self._opened.lock_in(dose_g)
        self._instrument.renew_cup()
        self._attend_s = inf

    def _attend(self) -> None:
        """Take out the spent bed, or lock in a fresh one."""
        attendant = self._attendant
        assert attendant is not None
        at_s = self._attend_s
        if self._opened.basket.locked:
            self._opened.knock_out()
            self._attend_s = at_s + attendant.out_s
            self._tell(at_s, "The spent bed is knocked out.")
        else:
            self._lock_in(attendant.dose_g)
            self._tell(at_s, f"A fresh {attendant.dose_g:g} g is locked in; start the pump when you like.")
