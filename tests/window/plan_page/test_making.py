"""Plans made from what is typed."""

from __future__ import annotations

import dataclasses

import pytest

from benchtemp.errors import BadInput
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import Plan, PlanKind, PlannedShot
from benchtemp.units import TempUnit
from benchtemp.window.plan_page.making import (
    INTERVALS_MIN,
    LEVELS,
    MADE_KINDS,
    Typed,
    make_plan,
    numbers,
    typed_of,
)


@pytest.mark.parametrize("kind", MADE_KINDS)
def test_every_kind_can_be_made_from_its_usual_values(kind):
    levels = LEVELS.get(kind, ("", ""))[1] or "A, B"
    plan = make_plan(
        Typed(kind=kind, machine="A", levels=levels, count=3, interval_min=INTERVALS_MIN.get(kind))
    )
    assert plan.kind is kind
    assert plan.count == len(plan.sequence())
    assert plan.order_sentence()


def test_counts_interval_order_and_name_are_taken():
    plan = make_plan(
        Typed(
            kind=PlanKind.SETPOINT,
            machine=" A ",
            name="mine",
            levels="90; 94",
            count=4,
            interval_min=6.0,
            order=Order.RANDOM,
        )
    )
    assert plan.name == "mine"
    assert plan.machine == "A"
    assert plan.count == 8
    assert plan.interval_min == 6.0
    assert plan.order is Order.RANDOM
    assert [shot.setpoint_degc for shot in plan.shots] == [90.0, 94.0]


def test_setpoints_typed_in_fahrenheit_are_kept_in_celsius():
    plan = make_plan(
        Typed(kind=PlanKind.SETPOINT, machine="A", levels="194 203", count=1, unit=TempUnit.DEGF)
    )
    assert [shot.setpoint_degc for shot in plan.shots] == [90.0, 95.0]


def test_no_interval_means_whenever_the_operator_is_ready():
    assert make_plan(Typed(kind=PlanKind.STEADY, machine="A", count=5)).interval_min is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (Typed(kind=PlanKind.STEADY), "Name the machine"),
        (Typed(kind=PlanKind.IDLE, machine="A", levels="two"), "no list of numbers"),
        (Typed(kind=PlanKind.IDLE, machine="A", levels=" "), "at least one number"),
        (Typed(kind=PlanKind.MACHINES, levels="A"), "two machines"),
        (Typed(kind=PlanKind.FLUSH, machine="A", levels="0, 500"), "cannot be"),
        (Typed(kind=PlanKind.STEADY, machine="A", interval_min=0.1), "cannot be"),
    ],
)
def test_what_cannot_be_is_said(typed, said):
    with pytest.raises(BadInput, match=said):
        make_plan(typed)


def test_numbers_may_be_parted_by_anything_usual():
    assert numbers("2, 5;10  20", "idle") == (2.0, 5.0, 10.0, 20.0)


@pytest.mark.parametrize("unit", list(TempUnit)[:2])
@pytest.mark.parametrize("kind", MADE_KINDS)
def test_a_plan_goes_into_the_form_and_comes_out_the_same(kind, unit):
    levels = LEVELS.get(kind, ("", ""))[1] or "A, B"
    plan = make_plan(
        Typed(
            kind=kind,
            machine="" if kind is PlanKind.MACHINES else "A",
            name="mine",
            levels=levels,
            count=3,
            interval_min=INTERVALS_MIN.get(kind),
            rest_min=4.0,
            purpose="Why?",
            seed=5,
            recipe=Recipe(dose_g=18.0),
        )
    )
    typed = typed_of(plan, unit)
    assert typed.kind is kind
    assert make_plan(typed) == plan


def test_a_plan_written_by_hand_keeps_its_shots():
    shots = (PlannedShot(setpoint_degc=93.0, factors={"coffee": "x"}), PlannedShot(flush_g=40.0))
    plan = Plan(name="odd", machine="A", kind=PlanKind.FLUSH, shots=shots, repeats=2, order=Order.RANDOM)
    typed = typed_of(plan)
    assert typed.kind is PlanKind.OWN
    made = make_plan(dataclasses.replace(typed, rest_min=3.0))
    assert (made.shots, made.repeats, made.order, made.rest_min) == (shots, 2, Order.RANDOM, 3.0)
    assert made.sequence() == plan.sequence()
