"""The workshop's week: four made-up machines, their plans, and the shots pulled for them.

Everything is invented; nothing stands for a real machine, shop or person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.regular_file import shown
from benchtemp.probes.probe import Probe
from benchtemp.readings.virtual import Machine, Place, virtual_machines
from benchtemp.readings.virtual.script import (
    AnyStep,
    Enter,
    Flush,
    KnockOut,
    LockIn,
    Note,
    Setpoint,
    Shot,
    Wait,
    WaitForHeater,
    WaitSinceShot,
)
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import Plan, PlannedShot, Step
from benchtemp.studies.plans.plan_file import plan_path, save_plan
from benchtemp.studies.plans.status import where_it_stands
from benchtemp.studies.workshop.probes import AFTERWARDS, CHECKED, OLD, keep_probes
from benchtemp.studies.workshop.sitting import Sitting, keep_sitting

SHOP = "Quillmarsh Coffee Workshop (invented)"
COFFEE = "Ninth Lantern"
MONDAY = "2031-03-03"
RECIPE = Recipe(dose_g=18.0, time_low_s=20.0, time_high_s=32.0)
_YIELD_G = 36.0
_LONGEST_S = 34.0
_LOCKED_IN_S = 12.0
_READY_S = 40.0


def _plain_shot() -> list[AnyStep]:
    return [Shot(seconds=_LONGEST_S, yield_g=_YIELD_G), Wait(seconds=3.0), KnockOut()]


def _run(plan: Plan, spoiled: tuple[int, ...] = ()) -> Iterator[tuple[Step, bool]]:
    """Give a plan's steps as they come up when the pulls with these numbers (from 1) do not count."""
    pulled: list[ShotRecord] = []
    while (step := where_it_stands(plan, pulled).next_step) is not None:
        good = len(pulled) + 1 not in spoiled
        tags = {"plan": plan.name, "plan shot": str(step.number)}
        pulled.append(
            ShotRecord(number=len(pulled) + 1, pump_on_s=float(len(pulled)), counts=good, tags=tags)
        )
        yield step, good


def _entered(plan: Plan, step: Step) -> list[AnyStep]:
    return [Enter(text=text) for text in plan.entries(step) if not text.startswith("recipe.")]


def _rhythm(plan: Plan, spoiled: tuple[int, ...] = (), setpoint_lead_s: float = 0.0) -> tuple[AnyStep, ...]:
    """Return a script of shots at the plan's interval; a spoiled one is stopped far too soon."""
    interval_s = 60.0 * (plan.interval_min or 3.0)
    steps: list[AnyStep] = []
    for pull, (step, good) in enumerate(_run(plan, spoiled)):
        start_s = interval_s if pull else _READY_S + setpoint_lead_s
        steps += _entered(plan, step)
        if step.shot.setpoint_degc is not None:
            steps.append(Setpoint(degc=step.shot.setpoint_degc))
        steps += [WaitSinceShot(seconds=start_s - _LOCKED_IN_S), LockIn(), WaitSinceShot(seconds=start_s)]
        steps += _plain_shot() if good else [Shot(seconds=14.0), Wait(seconds=3.0), KnockOut()]
    return (*steps, Wait(seconds=20.0))


def _idle(plan: Plan, spoiled: tuple[int, ...] = ()) -> tuple[AnyStep, ...]:
    """Return a script of shots after idle times, with the plan's flushes."""
    steps: list[AnyStep] = []
    for step, good in _run(plan, spoiled):
        flush_s = step.shot.flush_s or 0.0
        steps += [
            *_entered(plan, step),
            KnockOut(),
            Wait(seconds=60.0 * (step.shot.idle_min or 0.0) - _READY_S),
        ]
        if flush_s:
            steps += [Wait(seconds=_READY_S - 25.0), Flush(seconds=flush_s), Wait(seconds=13.0)]
        else:
            steps.append(Wait(seconds=_READY_S - _LOCKED_IN_S))
        steps += [LockIn(), Wait(seconds=_LOCKED_IN_S)]
        steps += _plain_shot() if good else [Shot(seconds=14.0), Wait(seconds=3.0), KnockOut()]
    return (*steps, Wait(seconds=20.0))


