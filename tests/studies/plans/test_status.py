import datetime as dt

import msgspec
import pytest

from benchtemp.studies.evidence.shot_record import Known, Setting
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.status import where_it_stands
from benchtemp.units import TempUnit

BEGIN = dt.datetime.fromisoformat("2031-03-03T09:00:00+00:00")


def at(minutes):
    return BEGIN + dt.timedelta(minutes=minutes)


@pytest.fixture
def pull(make_record):
    """Make a shot pulled for a plan so many minutes after nine."""

    def make(plan, minutes, *, step=None, counts=True, **known):
        tags = {"plan": plan.name, **({"plan shot": str(step)} if step else {})}
        reasons = () if counts else ("ran 14.0 s, window 22–28 s",)
        return make_record(
            round(minutes),
            93.0,
            pulled=at(minutes).isoformat(),
            tags=tags,
            counts=counts,
            reasons=reasons,
            **known,
        )

    return make


@pytest.fixture
def steady():
    return kinds.steady_series("Ferrowick Two", shots=4)


def test_a_fresh_plan_begins_with_its_first_shot(steady):
    found = where_it_stands(steady, [], at(0))
    assert found.next_step.number == 1
    assert found.due is None
    assert found.sentence() == "Begin with shot 1 of 4; start the pump when you are ready."


def test_the_next_pump_start_is_due_after_the_interval(steady, pull):
    found = where_it_stands(steady, [pull(steady, 0), pull(steady, 3)], at(4))
    assert found.counted == 2
    assert found.due == at(6)
    assert found.wait_s(at(4)) == 120.0
    assert found.sentence() == "Next is shot 3 of 4; start the pump at 09:06:00."


def test_late_and_early_starts_are_told_as_they_were(steady, pull):
    found = where_it_stands(steady, [pull(steady, 0), pull(steady, 3.5), pull(steady, 6)], at(7))
    assert [done.late_s for done in found.done] == [None, pytest.approx(30.0), pytest.approx(-30.0)]
    assert found.done[1].remarks == ("started 30 s late",)
    assert found.done[2].remarks == ("started 30 s early",)
    # The rhythm goes on from the last real start.
    assert found.due == at(9)


def test_a_shot_that_does_not_count_is_pulled_again_at_the_end_of_a_series(steady, pull):
    shots = [pull(steady, 0), pull(steady, 3, counts=False), pull(steady, 6)]
    found = where_it_stands(steady, shots, at(7))
    assert found.counted == 2
    assert [step.number for step in found.queue] == [4, 2]
    assert found.done[1].put_back
    assert "does not count" in found.done[1].remarks[0]
    last = where_it_stands(steady, [*shots, pull(steady, 9)], at(10))
    assert last.sentence().startswith("Next is shot 2 of 4 again"), "as the table numbers it"
    finished = where_it_stands(steady, [*shots, pull(steady, 9), pull(steady, 12)], at(13))
    assert finished.finished
    assert finished.sentence() == "All 4 shots are done: look at the steadiness study."


def test_in_a_mixed_order_it_goes_to_the_end_of_its_repeat(pull):
    plan = kinds.setpoint_series("Ferrowick Two", setpoints_degc=(90.0, 92.0, 94.0), repeats=2)
    found = where_it_stands(plan, [pull(plan, 0, counts=False)], at(1))
    assert [step.number for step in found.queue] == [2, 3, 1, 4, 5, 6]


def test_the_last_of_a_repeat_comes_again_at_once(pull):
    plan = kinds.setpoint_series("Ferrowick Two", setpoints_degc=(90.0, 92.0), repeats=2)
    found = where_it_stands(plan, [pull(plan, 0), pull(plan, 10, counts=False)], at(11))
    assert [step.number for step in found.queue] == [2, 3, 4]
    assert "Next is shot 2 of 4 again" in found.sentence()


def test_a_shot_set_aside_later_opens_its_step_again(steady, pull):
    shots = [pull(steady, 0, set_aside="cup fell"), pull(steady, 3)]
    assert [step.number for step in where_it_stands(steady, shots, at(4)).queue] == [3, 4, 1]


def test_steps_are_told_by_their_tag(pull):
    plan = kinds.setpoint_series("Ferrowick Two", setpoints_degc=(90.0, 92.0, 94.0), repeats=1)
    found = where_it_stands(plan, [pull(plan, 0, step=3)], at(1))
    assert [step.number for step in found.queue] == [1, 2]


