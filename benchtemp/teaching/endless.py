"""Practice shots without end: virtual machines, a seed, and three levels.

What makes a level: how much noise, how coarse and how slow the interface, which machines, how the operator
handles the portafilter before, and how strictly it is marked. All of it is our own choice.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from enum import StrEnum

import msgspec

from benchtemp.errors import BadInput
from benchtemp.readings.reading import MarkKind, Stream
from benchtemp.readings.virtual import Machine, Probe, simulate, virtual_machines
from benchtemp.readings.virtual import Place as ProbePlace
from benchtemp.readings.virtual.script import (
    AnyStep,
    Flush,
    KnockOut,
    LockIn,
    Shot,
    Spike,
    Wait,
    standing,
)
from benchtemp.shots.plateau import FLUSH_LONGEST_S
from benchtemp.shots.recipe import Recipe
from benchtemp.teaching.cutting import item_from, pulls_in
from benchtemp.teaching.exercise import ITEMS_LIMIT, Basis, Exercise, Item, Reference, Tolerance
from benchtemp.teaching.reference import judged

DOSE_G = 18.0
_IDLE_LEAD_S = 60.0
_DRAWS = 12
_CLEAR_S = 1.0
_CLEAR_RATIO = 0.02
"""Closer than this to a limit of the recipe nobody can see on which side a shot lies."""


class Level(StrEnum):
    """How hard it is to see what happened."""

    EASY = "easy"
    USUAL = "usual"
    HARD = "hard"


@dataclass(frozen=True, slots=True)
class _Difficulty:
    """What makes a level.

    Attributes:
        machines: Short names of the virtual machines.
        noise_k: Standard deviation of a reading, from and to.
        quanta_k: Steps of the values.
        rates_hz: Readings a second.
        odd_share: How often a shot does not count.
        flush_share: How often the group is flushed shortly before.
        preinfusion_share: How often the pump begins with a pre-infusion.
        idle_share: How often the machine stood unused before.
        spike_share: How often single readings are far off.
        tolerance: For full points.
    """

    machines: tuple[str, ...]
    noise_k: tuple[float, float]
    quanta_k: tuple[float, ...]
    rates_hz: tuple[float, ...]
    odd_share: float
    flush_share: float
    preinfusion_share: float
    idle_share: float
    spike_share: float
    tolerance: Tolerance


_LEVELS = {
    Level.EASY: _Difficulty(
        machines=("dual-boiler",),
        noise_k=(0.02, 0.05),
        quanta_k=(0.1,),
        rates_hz=(10.0,),
        odd_share=0.25,
        flush_share=0.0,
        preinfusion_share=0.0,
        idle_share=0.0,
        spike_share=0.0,
        tolerance=Tolerance(pump_on_s=0.8, plateau_start_s=1.5, brew_temp_k=0.3),
    ),
    Level.USUAL: _Difficulty(
        machines=("dual-boiler", "heat-exchanger", "single-boiler", "thermoblock"),
        noise_k=(0.04, 0.10),
        quanta_k=(0.1, 0.25),
        rates_hz=(4.0, 10.0),
        odd_share=0.35,
        flush_share=0.2,
        preinfusion_share=0.15,
        idle_share=0.2,
        spike_share=0.0,
        tolerance=Tolerance(),
    ),
    Level.HARD: _Difficulty(
        machines=("dual-boiler", "heat-exchanger", "single-boiler", "thermoblock", "slow-pump"),
        noise_k=(0.10, 0.20),
        quanta_k=(0.1, 0.25),
        rates_hz=(1.0, 2.0, 4.0),
        odd_share=0.45,
        flush_share=0.35,
        preinfusion_share=0.35,
        idle_share=0.35,
        spike_share=0.3,
        tolerance=Tolerance(),
    ),
}


def practice_exercise(level: Level, seed: int, count: int = 5) -> Exercise:
    """Make a round's worth of practice shots.

    Raises:
        BadInput: Fewer than 1 or more than 60 are wanted.
    """
    if not 1 <= count <= ITEMS_LIMIT:
        raise BadInput(f"A round has 1 to {ITEMS_LIMIT} shots; {count} cannot be made.")
    return Exercise(
        title=f"Practice, {level}, seed {seed}",
        teacher="benchtemp",
        words="Mark pump on and the moment the plateau is reached, name the brew temperature, and say "
        "whether the shot counts.",
        items=tuple(practice_item(level, seed, number) for number in range(1, count + 1)),
    )


def practice_item(level: Level, seed: int, number: int = 1) -> Item:
    """Make a practice shot; the same level, seed and number give the same shot, and there is no last one.

    Its reference is the virtual machine's own truth: pump on is when the pump was switched on; the plateau
    starts when the noise-free probe for the last time climbs faster than 0.25 °C/s and ends at pump off; the
    brew temperature is the noise-free probe's time-weighted mean between the two. Their uncertainties are
    how well the noisy trace can tell them. Shots on the brink of counting are not asked for.

    It takes a few tenths of a second.
    """
    chance = random.Random(f"practice {level} {seed} {number}")  # noqa: S311  no secret depends on it
    item = _drawn(Level(level), chance, number)
    for _ in range(_DRAWS):
        if _clear(item):
            break
        item = _drawn(Level(level), chance, number)
    return item


def _drawn(level: Level, chance: random.Random, number: int) -> Item:
    """Return the next shot that comes to hand."""
    stream = _recording(_LEVELS[level], chance)
    pull = pulls_in(stream)[0]
    found = item_from(
        stream,
        msgspec.structs.replace(pull, dose_g=DOSE_G, yield_g=round(stream.meta["truth"][0]["yield_g"], 1)),
        title=f"Shot {number}",
        tolerance=_LEVELS[level].tolerance,
    )
    return replace(found, reference=_truth(found, stream))


def _clear(item: Item) -> bool:
    """Tell whether an eye can see if the shot counts: nothing lies close to where that changes."""
    reference, recipe = item.reference, item.recipe
    if reference.pump_off_s is None or item.dose_g is None or item.yield_g is None:
        return False
    ran_s = reference.pump_off_s - reference.pump_on_s
    ratio = item.yield_g / item.dose_g / recipe.brew_ratio
    kept_ratio = abs(ratio - 1.0) < recipe.brew_ratio_tolerance
    if abs(abs(ratio - 1.0) - recipe.brew_ratio_tolerance) < _CLEAR_RATIO:
        return False
    if kept_ratio and min(abs(ran_s - recipe.time_low_s), abs(ran_s - recipe.time_high_s)) < _CLEAR_S:
        return False
    if reference.plateau_start_s is None or reference.plateau_end_s is None:
        return True
    return abs(reference.plateau_end_s - reference.plateau_start_s - recipe.plateau_min_s) >= _CLEAR_S


def _recording(difficulty: _Difficulty, chance: random.Random) -> Stream:
    """Return a recording of one pull."""
    machine = virtual_machines()[chance.choice(difficulty.machines)]
    idle = chance.random() < difficulty.idle_share and machine.coil is not None
    machine = _varied(machine, difficulty, chance)
    probe = Probe(
        wet_tau_s=round(chance.uniform(0.35, 0.8), 2),
        noise_k=round(chance.uniform(*difficulty.noise_k), 3),
        quantum_k=chance.choice(difficulty.quanta_k),
    )
    seconds, yield_g = _run(machine, difficulty, chance)
    script: list[AnyStep] = [Wait(seconds=round(chance.uniform(5.0, 12.0), 1)), KnockOut()]
    if chance.random() < difficulty.flush_share:
        script += [Wait(seconds=3.0), Flush(seconds=4.0)]
    script += [
        Wait(seconds=round(chance.uniform(6.0, 10.0), 1)),
        LockIn(dose_g=DOSE_G),
        Wait(seconds=round(chance.uniform(7.0, 16.0), 1)),
    ]
    if chance.random() < difficulty.spike_share:
        script.append(Spike(delta_k=chance.choice((-260.0, 310.0)), into_shot_s=chance.uniform(4.0, 20.0)))
    script += [Shot(seconds=seconds, yield_g=yield_g), Wait(seconds=24.0)]
    return simulate(
        machine,
        script,
        seed=chance.randrange(2**31),
        rate_hz=chance.choice(difficulty.rates_hz),
        places=(ProbePlace.BASKET,),
        probe=probe,
        before=standing(1500.0, _IDLE_LEAD_S) if idle else (LockIn(dose_g=0.0), Wait(seconds=90.0)),
        meta={"recipe": msgspec.to_builtins(Recipe())},
    )


def _varied(machine: Machine, difficulty: _Difficulty, chance: random.Random) -> Machine:
    """Return the machine with another setpoint, grind and pre-infusion."""
    boiler, pump, basket = machine.boiler, machine.pump, machine.basket
    shift_k = round(chance.uniform(-1.5, 1.5), 1)
    control = msgspec.structs.replace(boiler.control, setpoint_degc=boiler.control.setpoint_degc + shift_k)
    if chance.random() < difficulty.preinfusion_share:
        pump = msgspec.structs.replace(
            pump,
            preinfusion_s=round(chance.uniform(2.0, 5.0), 1),
            pause_s=round(chance.uniform(0.0, 3.0), 1),
        )
    grind = chance.uniform(0.98, 1.12)
    return msgspec.structs.replace(
        machine,
        boiler=msgspec.structs.replace(boiler, control=control),
        pump=pump,
        basket=msgspec.structs.replace(basket, resistance_pa_s_per_kg=basket.resistance_pa_s_per_kg * grind),
    )


def _run(machine: Machine, difficulty: _Difficulty, chance: random.Random) -> tuple[float, float | None]:
    """Return how long the pump runs at most, and the yield it is stopped at."""
    if chance.random() >= difficulty.odd_share:
        return 40.0, 2.0 * DOSE_G
    odd = chance.random()
    fill_s = machine.pump.preinfusion_s + machine.pump.pause_s
    if odd < 0.25:
        return round(chance.uniform(5.0, 8.0), 1), None
    if odd < 0.5:
        return round(fill_s + chance.uniform(13.0, 17.0), 1), None
    if odd < 0.75:
        return round(chance.uniform(31.0, 38.0), 1), None
    return 40.0, round(chance.choice((1.4, 1.6, 2.5)) * DOSE_G, 1)


def _truth(item: Item, stream: Stream) -> Reference:
    """Return the truth of the recording's only pull on the item's clock."""
    found, truth = item.reference, stream.meta["truth"][0]
    on_s = next(mark.t_s for mark in stream.marks if mark.kind is MarkKind.PUMP_ON)
    zero_s = on_s - item.pump_marks[0].t_s
    off_s = float(truth["pump_off_s"])
    start_s = truth["plateau_start_s"]
    settled_s = off_s - start_s if start_s is not None else 0.0
    if settled_s < item.recipe.plateau_min_s and off_s - float(truth["pump_on_s"]) < FLUSH_LONGEST_S:
        start_s = None
    reference = Reference(
        basis=Basis.TRUTH,
        pump_on_s=round(float(truth["pump_on_s"]) - zero_s, 4),
        pump_off_s=round(off_s - zero_s, 4),
        plateau_start_s=None if start_s is None else round(start_s - zero_s, 4),
        plateau_end_s=None if start_s is None else round(off_s - zero_s, 4),
        plateau_start_uncertainty_s=0.0 if start_s is None else found.plateau_start_uncertainty_s,
        brew_temp_degc=None if start_s is None else truth["brew_temp_degc"],
        brew_temp_uncertainty_k=0.0 if start_s is None else found.brew_temp_uncertainty_k,
    )
    return judged(item, reference)