def _from_cold(plan: Plan) -> tuple[AnyStep, ...]:
    steps: list[AnyStep] = [Note(text="switched on")]
    before_s = 0.0
    for step, _ in _run(plan):
        start_s = 60.0 * (step.shot.since_on_min or 0.0)
        steps += [
            *_entered(plan, step),
            WaitSinceShot(seconds=start_s - before_s - _LOCKED_IN_S),
            LockIn(),
            WaitSinceShot(seconds=start_s - before_s),
            *_plain_shot(),
        ]
        before_s = start_s
    return (*steps, Wait(seconds=20.0))


def _by_the_lamp(plan: Plan) -> tuple[AnyStep, ...]:
    """Return a script of shots at moments after the heater's lamp goes out, with rest in between."""
    steps: list[AnyStep] = [Wait(seconds=1200.0)]
    for step, _ in _run(plan):
        after_s = float(step.shot.factors["after heater off"].removesuffix(" s"))
        steps += [
            *_entered(plan, step),
            WaitForHeater(on=False),
            Note(text="heater off"),
            Wait(seconds=after_s - _LOCKED_IN_S),
            LockIn(),
            Wait(seconds=_LOCKED_IN_S),
            *_plain_shot(),
            Wait(seconds=420.0),
        ]
    return tuple(steps)


_HANDS = {"Wren": (8.0, 0.0), "Osk": (60.0, 0.0), "Ilva": (12.0, 5.0)}
"""How long before pump on each operator locks the cold portafilter in, and what they flush, s."""


def _many_hands(plan: Plan) -> tuple[AnyStep, ...]:
    steps: list[AnyStep] = []
    interval_s = 60.0 * (plan.interval_min or 4.0)
    for pull, (step, _) in enumerate(_run(plan)):
        locked_s, flush_s = _HANDS[step.shot.factors["operator"]]
        start_s = interval_s if pull else 2.0 * _READY_S
        steps += [*_entered(plan, step), WaitSinceShot(seconds=start_s - locked_s - flush_s - 5.0)]
        if flush_s:
            steps.append(Flush(seconds=flush_s))
        steps += [WaitSinceShot(seconds=start_s - locked_s), LockIn(), WaitSinceShot(seconds=start_s)]
        steps += _plain_shot()
    return (*steps, Wait(seconds=20.0))


class _Day(msgspec.Struct, frozen=True, kw_only=True):
    """A plan and how it was pulled.

    Attributes:
        day: From Monday, 0.
        at: Time of day.
        plan: Its name is that of the machine where it is about one.
        machine: Short name of the virtual machine.
        script: Makes the sitting's script.
    """

    day: int
    at: str
    plan: Plan
    machine: str
    script: Callable[[Plan], tuple[AnyStep, ...]]
    warm: bool = True
    places: tuple[Place, ...] = (Place.BASKET,)
    probe: Probe = CHECKED


def _week(machines: dict[str, Machine]) -> list[_Day]:
    dual, exchanger = machines["dual-boiler"].name, machines["heat-exchanger"].name
    single, block = machines["single-boiler"].name, machines["thermoblock"].name
    lamp = (25, 45, 65, 85, 105, 125)
    return [
        _Day(
            day=0,
            at="09:10",
            plan=kinds.steady_series(dual),
            machine="dual-boiler",
            script=lambda plan: _rhythm(plan, spoiled=(4,)),
        ),
        _Day(
            day=0,
            at="10:30",
            plan=kinds.steady_series(block),
            machine="thermoblock",
            script=_rhythm,
            probe=AFTERWARDS,
        ),
        _Day(
            day=0,
            at="14:00",
            plan=kinds.steady_series(exchanger, shots=8),
            machine="heat-exchanger",
            script=_rhythm,
        ),
        _Day(
            day=1,
            at="09:00",
            plan=kinds.setpoint_series(
                dual, setpoints_degc=(92.0, 94.0, 96.0, 98.0), interval_min=12.0, seed=5
            ),
            machine="dual-boiler",
            script=lambda plan: _rhythm(plan, setpoint_lead_s=600.0),
        ),
        _Day(
            day=1,
            at="13:00",
            plan=kinds.idle_series(exchanger, seed=2),
            machine="heat-exchanger",
            script=lambda plan: _idle(plan, spoiled=(7,)),
        ),
        _Day(
            day=2,
            at="09:00",
            plan=kinds.flush_series(exchanger, flushes_s=(0.0, 3.0, 6.0, 9.0), seed=3),
            machine="heat-exchanger",
            script=_idle,
        ),
        _Day(
            day=3,
            at="07:30",
            plan=kinds.warm_up_series(dual),
            machine="dual-boiler",
            script=_from_cold,
            warm=False,
            places=(Place.BASKET, Place.GROUP),
        ),
        _Day(
            day=3,
            at="10:00",
            plan=Plan(
                name=f"by the lamp {single}",
                machine=single,
                purpose="At which moment of the heating cycle should a shot start?",
                shots=tuple(PlannedShot(factors={"after heater off": f"{after} s"}) for after in lamp),
                repeats=2,
                order=Order.RANDOM,
                seed=4,
            ),
            machine="single-boiler",
            script=_by_the_lamp,
            places=(Place.BASKET, Place.BOILER),
            probe=OLD,
        ),
        _Day(
            day=4,
            at="09:00",
            plan=Plan(
                name=f"three hands {dual}",
                machine=dual,
                purpose="How much do shots depend on who pulls them?",
                shots=tuple(PlannedShot(factors={"operator": name}) for name in _HANDS),
                repeats=5,
                order=Order.RANDOM,
                seed=6,
                interval_min=4.0,
            ),
            machine="dual-boiler",
            script=_many_hands,
        ),
    ]


