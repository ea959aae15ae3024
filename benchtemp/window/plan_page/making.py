"""Making a plan from what was typed into the form. Knows no widgets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import msgspec

from benchtemp.errors import BadInput
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import Plan, PlanKind, PlannedShot
from benchtemp.units import TempUnit, degc_from, degc_to

MADE_KINDS = tuple(kind for kind in PlanKind if kind is not PlanKind.OWN)
LEVELS = {
    PlanKind.IDLE: ("Idle times, min", "2, 5, 10, 20, 30"),
    PlanKind.FLUSH: ("Flushes, s", "0, 2, 4, 6"),
    PlanKind.SETPOINT: ("Setpoints, °C", "90, 92, 94, 96"),
    PlanKind.WARM_UP: ("Minutes since on", "5, 10, 15, 20, 25, 30, 40, 50, 60"),
    PlanKind.BEFORE_AFTER: ("What is changed", "gasket"),
    PlanKind.MACHINES: ("Machines", ""),
}
"""What is varied by the kinds that vary something, and the usual values (ours)."""
COUNTS = {
    PlanKind.STEADY: ("Shots", 10),
    PlanKind.IDLE: ("Repeats of each", 2),
    PlanKind.FLUSH: ("Repeats of each", 3),
    PlanKind.SETPOINT: ("Repeats of each", 3),
    PlanKind.BEFORE_AFTER: ("Shots each", 6),
    PlanKind.MACHINES: ("Repeats of each", 6),
    PlanKind.OWN: ("Repeats of each", 1),
}
INTERVALS_MIN: dict[PlanKind, float | None] = {
    PlanKind.STEADY: 3.0,
    PlanKind.SETPOINT: 10.0,
    PlanKind.BEFORE_AFTER: 3.0,
    PlanKind.MACHINES: None,
    PlanKind.OWN: None,
}
ORDERED = {
    PlanKind.IDLE: Order.RANDOM,
    PlanKind.FLUSH: Order.RANDOM,
    PlanKind.SETPOINT: Order.BALANCED,
    PlanKind.MACHINES: Order.BALANCED,
    PlanKind.OWN: Order.AS_WRITTEN,
}
"""Kinds whose settings can follow each other in another order, with the usual one."""
RESTED = (PlanKind.IDLE, PlanKind.FLUSH, PlanKind.SETPOINT, PlanKind.MACHINES, PlanKind.OWN)
"""Kinds whose repeats a rest can part."""


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What stands in the form.

    Attributes:
        levels: What is varied, with commas between.
        count: Shots or repeats.
        idle_min: Before each shot of a flush series.
        unit: That setpoints are typed in.
        rest_min: Pause between repeats.
        purpose: In a sentence; empty for the kind's own.
        recipe: Held to; None for the one set on the Bench.
        shots: Of a plan that was written by hand and is none of the ready-made kinds.
    """

    kind: PlanKind
    machine: str = ""
    name: str = ""
    levels: str = ""
    count: int = 1
    interval_min: float | None = None
    idle_min: float = 10.0
    order: Order = Order.AS_WRITTEN
    seed: int = 1
    unit: TempUnit = TempUnit.DEGC
    rest_min: float = 0.0
    purpose: str = ""
    recipe: Recipe | None = None
    shots: tuple[PlannedShot, ...] = ()


def numbers(text: str, what: str) -> tuple[float, ...]:
    """Return numbers typed with commas or blanks between.

    Raises:
        BadInput: They are none.
    """
    try:
        found = tuple(float(part) for part in text.replace(";", ",").replace(",", " ").split())
    except ValueError:
        raise BadInput(f"{what}: '{text}' is no list of numbers; write for instance 2, 5, 10.") from None
    if not found:
        raise BadInput(f"{what}: give at least one number, such as 2, 5, 10.")
    return found


def make_plan(typed: Typed) -> Plan:
    """Return the plan.

    Raises:
        BadInput: Something is missing or cannot be, with what to do.
    """
    machine = typed.machine.strip()
    if not machine and typed.kind not in {PlanKind.MACHINES, PlanKind.OWN}:
        raise BadInput("Name the machine that is tested.")
    plan = _made(typed, machine)
    changes: dict[str, object] = {"interval_min": typed.interval_min, "recipe": typed.recipe}
    if typed.kind in ORDERED:
        changes["order"] = typed.order
    if typed.kind is PlanKind.WARM_UP:
        changes["interval_min"] = None
    if typed.kind in RESTED:
        changes["rest_min"] = typed.rest_min
    if typed.purpose.strip():
        changes["purpose"] = typed.purpose.strip()
    return msgspec.structs.replace(plan, **changes)


