import json

import pytest

from benchtemp.errors import BadInput
from benchtemp.studies.evidence.shot_set import chosen
from benchtemp.studies.outcome import About
from benchtemp.studies.repeatability import repeatability
from benchtemp.units import TempUnit


@pytest.fixture
def tested(make_record, rng):
    def make(shifts, *, own=0.1, count=5, probes=("K-07",)):
        shots = []
        for turn in range(count):
            for number, (name, shift) in enumerate(shifts.items()):
                index = turn * len(shifts) + number
                probe = probes[index % len(probes)]
                shots.append(make_record(index, 93 + shift + rng.normal(0, own), operator=name, probe=probe))
        return chosen(shots)

    return make


FIVE = {"Wren": 0.4, "Osk": -0.4, "Ilva": 0.0, "Tam": 0.2, "Bex": -0.2}


def test_scatter_is_parted_into_shots_and_operators(tested):
    found = repeatability(tested(FIVE))
    assert found.factors == ("operator",)
    assert found.components.repeatability.interval.holds(0.1)
    assert found.components.between[0].interval.holds(0.316)
    assert found.components.between[0].interval.low > 0.1
    assert [one.name for one in found.levels["operator"]] == list(FIVE)
    assert found.repeatability_limit_k == pytest.approx(2.77 * found.components.repeatability.sd, rel=1e-3)


def test_the_verdict_parts_them_in_words(tested):
    sentence = repeatability(tested(FIVE)).sentence(TempUnit.DEGC)
    assert sentence.startswith("On Ferrowick Two, shots by the same tester scatter by 0.")
    assert "between operators" in sentence


def test_operators_and_probes_mixed(tested):
    found = repeatability(tested(FIVE, probes=("K-07", "K-09", "K-11")))
    assert found.factors == ("operator", "probe")
    assert [part.name for part in found.components.between] == ["operator", "probe"]
    assert found.components.between[0].sd > found.components.between[1].sd


def test_an_operator_with_a_probe_of_their_own_cannot_be_told_from_it(make_record):
    shots = [make_record(i, 93.0 + 0.1 * (i % 2), operator="ab"[i % 2], probe="xy"[i % 2]) for i in range(8)]
    found = repeatability(chosen(shots))
    assert found.factors == ("operator",)
    assert About.CONFOUNDED in [concern.about for concern in found.concerns]


def test_two_testers_tell_little_and_that_is_said(tested):
    found = repeatability(tested({"Wren": 0.1, "Osk": -0.1}))
    assert any("Only 2 testers" in concern.said() for concern in found.concerns)


def test_what_does_not_vary_is_refused(shot_set):
    with pytest.raises(BadInput, match="Neither the operator nor the probe"):
        repeatability(shot_set([93.0] * 6, operator="Wren"))


def test_nobody_pulled_twice(make_record):
    shots = [make_record(i, 93.0, operator=f"tester {i}") for i in range(5)]
    with pytest.raises(BadInput, match="at least two by the same tester"):
        repeatability(chosen(shots))


def test_plain_values(tested):
    found = repeatability(tested(FIVE))
    plain = json.loads(json.dumps(found.to_plain(charts=True), allow_nan=False))
    assert plain["study"] == "testers"
    assert plain["components"]["between"][0]["name"] == "operator"


def test_a_probe_that_only_others_used_is_no_factor(tested, make_record):
    shots = tested(FIVE).used
    others = tuple(make_record(100 + index, 93.0, probe="K-11") for index in range(4))
    found = repeatability(chosen([*shots, *others]))
    assert found.factors == ("operator",)
    assert len(found.used) == len(shots)
    assert sum(left.beside for left in found.left_out) == 4


def test_how_far_two_testers_may_differ_has_an_interval_of_its_own(tested):
    found = repeatability(tested(FIVE))
    whole = found.components.reproducibility.interval
    low, high = 2.772 * whole.low, 2.772 * whole.high
    assert f"({low:.2f} to {high:.2f} °C), 95 times out of 100" in found.sentence(TempUnit.DEGC)


def test_testers_who_do_not_differ_add_nothing(shot_set):
    temps = [93.0, 93.1, 92.9, 93.2, 93.0, 92.8, 93.15, 92.95]
    found = repeatability(shot_set(temps, operator=["Ada", "Bo"] * 4))
    assert found.components.between[0].sd == 0.0
    assert "comes nothing that shows (at most" in found.sentence(TempUnit.DEGC)
    # ISO 5725-2 (from memory): a negative variance between testers counts as 0, so this is never less.
    assert found.reproducibility_limit_k >= found.repeatability_limit_k