def build_week(logbook: Logbook, *, seed: int = 1, tell: Callable[[str], None] = lambda _text: None) -> int:
    """Fill an empty logbook with the workshop's week; return how many shots it holds.

    The same seed gives the same readings.

    Args:
        logbook: Where nothing has been kept yet.
        seed: Of noise, beds of coffee and all else that is left to chance.
        tell: Told what is being done, in sentences.

    Raises:
        BadInput: There are shots in the logbook already.
        StorageError: The disk does not take it.
    """
    if next(iter(logbook.shots()), None) or next(iter(logbook.recordings()), None):
        raise BadInput(
            f"The logbook {shown(logbook.root)} is not empty; choose another folder for the demo week."
        )
    keep_probes(logbook)
    machines = virtual_machines()
    count = 0
    for place, day in enumerate(_week(machines)):
        tell(f"{_started(day.day, day.at)[:16].replace('T', ' ')}  {day.plan.name}")
        save_plan(plan_path(logbook, day.plan), day.plan)
        count += len(keep_sitting(logbook, _sitting(day, machines), 1000 * seed + place))
    tell(f"{_started(4, '13:00')[:16].replace('T', ' ')}  machine against machine")
    count += _contest(logbook, machines, seed)
    return count


def _sitting(day: _Day, machines: dict[str, Machine]) -> Sitting:
    return Sitting(
        machine=machines[day.machine],
        started=_started(day.day, day.at),
        script=(Enter(text="dose_g=18"), *day.script(day.plan)),
        warm=day.warm,
        places=day.places,
        tags={"coffee": COFFEE, "shop": SHOP},
        recipe=RECIPE,
        probe=day.probe,
        purpose=day.plan.purpose,
    )


def _contest(logbook: Logbook, machines: dict[str, Machine], seed: int) -> int:
    """Pull on three machines turn by turn, the one checked probe going from one to the next."""
    keys = ("dual-boiler", "single-boiler", "thermoblock")
    by_name = {machines[key].name: machines[key] for key in keys}
    plan = kinds.machine_against_machine(list(by_name), repeats=6, seed=seed, name="friday contest")
    save_plan(plan_path(logbook, plan), plan)
    count = 0
    for place, step in enumerate(plan.sequence()):
        minutes = 6 * place
        sitting = Sitting(
            machine=by_name[step.shot.factors["machine"]],
            started=_started(4, f"{13 + minutes // 60:02d}:{minutes % 60:02d}"),
            script=(
                Enter(text="dose_g=18"),
                *_entered(plan, step),
                Wait(seconds=20.0),
                LockIn(),
                Wait(seconds=_LOCKED_IN_S),
                *_plain_shot(),
                Wait(seconds=20.0),
            ),
            # Each machine was used a while before, at another moment of its own cycle every time.
            before=(Flush(seconds=8.0), Wait(seconds=240.0 + 37.0 * (place % 7))),
            tags={"coffee": COFFEE, "shop": SHOP},
            recipe=RECIPE,
            probe=CHECKED,
            purpose=plan.purpose,
        )
        count += len(keep_sitting(logbook, sitting, 1000 * seed + 100 + place))
    return count


def _started(day: int, at: str) -> str:
    date = dt.date.fromisoformat(MONDAY) + dt.timedelta(days=day)
    return f"{date.isoformat()}T{at}:00+00:00"
