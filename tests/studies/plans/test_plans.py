import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.order import Order
from benchtemp.studies.plans.plan import Plan, PlannedShot
from benchtemp.studies.plans.plan_file import (
    find_plan,
    load_plan,
    parse_plan,
    plan_path,
    plan_text,
    plans_in,
    save_plan,
)

READY_MADE = [
    kinds.steady_series("Ferrowick Two"),
    kinds.idle_series("Ostrel Long Arm"),
    kinds.flush_series("Ostrel Long Arm"),
    kinds.flush_series("Ostrel Long Arm", flushes_g=(0.0, 40.0)),
    kinds.setpoint_series("Ferrowick Two"),
    kinds.warm_up_series("Ferrowick Two"),
    kinds.before_after("Kessamun Dash", change="gasket"),
    kinds.machine_against_machine(["Ferrowick Two", "Pindlebay One"]),
]


@pytest.mark.parametrize("plan", READY_MADE, ids=lambda plan: plan.name)
def test_ready_made_plans_survive_their_file(plan):
    assert parse_plan(plan_text(plan), "plan.toml") == plan
    assert plan.count == len(plan.sequence())
    assert plan.summary().startswith(f"{plan.count} shots")
    assert plan.order_sentence().endswith(".")


def test_the_usual_steady_series_is_ten_shots_three_minutes_apart():
    plan = kinds.steady_series("Ferrowick Two")
    assert (plan.count, plan.interval_min) == (10, 3.0)


def test_a_recipe_goes_with_the_plan():
    plan = msgspec.structs.replace(kinds.steady_series("x"), recipe=Recipe(dose_g=18.0, time_low_s=20.0))
    assert parse_plan(plan_text(plan), "plan.toml").recipe == plan.recipe


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("name = ", "is no TOML file"),
        ("machine = 'x'", "name"),
        ("name = 'x'\nshotz = []", "shotz"),
        ("name = 'x'\nshots = []", "at least one shot"),
        ("name = 'x'\n[[shots]]\nsetpoint_degc = 'warm'", "setpoint_degc"),
        ("name = 'x'\n[[shots]]\nsetpoint_degc = 400.0", "setpoint of 400"),
        ("name = 'x'\n[[shots]]\nflush_s = 3.0\nflush_g = 30.0", "not both"),
        ("name = 'x'\nrepeats = 0", "1 to 500"),
        ("name = 'x'\nrepeats = 1000", "1 to 500"),
        ("name = 'x'\ninterval_min = 5.0\n[[shots]]\nidle_min = 10.0", "cannot start 5 min"),
        ("name = 'x'\n[[shots]]\nsince_on_min = 10.0\n[[shots]]\nsince_on_min = 5.0", "in order of time"),
        ("name = 'x'\n[[shots]]\nidle_min = nan", "idle time"),
        ("name = ''", "needs a name"),
        ("name = 'x'\norder = 'backwards'", "order"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(text, complaint):
    with pytest.raises(BadInput) as told:
        parse_plan(text, "plan.toml")
    assert complaint in str(told.value)
    assert str(told.value).startswith("plan.toml is no ")


@given(st.text(max_size=200))
def test_stray_text_is_refused_with_a_sentence(text):
    with pytest.raises(BadInput, match=r"^plan\.toml is no "):
        parse_plan(text, "plan.toml")


def test_plans_lie_in_the_logbook(tmp_path):
    logbook = Logbook(tmp_path)
    plan = kinds.steady_series("../../Ferrowick: Two")
    path = plan_path(logbook, plan)
    save_plan(path, plan)
    assert path.parent == logbook.plans_dir
    assert load_plan(path) == plan
    with pytest.raises(BadInput, match="already a plan"):
        save_plan(path, plan)
    (logbook.plans_dir / "bad.toml").write_text("name = 3", encoding="utf-8")
    plans, complaints = plans_in(logbook)
    assert plans == {path: plan}
    assert len(complaints) == 1
    assert find_plan(logbook, plan.name.upper()) == plan
    with pytest.raises(BadInput, match="There is no plan 'other'"):
        find_plan(logbook, "other")


def test_a_file_too_large_or_no_text_is_refused(tmp_path):
    large = tmp_path / "large.toml"
    large.write_text("#" * 300_000, encoding="utf-8")
    with pytest.raises(BadInput, match="too large"):
        load_plan(large)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadInput, match="UTF-8"):
        load_plan(binary)


def test_what_is_entered_before_a_shot_can_be_entered():
    plan = kinds.flush_series("Ostrel Long Arm", flushes_s=(0.0, 4.0), repeats=1)
    entries = Entries()
    for step in plan.sequence():
        for text in plan.entries(step):
            entries = entries.taking(text)
        assert entries.tags["plan"] == plan.name
        assert entries.tags["plan shot"] == str(step.number)
        assert entries.tags["flush"] == ("4 s" if step.shot.flush_s else "none")
        assert entries.tags["idle time"] == "10 min"
    for text in plan.leaving():
        entries = entries.taking(text)
    assert entries.tags == {"machine": "Ostrel Long Arm"}


def test_a_tag_of_the_shot_before_does_not_stay():
    plan = Plan(name="x", shots=(PlannedShot(factors={"coffee": "a"}), PlannedShot(setpoint_degc=93.0)))
    entries = Entries()
    for step in plan.sequence():
        for text in plan.entries(step):
            entries = entries.taking(text)
    assert "coffee" not in entries.tags
    assert entries.tags["setpoint"] == "93 °C"


def test_one_machine_is_no_contest():
    with pytest.raises(BadInput, match="two machines"):
        kinds.machine_against_machine(["Ferrowick Two"])


def test_another_order_can_be_asked_for():
    plan = kinds.with_order(kinds.setpoint_series("x"), Order.RANDOM, 9)
    assert (plan.order, plan.seed) == (Order.RANDOM, 9)


@pytest.mark.parametrize(
    ("shots", "study"),
    [
        ([{"factors": {"operator": "Wren"}}, {"factors": {"operator": "Osk"}}], "testers"),
        ([{"setpoint_degc": 92.0}, {"setpoint_degc": 94.0}], "setpoint"),
        ([{"idle_min": 5.0}, {"idle_min": 9.0}], "routine"),
        ([{"since_on_min": 5.0}, {"since_on_min": 9.0}], "warm-up"),
        ([{"factors": {"coffee": "x"}}, {"factors": {"coffee": "y"}}], "comparison"),
        ([{}], "steadiness"),
    ],
)
def test_an_own_plan_leads_to_the_study_of_what_it_varies(shots, study):
    plan = Plan(name="own", shots=tuple(PlannedShot(**shot) for shot in shots))
    assert plan.study == study
