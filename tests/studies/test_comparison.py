import json
import math

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.studies.comparison import comparison
from benchtemp.studies.evidence.shot_set import chosen
from benchtemp.studies.evidence.traces import GRID_S
from benchtemp.studies.outcome import About
from benchtemp.units import TempUnit


@pytest.fixture
def groups(make_record, rng):
    """Shots of several groups, pulled turn by turn."""

    def make(means, *, sds=None, count=8, factor="coffee", **known):
        shots = []
        for turn in range(count):
            for number, (name, mean) in enumerate(means.items()):
                sd = (sds or {}).get(name, 0.15)
                index = turn * len(means) + number
                own = {"machine": name} if factor == "machine" else {"tags": {factor: name}}
                extra = {
                    key: value[name] if isinstance(value, dict) and name in value else value
                    for key, value in known.items()
                }
                shots.append(make_record(index, mean + rng.normal(0, sd), **own, **extra))
        return chosen(shots)

    return make


def test_a_difference_with_its_interval(groups):
    found = comparison(groups({"Ninth Lantern": 93.4, "Plain": 92.6}), "coffee")
    (pair,) = found.pairs
    assert pair.difference.difference == pytest.approx(0.8, abs=0.2)
    assert pair.interval.holds(0.8)
    assert pair.shown
    assert pair.more_shots == 0
    assert pair.left_over_k == 0.0
    assert found.sentence(TempUnit.DEGC).startswith("Ninth Lantern brews 0.79 °C hotter than Plain")
    assert "the probe's own error cancels" in found.sentence(TempUnit.DEGC)
    assert found.concerns == ()


def test_no_difference_is_not_claimed(groups):
    found = comparison(groups({"a": 93.0, "b": 93.02}), "coffee")
    (pair,) = found.pairs
    assert not pair.shown
    sentence = found.sentence(TempUnit.DEGC)
    assert sentence.startswith("No difference between a and b was shown")
    assert pair.detectable_k == pytest.approx(3.0 * pair.difference.uncertainty, rel=0.05)
    assert pair.more_shots is None or pair.more_shots > 10


def test_how_many_more_shots_would_settle_it(groups):
    found = comparison(
        groups({"a": 93.0, "b": 93.15}, sds={"a": 0.3, "b": 0.3}, count=4), "coffee", matters_k=0.4
    )
    assert found.pairs[0].more_for_matters > 0


def test_different_probes_do_not_cancel(groups):
    shared = {"a": {"check of K-07": 0.15}, "b": {"check of K-09": 0.2}}
    found = comparison(
        groups({"a": 93.4, "b": 92.6}, shared_k=shared, probe={"a": "K-07", "b": "K-09"}), "coffee"
    )
    (pair,) = found.pairs
    assert pair.left_over_k == pytest.approx(0.25)
    half = pair.difference.interval.half_width
    assert pair.interval.half_width == pytest.approx(math.hypot(half, 0.5))
    assert "for different probes or checks in it" in found.sentence(TempUnit.DEGC)
    assert About.CONFOUNDED in [concern.about for concern in found.concerns]


def test_more_than_two_groups(groups):
    found = comparison(groups({"a": 93.0, "b": 93.6, "c": 93.05}), "coffee")
    assert len(found.pairs) == 3
    assert found.table.p < 0.001
    assert [pair.shown for pair in found.pairs] == [True, False, True]
    sentence = found.sentence(TempUnit.DEGC)
    assert "b is 0.29 to 0.60 °C hotter than a, and b is 0.23 to 0.68 °C hotter than c" in sentence
    assert "1 other pair could not be told apart" in sentence


def test_groups_that_scatter_differently_are_said(groups):
    found = comparison(groups({"a": 93.0, "b": 93.0}, sds={"a": 0.03, "b": 0.8}, count=12), "coffee")
    assert found.spread_p < 0.05
    assert found.pairs[0].sd_ratio < 0.3
    assert found.pairs[0].sd_ratio_interval.high < 1.0