def typed_of(plan: Plan, unit: TempUnit = TempUnit.DEGC) -> Typed:
    """Return what would have to stand in the form for a plan to come of it.

    A plan that no ready-made kind gives, such as one edited by hand, keeps its shots as they are.
    """
    typed = Typed(
        kind=plan.kind,
        machine=plan.machine,
        name=plan.name,
        count=plan.repeats,
        interval_min=plan.interval_min,
        order=plan.order,
        seed=plan.seed,
        rest_min=plan.rest_min,
        purpose=plan.purpose,
        recipe=plan.recipe,
    )
    typed = replace(typed, **_levels_of(plan))
    try:
        same = plan.kind is not PlanKind.OWN and make_plan(typed) == plan
    except BadInput:
        same = False
    if not same:
        return replace(typed, kind=PlanKind.OWN, count=plan.repeats, levels="", shots=plan.shots, unit=unit)
    if plan.kind is PlanKind.SETPOINT:
        shown = (degc_to(degc, unit) for degc in numbers(typed.levels, ""))
        typed = replace(typed, levels=_listed(round(value, 2) for value in shown))
    return replace(typed, unit=unit)


def _levels_of(plan: Plan) -> dict[str, Any]:
    """Return levels, and whatever else of the form the shots of a plan tell."""
    shots = plan.shots
    match plan.kind:
        case PlanKind.IDLE:
            return {"levels": _listed(shot.idle_min for shot in shots)}
        case PlanKind.FLUSH:
            return {"levels": _listed(shot.flush_s for shot in shots), "idle_min": shots[0].idle_min or 0.0}
        case PlanKind.SETPOINT:
            return {"levels": _listed(shot.setpoint_degc for shot in shots)}
        case PlanKind.WARM_UP:
            return {"levels": _listed(shot.since_on_min for shot in shots)}
        case PlanKind.BEFORE_AFTER:
            return {"levels": next(iter(shots[0].factors), ""), "count": len(shots) // 2}
        case PlanKind.MACHINES:
            return {"levels": ", ".join(shot.factors.get("machine", "") for shot in shots)}
        case _:
            return {}


def _listed(values: Iterable[float | None]) -> str:
    return ", ".join(f"{value:g}" for value in values if value is not None)


def _made(typed: Typed, machine: str) -> Plan:
    name, count, seed = typed.name.strip(), typed.count, typed.seed
    what = LEVELS.get(typed.kind, ("", ""))[0]
    match typed.kind:
        case PlanKind.STEADY:
            return kinds.steady_series(machine, shots=count, name=name)
        case PlanKind.IDLE:
            idles_min = numbers(typed.levels, what)
            return kinds.idle_series(machine, idles_min=idles_min, repeats=count, seed=seed, name=name)
        case PlanKind.FLUSH:
            flushes_s = numbers(typed.levels, what)
            return kinds.flush_series(
                machine, idle_min=typed.idle_min, flushes_s=flushes_s, repeats=count, seed=seed, name=name
            )
        case PlanKind.SETPOINT:
            shown = numbers(typed.levels, what)
            degc = tuple(round(degc_from(value, typed.unit), 2) for value in shown)
            return kinds.setpoint_series(
                machine, setpoints_degc=degc, repeats=count, seed=seed, interval_min=None, name=name
            )
        case PlanKind.WARM_UP:
            return kinds.warm_up_series(machine, minutes=numbers(typed.levels, what), name=name)
        case PlanKind.OWN:
            return Plan(
                name=name or f"plan for {machine}",
                machine=machine,
                purpose=typed.purpose.strip(),
                kind=PlanKind.OWN,
                shots=typed.shots,
                repeats=count,
                seed=seed,
            )
        case PlanKind.BEFORE_AFTER:
            change = typed.levels.strip() or "change"
            return kinds.before_after(machine, change=change, shots=count, name=name)
        case _:
            machines = [part.strip() for part in typed.levels.split(",") if part.strip()]
            return kinds.machine_against_machine(machines, repeats=count, seed=seed, name=name)
