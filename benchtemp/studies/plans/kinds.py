"""Ready-made plans; every number in them can be changed."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from benchtemp.errors import BadInput
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import Plan, PlanKind, PlannedShot

STEADY_SHOTS = 10
STEADY_INTERVAL_MIN = 3.0


def _named(name: str, kind: PlanKind, machine: str) -> str:
    return name or (f"{kind} {machine}" if machine else str(kind))


def steady_series(
    machine: str, *, shots: int = STEADY_SHOTS, interval_min: float = STEADY_INTERVAL_MIN, name: str = ""
) -> Plan:
    """Return shots at a fixed interval, all alike: how steady is the machine?"""
    return Plan(
        name=_named(name, PlanKind.STEADY, machine),
        machine=machine,
        purpose="How alike are shots pulled one after another?",
        kind=PlanKind.STEADY,
        repeats=shots,
        interval_min=interval_min,
    )


def idle_series(
    machine: str,
    *,
    idles_min: Sequence[float] = (2.0, 5.0, 10.0, 20.0, 30.0),
    repeats: int = 2,
    seed: int = 1,
    name: str = "",
) -> Plan:
    """Return shots after different idle times without a flush: what does standing do?"""
    return Plan(
        name=_named(name, PlanKind.IDLE, machine),
        machine=machine,
        purpose="What does standing idle do to the brew temperature?",
        kind=PlanKind.IDLE,
        shots=tuple(PlannedShot(idle_min=idle_min, flush_s=0.0) for idle_min in idles_min),
        repeats=repeats,
        order=Order.RANDOM,
        seed=seed,
    )


def flush_series(
    machine: str,
    *,
    idle_min: float = 10.0,
    flushes_s: Sequence[float] = (0.0, 2.0, 4.0, 6.0),
    flushes_g: Sequence[float] = (),
    repeats: int = 3,
    seed: int = 1,
    name: str = "",
) -> Plan:
    """Return shots after one idle time and different flushes: how much must be let through?"""
    shots = [PlannedShot(idle_min=idle_min, flush_g=flush) for flush in flushes_g]
    return Plan(
        name=_named(name, PlanKind.FLUSH, machine),
        machine=machine,
        purpose=f"How much must be flushed after {idle_min:g} min idle?",
        kind=PlanKind.FLUSH,
        shots=tuple(shots or [PlannedShot(idle_min=idle_min, flush_s=flush) for flush in flushes_s]),
        repeats=repeats,
        order=Order.RANDOM,
        seed=seed,
    )


def setpoint_series(
    machine: str,
    *,
    setpoints_degc: Sequence[float] = (90.0, 92.0, 94.0, 96.0),
    repeats: int = 3,
    interval_min: float | None = 10.0,
    seed: int = 1,
    name: str = "",
) -> Plan:
    """Return shots at different setpoints, time to settle between them: what does the display mean?"""
    return Plan(
        name=_named(name, PlanKind.SETPOINT, machine),
        machine=machine,
        purpose="What does the machine brew at for what its display says?",
        kind=PlanKind.SETPOINT,
        shots=tuple(PlannedShot(setpoint_degc=value) for value in setpoints_degc),
        repeats=repeats,
        order=Order.BALANCED,
        seed=seed,
        interval_min=interval_min,
    )


def warm_up_series(
    machine: str,
    *,
    minutes: Sequence[float] = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0),
    name: str = "",
) -> Plan:
    """Return shots at minutes since switching on a cold machine: from when on can it be used?"""
    return Plan(
        name=_named(name, PlanKind.WARM_UP, machine),
        machine=machine,
        purpose="From when on after switching on does it brew as it will all day?",
        kind=PlanKind.WARM_UP,
        shots=tuple(PlannedShot(since_on_min=value) for value in minutes),
    )


def before_after(
    machine: str, *, change: str = "change", shots: int = 6, interval_min: float = 3.0, name: str = ""
) -> Plan:
    """Return as many shots before a change to the machine as after it: did it do anything?"""
    each = [{change: "before"}] * shots + [{change: "after"}] * shots
    return Plan(
        name=_named(name, PlanKind.BEFORE_AFTER, machine),
        machine=machine,
        purpose=f"What did the {change} do to the brew temperature?",
        kind=PlanKind.BEFORE_AFTER,
        shots=tuple(PlannedShot(factors=factors) for factors in each),
        interval_min=interval_min,
    )


def machine_against_machine(
    machines: Sequence[str], *, repeats: int = 6, seed: int = 1, name: str = ""
) -> Plan:
    """Return shots on machines turn by turn: do they brew alike?"""
    if len(set(machines)) < 2:
        raise BadInput("A plan of machine against machine needs two machines or more; name them all.")
    return Plan(
        name=name or " against ".join(machines),
        purpose="Do these machines brew alike?",
        kind=PlanKind.MACHINES,
        shots=tuple(PlannedShot(factors={"machine": machine}) for machine in machines),
        repeats=repeats,
        order=Order.BALANCED,
        seed=seed,
    )


def with_order(plan: Plan, order: Order, seed: int | None = None) -> Plan:
    """Return a plan in another order."""
    return msgspec.structs.replace(plan, order=order, seed=plan.seed if seed is None else seed)