def test_groups_one_after_the_other_are_confounded_with_time(make_record):
    shots = [
        make_record(i, 93.0 + 0.01 * (i % 3), tags={"gasket": "before" if i < 6 else "after"})
        for i in range(12)
    ]
    found = comparison(chosen(shots), "gasket")
    (concern,) = [c for c in found.concerns if c.about is About.CONFOUNDED]
    assert "were pulled one after the other" in concern.said()


def test_groups_that_differ_in_something_else_too(make_record):
    shots = [
        make_record(i, 93.0 + 0.01 * (i % 3), machine=("a", "b")[i % 2], operator=("Wren", "Osk")[i % 2])
        for i in range(12)
    ]
    found = comparison(chosen(shots), "machine")
    (concern,) = [c for c in found.concerns if c.about is About.CONFOUNDED]
    assert "operator" in concern.said()


def test_traces_are_laid_over_each_other(groups):
    shots = groups({"a": 93.4, "b": 92.6})
    traces = {shot.path: np.where(GRID_S < 3, 60.0, shot.brew_temp_degc) for shot in shots.used}
    traces[shots.used[0].path] = np.full(len(GRID_S), np.nan)
    found = comparison(shots, "coffee", traces=traces)
    at = int(np.searchsorted(GRID_S, 15.0))
    own = [shot.brew_temp_degc for shot in shots.used[2::2]]
    assert found.groups[0].traces == 8
    assert found.groups[0].trace_degc[at] == pytest.approx(np.mean(own))
    assert found.groups[0].trace_high[at] - found.groups[0].trace_degc[at] == pytest.approx(
        np.std(own, ddof=1)
    )
    assert [chart.title for chart in found.charts()][1] == "Traces laid over each other"


def test_one_shot_a_group_claims_nothing(make_record):
    shots = [make_record(0, 93.0, machine="a"), make_record(1, 92.0, machine="b")]
    found = comparison(chosen(shots), "machine")
    assert "tells nothing of chance" in found.sentence(TempUnit.DEGC)
    json.dumps(found.to_plain(charts=True), allow_nan=False)


def test_too_few_or_too_many_groups_are_refused(shot_set, make_record):
    with pytest.raises(BadInput, match="all shots have machine Ferrowick Two"):
        comparison(shot_set([93.0] * 4), "machine")
    with pytest.raises(BadInput, match="no shot that counts has a coffee"):
        comparison(shot_set([93.0] * 4), "coffee")
    many = [make_record(i, 93.0, machine=f"m{i}") for i in range(30)]
    with pytest.raises(BadInput, match="too many"):
        comparison(chosen(many), "machine")


def test_plain_values_and_tables(groups):
    found = comparison(groups({"a": 93.0, "b": 93.6, "c": 93.05}), "coffee")
    plain = json.loads(json.dumps(found.to_plain(charts=True), allow_nan=False))
    assert plain["study"] == "comparison"
    for table in found.tables():
        assert all(len(row) == len(table.headings) for row in table.rows)


def test_what_no_number_of_shots_would_settle_is_told_apart_from_what_hundreds_would(groups):
    shared = {"a": {"check of K-07": 0.5}, "b": {"check of K-09": 0.5}}
    found = comparison(
        groups({"a": 93.2, "b": 93.0}, shared_k=shared, probe={"a": "K-07", "b": "K-09"}), "coffee"
    )
    (pair,) = found.pairs
    assert pair.probes_hide_it
    assert pair.more_shots is None
    assert pair.detectable_k > 2.84 * math.hypot(0.5, 0.5)
    assert found.tables()[1].rows[0][-1] == "first check the probes"
    assert "though not in the chances" in "; ".join(found.limits(TempUnit.DEGC))
    alike = comparison(groups({"a": 93.0, "b": 93.001}), "coffee").pairs[0]
    assert not alike.probes_hide_it


