"""A virtual pot of boiling water and a virtual ice bath, to check virtual probes in.

Water is heated at a steady rate until it boils or is held; the bath then has one temperature about which
bubbles or eddies make each probe's surroundings wander. A probe follows its surroundings with a lag of first
order and reports them with an error, noise and steps of its own. All figures are our own estimates of what a
kitchen shows.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from enum import StrEnum
from math import exp, inf, nan, sqrt
from random import Random

import msgspec

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Item, Notice, NoticeKind, Reading
from benchtemp.readings.virtual.instrument import quantised
from benchtemp.readings.virtual.paced_clock import PacedClock

POT_PRESSURE_HPA = 1006.0
"""Air pressure in the virtual kitchen."""
POT_DEPTH_CM = 5.0
"""How far the probes hang in the virtual pot."""
POT_BOILS_DEGC = 99.9037
"""Where the water there boils: IAPWS-IF97 at that pressure and depth, as `probes.boiling` works it out."""
ROOM_DEGC = 22.0
SPEED_MAX = 1000.0
"""A bath is quickly worked out, and nobody presses a pump key in it."""
_BATCH = 500
_NEAR_K = 1.5
"""Within this of its end the heating slows down."""
_MEMORY_S = 1.0
"""How long one bubble or eddy stays felt."""
_BUBBLES_FROM_K = 20.0
"""So far below the boil the first bubbles form."""


class BathProbe(msgspec.Struct, frozen=True, kw_only=True):
    """A probe hung into the bath, and the interface behind it.

    Attributes:
        offset_k: Its error at 0 °C, K.
        slope_k_per_k: How its error changes with temperature.
        tau_s: Time constant in the water.
        noise_k: Noise of a reading, standard deviation.
        quantum_k: Step of the readings.
        is_open: It gives nothing: a wire is broken.
    """

    offset_k: float = 0.25
    slope_k_per_k: float = 0.004
    tau_s: float = 1.2
    noise_k: float = 0.03
    quantum_k: float = 0.1
    is_open: bool = False

    def __post_init__(self) -> None:
        if not (0.01 <= self.tau_s <= 60.0 and 0.0 <= self.noise_k <= 5.0 and 0.0 <= self.quantum_k <= 5.0):
            raise BadInput(
                "A virtual probe needs a time constant of 0.01 to 60 s, noise and step of 0 to 5 K."
            )


class Water(msgspec.Struct, frozen=True, kw_only=True):
    """What is in the vessel.

    Attributes:
        name: What to call it.
        start_degc: Temperature at the beginning.
        end_degc: Where it ends: the boil, the ice point, or where somebody holds it.
        rate_k_per_min: How fast it gets there.
        wander_k: How far bubbles or eddies make a probe's surroundings wander at the end, standard deviation.
    """

    name: str
    start_degc: float
    end_degc: float
    rate_k_per_min: float = 12.0
    wander_k: float = 0.2

    def __post_init__(self) -> None:
        if not (self.rate_k_per_min > 0.0 and 0.0 <= self.wander_k <= 20.0):
            raise BadInput("Virtual water needs a rate above 0 and may wander by 0 to 20 K.")


class Bath(StrEnum):
    """The virtual baths there are."""

    POT = "pot"
    """Comes to a rolling boil within a minute or two."""
    ICE = "ice"
    SIMMER = "simmer"
    """Held at 80 °C: no rolling boil."""
    RESTLESS = "restless"
    """Boils over and over: steam blows about the tip."""
    COLD = "cold"
    """Just put on: climbs for ever so long."""


_WATERS = {
    Bath.POT: Water(name="virtual pot of water", start_degc=88.0, end_degc=POT_BOILS_DEGC),
    Bath.ICE: Water(name="virtual ice bath", start_degc=0.0, end_degc=0.0, wander_k=0.015),
    Bath.SIMMER: Water(name="virtual pot held at 80 °C", start_degc=78.0, end_degc=80.0, wander_k=0.08),
    Bath.RESTLESS: Water(
        name="virtual pot boiling over", start_degc=96.0, end_degc=POT_BOILS_DEGC, wander_k=6.0
    ),
    Bath.COLD: Water(
        name="virtual pot just put on", start_degc=20.0, end_degc=POT_BOILS_DEGC, rate_k_per_min=1.5
    ),
}
PROBES = (
    BathProbe(),
    BathProbe(offset_k=-0.35, slope_k_per_k=0.001),
    BathProbe(offset_k=0.05, slope_k_per_k=-0.002),
    BathProbe(offset_k=0.4, slope_k_per_k=-0.006),
)


def ready_made(bath: Bath) -> Water:
    """Return what is in one of the virtual baths there are."""
    return _WATERS[bath]


class VirtualPot:
    """A source: probes in a vessel of water that is heating up, boiling, or full of ice.

    It obeys nothing and ends by itself never. The same seed gives the same readings.

    Attributes:
        water: What is in the vessel.
        name: What to call it.
        channels: `("T1", …)`, one per probe.
        has_weight: Always False.
        details: Facts for a header.
    """

    has_weight = False

    def __init__(
        self,
        water: Water | Bath = Bath.POT,
        probes: Sequence[BathProbe] = PROBES[:1],
        *,
        seed: int = 0,
        rate_hz: float = 4.0,
        speed: float = 1.0,
        dips_s: Sequence[tuple[float, float]] = ((0.0, inf),),
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        """Describe it; nothing runs before `open`.

        Args:
            water: What is in the vessel, or the name of a ready-made one.
            probes: T1 first.
            seed: Of noise, bubbles and eddies.
            rate_hz: Readings per second of the source's clock.
            speed: How fast that clock runs, 1 for real time.
            dips_s: From when to when the probes are in the water, on the source's clock; the rest of the
                time they hang in the air of the room.
            clock: Seconds from anywhere, for instance a test's own.

        Raises:
            BadInput: Rate, speed, probes or dips cannot be.
        """
        self._paced = PacedClock(rate_hz, speed, SPEED_MAX, clock)
        if not 1 <= len(probes) <= 8:
            raise BadInput(f"{len(probes)} probes cannot be; hang in 1 to 8.")
        edges_s = [moment_s for dip in dips_s for moment_s in dip]
        if sorted(edges_s) != edges_s:
            raise BadInput("Dips must follow one another; give each from when to when.")
        self.water = ready_made(water) if isinstance(water, Bath) else water
        self.name = self.water.name
        self.channels = tuple(f"T{number}" for number in range(1, len(probes) + 1))
        self.details: dict[str, object] = {
            "kind": "virtual bath",
            "name": self.water.name,
            "seed": seed,
            "rate_hz": rate_hz,
            "bath_degc": self.water.end_degc,
        }
        self._probes = tuple(probes)
        self._seed = seed
        self._edges_s = tuple(edges_s)
        self._begin()

    def _begin(self) -> None:
        self._index = 0
        self._t_s = 0.0
        self._water_degc = self.water.start_degc
        self._randoms = [Random(f"bath {self._seed} {name}") for name in self.channels]  # noqa: S311  no secret
        self._wander_k = [0.0] * len(self._probes)
        self._tips_degc = [ROOM_DEGC if self._edges_s[:1] != (0.0,) else self.water.start_degc] * len(
            self._probes
        )

    # -- source

    def open(self) -> None:
        """Fill the vessel and start the clock."""
        self._begin()
        self._paced.start()

    def read(self) -> Sequence[Item]:
        """Return the readings due by now, waiting at most 0.2 s for the next one."""
        paced = self._paced
        if not paced.runs:
            return ()
        paced.wait_for(self._index)
        found: list[Item] = []
        now_s = self.now_s()
        if self._index == 0 and paced.runs:
            found.append(Notice(0.0, NoticeKind.READING, f"The probes hang in a {self.name}."))
        while paced.runs and len(found) < _BATCH and paced.due_s(self._index) <= now_s:
            found.append(self.next_reading())
        return found

    def now_s(self) -> float:
        """Return the source's clock, which runs `speed` times as fast as real time."""
        return self._paced.now_s()

    def interrupt(self) -> None:
        """Make a waiting `read` return soon."""
        self._paced.interrupt()

    def close(self) -> None:
        """Take it off the stove."""
        self._paced.stop()

    # -- the bath

    def next_reading(self) -> Reading:
        """Let the bath go on to its next reading and return it; needs neither clock nor `open`."""
        t_s = self._paced.due_s(self._index)
        self._index += 1
        for edge_s in self._edges_s:
            if self._t_s < edge_s < t_s:
                self._advance(edge_s)
        self._advance(t_s)
        values = [self._value(number) for number in range(len(self._probes))]
        reasons = tuple("open" if probe.is_open else "" for probe in self._probes)
        return Reading(round(t_s, 6), tuple(values), reasons=reasons if any(reasons) else ())

    @property
    def water_degc(self) -> float:
        """Return the water's temperature at this moment, °C, bubbles left out."""
        return self._water_degc

    def _advance(self, t_s: float) -> None:
        step_s = t_s - self._t_s
        if step_s <= 0.0:
            return
        in_water = sum(1 for edge_s in self._edges_s if edge_s <= self._t_s) % 2 == 1
        self._t_s = t_s
        self._heat(step_s)
        # Wandering of a first-order kind: each step forgets a share of it and adds as much anew.
        kept = exp(-step_s / _MEMORY_S)
        below_k = abs(self.water.end_degc - self._water_degc)
        lively = max(0.05, 1.0 - below_k / _BUBBLES_FROM_K)
        for number, (probe, random) in enumerate(zip(self._probes, self._randoms, strict=True)):
            fresh_k = self.water.wander_k * lively * sqrt(1.0 - kept * kept)
            self._wander_k[number] = kept * self._wander_k[number] + random.gauss(0.0, fresh_k)
            around_degc = self._water_degc + self._wander_k[number] if in_water else ROOM_DEGC
            # In air heat passes some twenty times slower than in water.
            tau_s = probe.tau_s if in_water else 20.0 * probe.tau_s
            self._tips_degc[number] += (around_degc - self._tips_degc[number]) * (1.0 - exp(-step_s / tau_s))

    def _heat(self, step_s: float) -> None:
        """Bring the water nearer to its end: at a steady rate, and gently over the last stretch."""
        rate_k_per_s = self.water.rate_k_per_min / 60.0
        left_k = self.water.end_degc - self._water_degc
        steady_s = min(step_s, max(0.0, (abs(left_k) - _NEAR_K) / rate_k_per_s))
        moved_k = rate_k_per_s * steady_s
        left_after_k = (abs(left_k) - moved_k) * exp(-(step_s - steady_s) * rate_k_per_s / _NEAR_K)
        self._water_degc = self.water.end_degc - (left_after_k if left_k > 0.0 else -left_after_k)

    def _value(self, number: int) -> float:
        probe = self._probes[number]
        if probe.is_open:
            return nan
        tip_degc = self._tips_degc[number]
        error_k = probe.offset_k + probe.slope_k_per_k * tip_degc
        noise_k = self._randoms[number].gauss(0.0, probe.noise_k)
        return quantised(tip_degc + error_k + noise_k, probe.quantum_k)
