import json

import msgspec
import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.virtual import Scale, simulate, virtual_machines
from benchtemp.readings.virtual.script import Flush, KnockOut, LockIn, Shot, Wait
from benchtemp.studies.evidence.gathering import records_in
from benchtemp.studies.evidence.shot_set import chosen
from benchtemp.studies.outcome import About
from benchtemp.studies.routine import routine
from benchtemp.studies.routine_forms import FORMS, fit_forms, weights
from benchtemp.units import TempUnit

IDLE = np.repeat([3.0, 8.0, 15.0, 25.0], 5)
FLUSH = np.tile([0.0, 2.0, 4.0, 7.0, 10.0], 4)


def washed(idle, flush):
    return 91.0 - 4.0 * np.expm1(-idle / 6.0) * np.exp(-flush / 5.0)


@pytest.fixture
def washing(shot_set, rng):
    def make(sd=0.12, truth=washed, idle=IDLE, flush=FLUSH, **known):
        order = rng.permutation(len(idle))
        degc = truth(idle[order], flush[order]) + rng.normal(0, sd, len(idle))
        return shot_set(degc, idle_min=idle[order].tolist(), flush_s=flush[order].tolist(), **known)

    return make


def test_how_much_to_flush(washing):
    # 91 + 4 (1 - exp(-10/6)) exp(-f/5) = 93 for f = 5 ln(1.622)
    need = 5.0 * np.log(4.0 * -np.expm1(-10.0 / 6.0) / 2.0)
    found = routine(washing(), idle_min=10.0, target_degc=93.0)
    assert found.answer.flush == pytest.approx(need, abs=1.0)
    assert found.answer.interval.holds(need)
    assert found.answer.in_range
    assert found.answer.shot_interval.holds(93.0)
    assert found.forms[0].name == "an approach with idle time, washed out by the flush"
    assert found.concerns == ()
    assert sum(form.weight for form in found.forms) == pytest.approx(1.0)


def test_the_verdict_answers_the_question(washing):
    found = routine(washing(), idle_min=10.0, target_degc=93.0)
    sentence = found.sentence(TempUnit.DEGC)
    assert sentence.startswith("After 10 min idle, flush ")
    assert "to brew at 93.0 °C on Ferrowick Two; one shot so pulled will lie within" in sentence
    assert any("form: an approach" in limit for limit in found.limits(TempUnit.DEGC))


def test_flushes_by_weight(shot_set, rng):
    degc = washed(IDLE, FLUSH) + rng.normal(0, 0.1, 20)
    found = routine(shot_set(degc, idle_min=IDLE.tolist(), flush_g=(10 * FLUSH).tolist()))
    assert found.flush_unit == "g"
    assert " g (" in found.sentence(TempUnit.DEGC)


def test_more_than_was_tested_is_an_extrapolation(washing):
    found = routine(washing(), idle_min=10.0, target_degc=91.3)
    assert found.answer.flush > 10.0
    assert About.OUT_OF_RANGE in [concern.about for concern in found.concerns]


def test_an_idle_time_that_was_not_tested_is_said(washing):
    found = routine(washing(), idle_min=60.0, target_degc=93.0)
    assert any("was not tested" in concern.said() for concern in found.concerns)


def test_no_flush_brings_it_there(washing):
    found = routine(washing(), idle_min=10.0, target_degc=88.0)
    assert found.answer.flush is None
    assert "no flush up to 15.0 s brings it to 88.0 °C" in found.sentence(TempUnit.DEGC)


def test_without_flushes_only_standing_is_told(shot_set, rng):
    degc = washed(IDLE, 0.0 * FLUSH) + rng.normal(0, 0.1, 20)
    found = routine(shot_set(degc, idle_min=IDLE.tolist(), flush_s=0.0))
    assert found.over_flush is None
    assert "what a flush would do was not tested" in found.sentence(TempUnit.DEGC)
    assert found.forms[0].name == "an approach with idle time"


def test_idle_and_flush_that_go_together_are_confounded(shot_set, rng):
    idle = np.array([3.0, 8.0, 15.0, 25.0] * 3)
    found = routine(
        shot_set(
            93 + 0.02 * idle + rng.normal(0, 0.1, 12), idle_min=idle.tolist(), flush_s=(idle / 3).tolist()
        )
    )
    assert About.CONFOUNDED in [concern.about for concern in found.concerns]


