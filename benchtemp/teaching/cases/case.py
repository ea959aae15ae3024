"""A sealed case: a virtual machine with a fault that nothing in window or files gives away."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import replace

import msgspec
import numpy as np

from benchtemp import __version__
from benchtemp.errors import BadInput
from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.check import Check
from benchtemp.probes.checking import ProbeCheck
from benchtemp.readings.reading import Stream
from benchtemp.readings.virtual import Order, OrderKind, Place, Scale, VirtualSource, simulate
from benchtemp.readings.virtual.pot import (
    POT_DEPTH_CM,
    POT_PRESSURE_HPA,
    Bath,
    BathProbe,
    VirtualPot,
)
from benchtemp.readings.virtual.script import (
    AnyStep,
    Enter,
    Grind,
    KnockOut,
    LockIn,
    Setpoint,
    Shot,
    Tare,
    Wait,
    WaitSinceShot,
)
from benchtemp.shots.recipe import Recipe
from benchtemp.teaching.cases.sealed import BUILD, DOSE_G, YIELD_G, Sealed, unsealed

HIGHEST_CODE = 999_999
RATE_HZ = 10.0
SHOTS_LIMIT = 40
LONGEST_SHOT_S = 40.0
SHORTEST_INTERVAL_S = 90.0
LONGEST_INTERVAL_S = 3600.0
INTERVAL_SPREAD = 0.35
"""By so much a share intervals differ from what was asked for, so that no shot keeps step with a heater."""
PROBE = "case probe"
_LEAD_S = 30.0
_USUAL_GRIND = 100.0
_LEVEL_K = _REPEAT_K = 0.3
_SETTLED_S = 20.0
_LONGEST_CHECK_S = 1200.0


class Brief(msgspec.Struct, frozen=True, kw_only=True):
    """What the trainee is told.

    Attributes:
        code: The case's number.
        machine: The machine's invented name.
        build: What it is, in a few words.
        display_degc: What its display says it brews at.
        dose_g, yield_g: The recipe in use.
        shot_time_s: How long such a shot takes on a sound machine, from and to.
        level_k: How far the mean of some shots may lie from the display of a sound machine.
        repeat_k: Within what two shots of a sound machine lie, whenever they are pulled.
        sound: What a machine of this build does when nothing is wrong, sentence by sentence.
        complaint: What its owner says; the same words for every fault.
        tests: What can be done, sentence by sentence.
    """

    code: int
    machine: str
    build: str
    display_degc: float
    dose_g: float
    yield_g: float
    shot_time_s: tuple[float, float]
    level_k: float
    repeat_k: float
    sound: tuple[str, ...]
    complaint: str
    tests: tuple[str, ...]


class Case:
    """A case made from its number; the same number is always the same case.

    Attributes:
        code: The number.
        brief: What the trainee is told.
    """

    def __init__(self, code: int) -> None:
        """Seal a case.

        Args:
            code: 1 to 999999; who is given it can open it here and elsewhere.

        Raises:
            BadInput: No such number.
        """
        if not 1 <= code <= HIGHEST_CODE:
            raise BadInput(f"There is no case {code}; give a number from 1 to {HIGHEST_CODE}.")
        self.code = code
        self._sealed = unsealed(code)
        self.brief = _brief(code, self._sealed)

    def __repr__(self) -> str:
        """Return the number and nothing else."""
        return f"Case({self.code})"

    def break_seal(self) -> Sealed:
        """Return what the case really is; for marking, once the trainee has named a fault."""
        return self._sealed

    @property
    def details(self) -> dict[str, object]:
        """Return what the machine says of itself in a header."""
        probe = self._sealed.machine.probe
        return {
            "kind": "virtual machine",
            "name": self.brief.machine,
            "build": BUILD,
            "case": self.code,
            "rate_hz": RATE_HZ,
            "places": ["basket"],
            "quantum_k": probe.quantum_k,
            "noise_k": probe.noise_k,
        }

    def open(
        self, *, speed: float = 1.0, sitting: int = 1, clock: Callable[[], float] = time.perf_counter
    ) -> VirtualSource:
        """Return the machine as a source with pump and scale, like any virtual machine; not yet open.

        Opened, it has been standing ready as the owner left it. Give `brief.machine` to
        `start_sitting(machine=…)`.

        Args:
            speed: How fast its clock runs, 1 for real time.
            sitting: Other beds and noise for another number.
            clock: Seconds from anywhere, for instance a test's own.
        """
        sealed = self._sealed
        probe = msgspec.structs.replace(sealed.machine.probe, offset_k=sealed.probe_error_k)
        return VirtualSource(
            msgspec.structs.replace(sealed.machine, probe=probe),
            self._seed(sitting),
            RATE_HZ,
            (Place.BASKET,),
            speed=speed,
            scale=Scale(),
            warm=sealed.warm,
            standing_s=sealed.standing_s,
            display_above_k=sealed.display_above_k,
            details=self.details,
            clock=clock,
        )

    def pot(
        self,
        bath: Bath = Bath.POT,
        *,
        speed: float = 1.0,
        sitting: int = 1,
        clock: Callable[[], float] = time.perf_counter,
    ) -> VirtualPot:
        """Return the case's own pot (or ice bath) with the very probe from its basket.

        The pot stands at `POT_PRESSURE_HPA`, the probe `POT_DEPTH_CM` deep (`readings.virtual.pot`).
        """
        probe = BathProbe(offset_k=self._sealed.probe_error_k, slope_k_per_k=0.0)
        return VirtualPot(bath, (probe,), seed=self._seed(sitting), speed=speed, clock=clock)

    def _seed(self, sitting: int) -> int:
        return random.Random(f"case {self.code} sitting {sitting}").randrange(2**31)  # noqa: S311  no secret

    def pull(
        self,
        shots: int = 6,
        *,
        interval_s: float = 180.0,
        irregular: bool = True,
        setpoint_degc: float | None = None,
        dose_g: float = DOSE_G,
        grind_percent: float = 100.0,
        sitting: int = 1,
        started: str = "2031-03-04T08:00:00+00:00",
    ) -> Stream:
        """Pull shots by script at once and return the recording; its header gives nothing away.

        Args:
            shots: How many, 1 to 40.
            interval_s: Pump on to pump on, in the mean.
            irregular: Whether intervals differ from one another by up to 35 %.
            setpoint_degc: What the display is set to before the machine stands; None leaves it as found.
            dose_g: Dry coffee.
            grind_percent: Mean particle size, 100 as the owner leaves it.
            sitting: Other beds and noise for another number; the machine starts as the owner left it.
            started: ISO 8601 moment with UTC offset at which the recording is said to begin.

        Raises:
            BadInput: The shots do not fit.
        """
        if not 1 <= shots <= SHOTS_LIMIT:
            raise BadInput(f"{shots} shots cannot be pulled in one go; give 1 to {SHOTS_LIMIT}.")
        if not SHORTEST_INTERVAL_S <= interval_s <= LONGEST_INTERVAL_S:
            raise BadInput(
                f"Shots {interval_s:g} s apart cannot be pulled; give {SHORTEST_INTERVAL_S:g} to "
                f"{LONGEST_INTERVAL_S:g} s."
            )
        if setpoint_degc is not None:
            Order(OrderKind.SETPOINT, setpoint_degc).checked()
        Order(OrderKind.DOSE, dose_g).checked()
        Order(OrderKind.GRIND, grind_percent).checked()
        sealed = self._sealed
        settings: list[AnyStep] = [Grind(percent=grind_percent)]
        if setpoint_degc is not None:
            settings.append(Setpoint(degc=setpoint_degc - sealed.display_above_k))
        stream = simulate(
            msgspec.structs.replace(
                sealed.machine, probe=msgspec.structs.replace(sealed.machine.probe, quantum_k=0.0)
            ),
            _script(shots, interval_s, dose_g=dose_g, irregular=irregular, seed=self._seed(sitting)),
            seed=self._seed(sitting),
            rate_hz=RATE_HZ,
            places=(Place.BASKET,),
            scale=Scale(),
            warm=sealed.warm,
            before=(
                *settings,
                Wait(seconds=sealed.standing_s - _SETTLED_S),
                LockIn(dose_g=dose_g),
                Wait(seconds=_SETTLED_S),
            ),
            started=started,
        )
        display_degc = self.brief.display_degc if setpoint_degc is None else setpoint_degc
        tags = {"setpoint": f"{display_degc:g} °C", "case": str(self.code)}
        if grind_percent != _USUAL_GRIND:
            tags["grind"] = f"{grind_percent:g} %"
        return self._as_recorded(stream, started, dose_g, tags)

    def _as_recorded(self, stream: Stream, started: str, dose_g: float, tags: dict[str, str]) -> Stream:
        """Return the stream as the interface on the case would have recorded it."""
        quantum_k = self._sealed.machine.probe.quantum_k
        reported = stream.temps_degc + self._sealed.probe_error_k
        return replace(
            stream,
            temps_degc=np.round(np.round(reported / quantum_k) * quantum_k, 6),
            meta={
                "kind": "recording",
                "format_version": 1,
                "program": f"benchtemp {__version__}",
                "started": started,
                "source": dict(self.details),
                "channels": [{"name": "T1"}],
                "basket_channel": "T1",
                "machine": self.brief.machine,
                "recipe": {"dose_g": dose_g},
                "tags": tags,
            },
        )

    def boil(self, *, sitting: int = 1, checked: str = "2031-03-04T08:00:00+00:00") -> Check:
        """Hold the probe into the case's pot, without a clock, and return the check.

        Args:
            sitting: Other bubbles and noise for another number.
            checked: ISO 8601 moment with UTC offset at which it is said to be checked.

        Raises:
            NotSettled: The pot never keeps still.
        """
        check = ProbeCheck({0: PROBE})
        check.begin_bath(boiling_reference(pressure_hpa=POT_PRESSURE_HPA, depth_cm=POT_DEPTH_CM))
        pot = self.pot(sitting=sitting)
        while True:
            reading = pot.next_reading()
            check.step(reading.t_s, reading.temps_degc)
            if reading.t_s % 1.0 == 0.0:
                told = check.progress()
                if told.ready or told.lost or reading.t_s > _LONGEST_CHECK_S:
                    break
        check.finish_bath()
        return check.checks(checked=checked)[PROBE]


def _script(
    shots: int, interval_s: float, *, dose_g: float, irregular: bool, seed: int
) -> tuple[AnyStep, ...]:
    """Return what the operator does: the first shot with the basket that is locked in already."""
    chance = random.Random(f"intervals {seed}")  # noqa: S311  no secret depends on it
    recipe_shot = Shot(seconds=LONGEST_SHOT_S, yield_g=YIELD_G)
    steps: list[AnyStep] = [Enter(text=f"dose_g={dose_g:g}"), Wait(seconds=_LEAD_S), Tare(), recipe_shot]
    # Spread evenly and shuffled: drawn one by one they might all come alike.
    spread = [2.0 * (place + 0.5) / max(shots - 1, 1) - 1.0 for place in range(shots - 1)]
    chance.shuffle(spread)
    for beside in spread:
        share = 1.0 + (INTERVAL_SPREAD * beside if irregular else 0.0)
        since_s = max(SHORTEST_INTERVAL_S, interval_s * share)
        steps += [
            Wait(seconds=2.0),
            KnockOut(),
            Wait(seconds=8.0),
            LockIn(dose_g=0.0),
            WaitSinceShot(seconds=since_s - 22.0),
            KnockOut(),
            Wait(seconds=10.0),
            LockIn(dose_g=dose_g),
            Tare(),
            WaitSinceShot(seconds=since_s),
            recipe_shot,
        ]
    return (*steps, Wait(seconds=25.0))


def _brief(code: int, sealed: Sealed) -> Brief:
    recipe = Recipe()
    boiling = (
        f"Hold the basket's probe into boiling water ({POT_PRESSURE_HPA:g} hPa, {POT_DEPTH_CM:g} cm deep) or "
        "into ice."
    )
    return Brief(
        code=code,
        machine=sealed.machine.name,
        build=BUILD,
        display_degc=sealed.display_degc,
        dose_g=DOSE_G,
        yield_g=YIELD_G,
        shot_time_s=(recipe.time_low_s, recipe.time_high_s),
        level_k=_LEVEL_K,
        repeat_k=_REPEAT_K,
        sound=(
            f"Its display shows the brew temperature; the mean of shots lies within {_LEVEL_K:g} K of it.",
            f"Shots at any moment come within {_REPEAT_K:g} K of one another.",
            f"{DOSE_G:g} g give {YIELD_G:g} g in 22 to 28 s; the plateau begins 7 to 9 s after pump on.",
            "Once it is warmed through, the first shot is like the tenth.",
        ),
        complaint=(
            "The coffee is not what it was. I switched it on before you came. Please tell me what is wrong, "
            "if anything is; it is one thing at most."
        ),
        tests=(
            "Pull shots, as many as you need: each counts as used. The first one soon, as the owner would.",
            "Vary the time between shots, or keep it even.",
            "Weigh and time every shot.",
            "Change setpoint, dose or grind, flush, let it stand idle.",
            boiling,
        ),
    )
