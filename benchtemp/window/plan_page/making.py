"""Making a plan from what was typed into the form. Knows no widgets."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from benchtemp.errors import BadInput
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import Plan, PlanKind
from benchtemp.units import TempUnit, degc_from

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
}
INTERVALS_MIN: dict[PlanKind, float | None] = {
    PlanKind.STEADY: 3.0,
    PlanKind.SETPOINT: 10.0,
    PlanKind.BEFORE_AFTER: 3.0,
    PlanKind.MACHINES: None,
}
ORDERED = {
    PlanKind.IDLE: Order.RANDOM,
    PlanKind.FLUSH: Order.RANDOM,
    PlanKind.SETPOINT: Order.BALANCED,
    PlanKind.MACHINES: Order.BALANCED,
}
"""Kinds whose settings can follow each other in another order, with the usual one."""


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What stands in the form.

    Attributes:
        levels: What is varied, with commas between.
        count: Shots or repeats.
        idle_min: Before each shot of a flush series.
        unit: That setpoints are typed in.
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
    if not machine and typed.kind is not PlanKind.MACHINES:
        raise BadInput("Name the machine that is tested.")
    plan = _made(typed, machine)
    changes: dict[str, object] = {"interval_min": typed.interval_min}
    if typed.kind in ORDERED:
        changes["order"] = typed.order
    if typed.kind is PlanKind.WARM_UP:
        changes["interval_min"] = None
    return msgspec.structs.replace(plan, **changes)


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
        case PlanKind.BEFORE_AFTER:
            change = typed.levels.strip() or "change"
            return kinds.before_after(machine, change=change, shots=count, name=name)
        case _:
            machines = [part.strip() for part in typed.levels.split(",") if part.strip()]
            return kinds.machine_against_machine(machines, repeats=count, seed=seed, name=name)