def test_settings_mixed_among_the_shots_are_in_the_verdict(groups):
    found = comparison(
        groups({"a": 93.8, "b": 92.6}, setpoint_degc={"a": 95.0, "b": 94.0}, factor="machine"), "machine"
    )
    sentence = found.sentence(TempUnit.DEGC)
    assert sentence.endswith("; but these shots differ in setpoint too, so it need not be the machine.")
    assert "differ in" not in comparison(groups({"a": 93.8, "b": 92.6}), "coffee").sentence(TempUnit.DEGC)


def test_many_pairs_are_counted_instead_of_named(groups):
    means = {"a": 91.0, "b": 92.0, "c": 93.0, "d": 94.0}
    sentence = comparison(groups(means), "coffee").sentence(TempUnit.DEGC)
    assert "6 of 6 pairs differ beyond chance; d is 2." in sentence


def test_traces_are_drawn_where_they_tell_something(groups):
    shots = groups({"a": 93.4, "b": 92.6})
    rise = 93.0 - 70.0 * np.exp(-np.clip(GRID_S, 0.0, None) / 2.0)
    traces = {shot.path: rise + (shot.brew_temp_degc - 93.0) for shot in shots.used}
    found = comparison(shots, "coffee", traces=traces)
    chart = next(chart for chart in found.charts() if chart.title.startswith("Traces"))
    lines = [series for series in chart.series if series.y]
    assert len(lines) == 2
    assert min(value for line in lines for value in line.y if math.isfinite(value)) > 84.0
    assert lines[0].x[0] > 2.0


def test_a_difference_too_small_to_matter_is_said_to_be(shot_set):
    rng = np.random.default_rng(3)
    temps = np.concatenate((93.0 + rng.normal(0, 0.03, 6), 93.2 + rng.normal(0, 0.03, 6)))
    found = comparison(shot_set(temps, tags=[{"coffee": "a"}] * 6 + [{"coffee": "b"}] * 6), "coffee")
    assert "less than the 0.5 °C taken to matter" in found.sentence(TempUnit.DEGC)
    assert "taken to matter" not in comparison(
        shot_set(temps, tags=[{"coffee": "a"}] * 6 + [{"coffee": "b"}] * 6), "coffee", matters_k=0.1
    ).sentence(TempUnit.DEGC)


def test_what_differs_only_between_groups_is_not_called_scatter(shot_set):
    tags = [{"coffee": "a"}, {"coffee": "b"}] * 4
    temps = [93.0, 93.1, 92.9, 93.2, 93.1, 93.0, 92.8, 93.1]
    apart = comparison(shot_set(temps, tags=tags, setpoint_degc=[92.0, 94.0] * 4), "coffee")
    said = " ".join(concern.said() for concern in apart.concerns)
    assert "also differ in setpoint" in said
    assert "counts as scatter" not in said
    mixed = comparison(shot_set(temps, tags=tags, setpoint_degc=[92.0, 92.0, 94.0, 94.0] * 2), "coffee")
    assert "counts as scatter" in " ".join(concern.said() for concern in mixed.concerns)


def test_a_single_shot_has_no_figures_of_its_own_scatter(shot_set):
    tags = [{"coffee": name} for name in "aba"]
    found = comparison(shot_set([91.0, 93.0, 91.1], tags=tags), "coffee")
    groups, pairs, *_ = found.tables()
    assert groups.rows[1][3:] == ("—", "— °C", "—")
    assert pairs.rows[0][2] == "—"
    assert pairs.rows[0][-1] == "—"
    assert "smallest group has only 1 shot" in found.concerns[0].said()


def test_shots_that_agree_better_than_their_readings_are_said_to(shot_set):
    tags = [{"coffee": "a"}, {"coffee": "b"}] * 4
    found = comparison(shot_set([93.0] * 8, tags=tags, reading_uncertainty_k=0.29), "coffee")
    (said,) = (concern.said() for concern in found.concerns if concern.about is About.COARSE)
    assert "less than their own readings are uncertain by (0.29 °C)" in said