def test_the_next_shot_narrows_the_answer_most(washing):
    shots = washing()
    found = routine(shots, idle_min=10.0, target_degc=93.0)
    assert found.next.uncertainty_then < found.next.uncertainty_now

    # Pulling it again and again narrows the answer faster than pulling at the far corner does.
    def with_three_more(idle, flush):
        last = shots.used[-1]
        degc = float(washed(np.array(idle), np.array(flush)))
        setting = {
            "idle_min": msgspec.structs.replace(last.idle_min, value=idle),
            "flush_s": msgspec.structs.replace(last.flush_s, value=flush),
        }
        more = tuple(msgspec.structs.replace(last, brew_temp_degc=degc, **setting) for _ in range(3))
        return routine(
            msgspec.structs.replace(shots, used=(*shots.used, *more)), idle_min=10.0, target_degc=93.0
        )

    wisely = with_three_more(found.next.idle_min, found.next.flush).next.uncertainty_now
    elsewhere = with_three_more(3.0, 0.0).next.uncertainty_now
    assert wisely < elsewhere


def test_rivals_that_say_otherwise_are_named(washing):
    sparse = np.array([0.0, 0.0, 9.0, 9.0, 9.0])
    idle = np.array([10.0, 10.0, 10.0, 10.0, 10.0])
    found = routine(washing(idle=np.tile(idle, 3), flush=np.tile(sparse, 3)), idle_min=10.0, target_degc=93.0)
    assert found.answer.interval.half_width > 0.1


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_every_form_can_be_recovered(form, rng):
    linear = {"a": 91.0, "b": 3.0, "c": 2.0, "d": 0.02}
    if "f" in form.depends_on and "f" not in form.curved_in:
        linear["c"] = -0.3
    if "t" in form.depends_on and "t" not in form.curved_in:
        linear["b"] = 0.2
    parameters = np.array([linear.get(name, 5.0 if name == "T" else 3.0) for name in form.parameters])
    degc = form.predict(parameters, IDLE, FLUSH) + rng.normal(0, 0.02, 20)
    fitted = {other.form.name: other for other in fit_forms(IDLE, FLUSH, degc)}
    own = fitted[form.name]
    assert own.curve.residual_sd < 0.04
    np.testing.assert_allclose(own.at(IDLE, FLUSH), form.predict(parameters, IDLE, FLUSH), atol=0.05)
    assert own.caution >= 1.0
    assert sum(weights(list(fitted.values()))) == pytest.approx(1.0)


def test_too_little_is_refused(shot_set):
    with pytest.raises(BadInput, match="idle time is known"):
        routine(shot_set([93.0] * 6))
    with pytest.raises(BadInput, match="was varied"):
        routine(shot_set([93.0, 93.1, 93.2, 92.9, 93.0, 93.1], idle_min=10.0, flush_s=0.0))
    with pytest.raises(BadInput, match="cannot be asked about"):
        routine(shot_set([93.0] * 6, idle_min=10.0), idle_min=float("nan"))


def test_plain_values_and_charts(washing):
    found = routine(washing())
    plain = json.loads(json.dumps(found.to_plain(charts=True), allow_nan=False))
    assert plain["study"] == "routine"
    assert len(plain["charts"]) == 3
    points = [series for series in plain["charts"][0]["series"] if series["look"] == "points"]
    assert sum(len(series["x"]) for series in points) == 20


def test_flush_need_of_a_virtual_machine_is_recovered():
    machine = virtual_machines()["heat-exchanger"]
    need_s = 4.0
    tested = [(idle, flush) for idle in (5.0, 10.0, 15.0) for flush in (0.0, 3.0, 6.0, 8.0)]

    def pulled(routines, seed):
        steps = [KnockOut()]
        for idle_min, flush_s in routines:
            steps.append(Wait(seconds=60.0 * idle_min - 40.0))
            steps += (
                [Wait(seconds=15.0), Flush(seconds=flush_s), Wait(seconds=13.0)]
                if flush_s
                else [Wait(seconds=28.0)]
            )
            steps += [
                LockIn(),
                Wait(seconds=12.0),
                Shot(seconds=34.0, yield_g=36.0),
                Wait(seconds=3.0),
                KnockOut(),
            ]
        return records_in(simulate(machine, steps, seed=seed, rate_hz=2.0, scale=Scale()), "r")

    rng = np.random.default_rng(3)
    asked = tested[::3] + [(10.0, need_s)] * 4
    order = [asked[index] for index in rng.permutation(len(asked))]
    target = np.mean(
        [
            shot.brew_temp_degc
            for shot, place in zip(pulled(order, 8), order, strict=True)
            if place == (10.0, need_s)
        ]
    )
    mixed = [(10.0, 0.0), *(tested[index] for index in rng.permutation(len(tested)))]
    found = routine(chosen(pulled(mixed, 5)[1:]), idle_min=10.0, target_degc=float(target))
    assert found.answer.interval.holds(need_s), found.answer
    assert found.answer.interval.half_width < 2.0
