"""What is asked first, and that each question reaches its study."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.reports.answering import Asked, Wanted
from benchtemp.studies.evidence.shot_set import Selection
from benchtemp.studies.plans import kinds
from benchtemp.window.findings_page.asking import Question, Scope, about_plan, answered, read_scope

NOWHERE = Logbook(Path("nowhere"))


def test_a_logbook_is_read_with_its_plans_and_channels(series_dir):
    scope = read_scope(Logbook(series_dir))
    assert len(scope.shots) == 4
    assert list(scope.plans) == ["steady series Ferrowick Two"]
    assert scope.machines == ("Ferrowick Two",)
    assert scope.days == ("2031-03-03",)
    assert list(scope.channels.values()) == [("T1",)]
    asked = scope.first_question()
    assert asked.asked is Asked.STEADINESS
    study = answered(Logbook(series_dir), scope, asked).study
    assert len(study.used) == 4
    assert "Ferrowick Two brews at" in study.verdict().sentence


def test_an_empty_folder_is_an_empty_scope(tmp_path):
    assert read_scope(Logbook(tmp_path)).shots == ()


@pytest.mark.parametrize(
    ("plan", "kind", "factor"),
    [
        (kinds.steady_series("A"), Asked.STEADINESS, "machine"),
        (kinds.idle_series("A"), Asked.ROUTINE, "machine"),
        (kinds.flush_series("A"), Asked.ROUTINE, "machine"),
        (kinds.setpoint_series("A"), Asked.SETPOINT, "machine"),
        (kinds.warm_up_series("A"), Asked.WARM_UP, "machine"),
        (kinds.before_after("A", change="gasket"), Asked.COMPARISON, "gasket"),
        (kinds.machine_against_machine(["A", "B"]), Asked.COMPARISON, "machine"),
    ],
)
def test_every_plan_leads_to_its_study(plan, kind, factor):
    asked = about_plan(plan)
    assert asked.asked is kind
    assert asked.wanted.by == factor
    if kind is Asked.ROUTINE:
        assert asked.selection == Selection(machines=("A",)), "idle and flush series belong together"
    else:
        assert asked.selection == Selection(plan=plan.name)


def test_a_study_is_asked_about_the_latest_shots_pulled_for_it(make_record):
    first, second = kinds.steady_series("A", name="monday"), kinds.steady_series("A", name="friday")
    setpoint = kinds.setpoint_series("B")
    scope = Scope(
        shots=(make_record(1, operator="Wren", tags={"plan": "monday"}), make_record(2)),
        plans={"monday": first, "friday": second, setpoint.name: setpoint, "gone": None},
        channels={"one.ecsv": ("T1", "T2")},
    )
    assert scope.suited(Asked.STEADINESS) == Selection(plan="friday")
    assert scope.suited(Asked.SETPOINT) == Selection(plan=setpoint.name)
    assert scope.suited(Asked.TESTERS) == Selection(plan="monday")
    assert scope.suited(Asked.CYCLE) == Selection(machines=("Ferrowick Two",))
    assert scope.suited(Asked.WARM_UP) == Selection(machines=("Ferrowick Two",))
    assert scope.suited(Asked.COMPARISON) == Selection()
    assert scope.further_channels == ("T2",)


def test_each_question_reaches_its_study_with_its_numbers(make_record):
    shots = tuple(
        make_record(
            number, 60.0 + 0.35 * setpoint + 0.02 * (number % 3), setpoint_degc=setpoint, path=f"{number}"
        )
        for number, setpoint in enumerate((90.0, 92.0, 94.0, 96.0) * 3, start=1)
    )
    asked = Question(asked=Asked.SETPOINT, wanted=Wanted(target_degc=92.5))
    found = answered(NOWHERE, Scope(shots=shots), asked)
    assert found.question is asked
    assert len(found.shots.used) == 12
    study = found.study
    assert study.title == "Setpoint of Ferrowick Two"
    assert study.target_degc == 92.5
    compared = answered(
        NOWHERE,
        Scope(shots=shots),
        Question(asked=Asked.COMPARISON, wanted=Wanted(by="setpoint", matters_k=0.2)),
    ).study
    assert "setpoint" in compared.title


def test_without_a_second_channel_the_cycle_says_what_to_do(make_record):
    with pytest.raises(BadInput, match="put a probe at the boiler"):
        answered(NOWHERE, Scope(shots=(make_record(1),)), Question(asked=Asked.CYCLE))