def test_shots_of_other_plans_do_not_matter(steady, pull, make_record):
    other = kinds.steady_series("Pindlebay One")
    assert where_it_stands(steady, [pull(other, 0), make_record(0, 93.0)], at(1)).counted == 0


def test_a_plan_is_resumed_on_another_day(steady, pull):
    shots = [pull(steady, 0), pull(steady, 3)]
    found = where_it_stands(steady, shots, at(24 * 60))
    assert found.paused
    assert found.due is None
    assert found.sentence() == "Resume when the machine has settled: next is shot 3 of 4."
    resumed = where_it_stands(steady, [*shots, pull(steady, 24 * 60 + 5)], at(24 * 60 + 6))
    assert resumed.done[-1].resumed
    assert resumed.done[-1].late_s is None
    assert resumed.due == at(24 * 60 + 8)


def test_an_idle_time_decides_when_to_start(pull):
    plan = kinds.flush_series("Ostrel Long Arm", flushes_s=(4.0,), repeats=2)
    found = where_it_stands(plan, [pull(plan, 0, shot_time_s=24.0)], at(1))
    # 24 s of shot, 10 min idle, 4 s of flush and half a minute to lock in.
    assert found.due == at(0) + dt.timedelta(seconds=24 + 600 + 4 + 30)
    assert "flush so that you can start the pump at" in found.sentence()


def test_settings_that_were_not_kept_are_told(pull):
    plan = kinds.flush_series("Ostrel Long Arm", flushes_s=(4.0,), repeats=2)
    found = where_it_stands(plan, [pull(plan, 0, idle_min=12.4, flush_s=7.0)], at(1))
    assert found.done[0].remarks == ("12.4 min idle instead of 10.0", "flush 7.0 s instead of 4.0")


def test_a_rest_between_repeats(pull):
    plan = msgspec.structs.replace(
        kinds.setpoint_series("x", setpoints_degc=(90.0, 92.0), repeats=2, interval_min=3.0), rest_min=15.0
    )
    found = where_it_stands(plan, [pull(plan, 0), pull(plan, 3, shot_time_s=30.0)], at(4))
    assert found.due == at(3) + dt.timedelta(seconds=30 + 15 * 60)


def test_a_warm_up_counts_from_switching_on(pull):
    plan = kinds.warm_up_series("Ferrowick Two", minutes=(5.0, 10.0, 20.0))
    fresh = where_it_stands(plan, [], at(0))
    assert fresh.another_day
    assert fresh.sentence().startswith("Switch the cold machine on")
    on = where_it_stands(plan, [], at(1), switched_on=at(0))
    assert on.due == at(5)
    measured = Setting(value=5.0, known=Known.MEASURED)
    shot = msgspec.structs.replace(pull(plan, 5), since_on_min=measured)
    assert where_it_stands(plan, [shot], at(6)).due == at(10)


def test_a_missed_minute_of_a_warm_up_waits_for_another_day(pull):
    plan = kinds.warm_up_series("Ferrowick Two", minutes=(5.0, 10.0, 20.0))

    def on(minutes, **known):
        since = Setting(value=float(minutes), known=Known.MEASURED)
        return msgspec.structs.replace(pull(plan, minutes, **known), since_on_min=since)

    found = where_it_stands(plan, [on(5), on(10, counts=False), on(20)], at(21))
    assert [step.number for step in found.queue] == [2]
    assert found.another_day
    next_day = where_it_stands(plan, [on(5), on(10, counts=False), on(20)], at(1441), switched_on=at(1440))
    assert not next_day.another_day
    assert next_day.due == at(1450)


def test_where_it_stands_is_worked_out_anew_and_alike(steady, pull):
    shots = [pull(steady, 3), pull(steady, 0)]
    assert where_it_stands(steady, shots, at(4)) == where_it_stands(steady, shots[::-1], at(4))


def test_sentences_speak_fahrenheit():
    plan = kinds.setpoint_series("x", setpoints_degc=(90.0, 95.0), repeats=1, seed=1)
    assert "°F" in where_it_stands(plan, [], at(0)).sentence(TempUnit.DEGF)


def test_status_as_plain_values(steady, pull):
    plain = where_it_stands(steady, [pull(steady, 0), pull(steady, 3.5)], at(4)).to_plain(at(4))
    assert plain["counted"] == 2
    assert plain["wait_s"] == pytest.approx(150.0)
    assert plain["done"][1]["late_s"] == pytest.approx(30.0)
