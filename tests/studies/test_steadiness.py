import json
import math

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.studies.outcome import About
from benchtemp.studies.steadiness import steadiness
from benchtemp.units import TempUnit

TEMPS = [93.1, 92.8, 93.4, 93.0, 92.9, 93.3, 93.0, 92.7, 93.2, 93.1]


def abouts(study):
    return [concern.about for concern in study.concerns]


def test_figures_of_a_steady_series(shot_set):
    found = steadiness(shot_set(TEMPS))
    assert found.mean_degc == pytest.approx(np.mean(TEMPS))
    assert found.sd_k == pytest.approx(np.std(TEMPS, ddof=1))
    assert found.range_k == pytest.approx(0.7)
    assert found.in_band == 10
    assert found.tolerance_interval.half_width == pytest.approx(3.393 * np.std(TEMPS, ddof=1), rel=1e-3)
    assert found.drift_p > 0.05
    assert found.concerns == ()
    assert found.within_pooled_sd_k == pytest.approx(0.1)


def test_the_verdict_is_one_sentence_with_its_uncertainty_and_limits(shot_set):
    verdict = steadiness(shot_set(TEMPS)).verdict()
    assert verdict.sentence == (
        "Ferrowick Two brews at 93.05 °C ± 0.47 °C, and from shot to shot scatters by 0.22 °C "
        "(0.15 to 0.40 °C); 95 % of its shots will lie within 92.3 to 93.8 °C."
    )
    assert verdict.limits[0] == "10 shots used"


def test_the_probe_shares_its_error_among_all_shots(shot_set):
    found = steadiness(shot_set(TEMPS))
    assert found.common_uncertainty_k == pytest.approx(math.hypot(0.1, 0.2))
    assert found.total_half_width_k == pytest.approx(
        math.hypot(found.mean_interval.half_width, 2 * found.common_uncertainty_k)
    )


def test_two_probes_average_their_errors(shot_set):
    mixed = [{"check of A": 0.2}] * 5 + [{"check of B": 0.2}] * 5
    found = steadiness(shot_set(TEMPS, shared_k=mixed, probe=["A"] * 5 + ["B"] * 5))
    assert found.common_uncertainty_k == pytest.approx(0.2 / math.sqrt(2))
    assert About.MIXED_PROBES in abouts(found)


def test_in_fahrenheit_differences_carry_no_offset(shot_set):
    sentence = steadiness(shot_set(TEMPS)).verdict(TempUnit.DEGF).sentence
    assert "brews at 199.49 °F ± 0.85 °F" in sentence
    assert "scatters by 0.39 °F" in sentence


def test_a_drift_is_said_and_nothing_promised(shot_set):
    found = steadiness(shot_set(np.array(TEMPS) + 0.2 * np.arange(10)))
    assert About.DRIFT in abouts(found)
    assert "no range of future shots can be promised" in found.sentence(TempUnit.DEGC)
    assert found.drift_interval.holds(0.2)


def test_an_outlier_is_shown_and_kept(shot_set):
    found = steadiness(shot_set([*TEMPS[:5], 95.5, *TEMPS[5:]]))
    assert found.outliers == (5,)
    assert About.OUTLIER in abouts(found)
    assert len(found.used) == 11
    assert found.charts()[0].series[1].marked == (5,)


def test_one_outlier_is_told_by_name(shot_set):
    shots = shot_set([*TEMPS[:5], 95.5, *TEMPS[5:]])
    (concern,) = (one for one in steadiness(shots).concerns if one.about is About.OUTLIER)
    assert concern.said().startswith(f"{shots.used[5].name} stands apart by +2.")
    assert concern.shots == ("shot 6",)


def test_several_outliers_are_one_sentence_that_names_them_all(shot_set):
    shots = shot_set([*TEMPS, 96.5, *TEMPS, 88.5, *TEMPS])
    found = steadiness(shots)
    (concern,) = (one for one in found.concerns if one.about is About.OUTLIER)
    assert sorted(found.outliers) == [10, 21]
    assert concern.shots == tuple(shots.used[index].path for index in found.outliers)
    said, in_f = concern.said(), concern.said(TempUnit.DEGF)
    assert said.startswith("2 shots stand apart and were kept: ")
    assert said.endswith(" Look at their traces and set aside those in which something went wrong.")
    for index, degc in ((10, 96.5), (21, 88.5)):
        off_k = degc - found.drift.at(index + 1.0)
        sign = "+" if off_k > 0 else "\N{MINUS SIGN}"
        assert f"{shots.used[index].name} ({sign}{abs(off_k):.2f} °C)" in said
        assert f"{shots.used[index].name} ({sign}{abs(1.8 * off_k):.2f} °F)" in in_f


def test_few_shots_say_so(shot_set):
    three = steadiness(shot_set(TEMPS[:3]))
    assert About.TOO_FEW in abouts(three)
    two = steadiness(shot_set(TEMPS[:2]))
    assert "too few" in two.sentence(TempUnit.DEGC)


@pytest.mark.parametrize("count", [0, 1])
def test_less_than_two_is_refused(shot_set, count):
    with pytest.raises(BadInput, match="at least 2"):
        steadiness(shot_set(TEMPS[:count]))


def test_an_unchecked_probe_is_said(shot_set):
    found = steadiness(shot_set(TEMPS, checked=""))
    (concern,) = found.concerns
    assert concern.about is About.UNCHECKED_PROBE
    assert "2.5 °C" in concern.said()
    assert "4.5 °F" in concern.said(TempUnit.DEGF)


def test_several_machines_or_setpoints_are_said(shot_set):
    found = steadiness(shot_set(TEMPS, machine=["a", "b"] * 5, setpoint_degc=[93.0, 94.0] * 5))
    (concern,) = (concern for concern in found.concerns if concern.about is About.CONFOUNDED)
    assert "differ in machine and setpoint" in concern.said()
    assert "no range of future shots can be promised" in found.sentence(TempUnit.DEGC)
    assert "These 10 shots on a and b lie about" in found.sentence(TempUnit.DEGC)


def test_equal_shots_do_not_trip_it(shot_set):
    found = steadiness(shot_set([93.0] * 6))
    assert found.sd_k == 0.0
    json.dumps(found.to_plain(charts=True), allow_nan=False)


def test_recovery_from_unequal_intervals(shot_set):
    minutes = [3.0, 2.0, 5.0, 2.5, 4.5, 3.5, 2.0, 5.0, 4.0, 3.0]
    temps = [92.0 + 0.3 * value for value in minutes]
    found = steadiness(shot_set(temps, interval_min=minutes)).recovery
    assert found.slope_k_per_min == pytest.approx(0.3)


def test_first_shots_after_a_pause_are_told_from_the_later_ones(shot_set):
    minutes = [3.0, 3.0, 3.0, 3.0, 60.0, 3.0, 3.0, 3.0]
    temps = [94.0, 93.0, 93.1, 92.9, 94.2, 93.0, 93.1, 93.0]
    found = steadiness(shot_set(temps, interval_min=minutes)).recovery
    assert found.first_less_later_k == pytest.approx(94.1 - np.mean([93.0, 93.1, 92.9, 93.0, 93.1, 93.0]))
    assert found.first_interval.low > 0.5


def test_plain_values_hold_no_number_that_json_cannot(shot_set):
    plain = steadiness(shot_set([93.0, 93.2])).to_plain(charts=True)
    text = json.dumps(plain, allow_nan=False)
    assert json.loads(text)["study"] == "steadiness"
    assert plain["drift_interval"]["low"] is None
    assert plain["verdict"]["sentence"]


def test_tables_are_rectangular(shot_set):
    for table in steadiness(shot_set(TEMPS)).tables():
        assert all(len(row) == len(table.headings) for row in table.rows)


def test_nothing_is_promised_of_a_series_out_of_control(shot_set):
    temps = [93.0, 93.1, 92.9, 93.05, 95.0, 92.95, 93.0, 93.1, 92.9, 93.0, 92.95, 93.05]
    found = steadiness(shot_set(temps))
    assert found.chart.beyond
    assert "not all of that is chance, so no range" in found.sentence(TempUnit.DEGC)


def test_runs_on_one_side_are_said_once(shot_set):
    temps = [93.0 + (0.3 if 8 <= index < 18 else -0.3) + 0.01 * (index % 3) for index in range(26)]
    found = steadiness(shot_set(temps))
    (concern,) = (one for one in found.concerns if "one side" in one.said())
    assert concern.said() == (
        "Shots 1 to 8, 9 to 18 and 19 to 26 all lie on one side of the mean each: something changed."
    )


def test_recovery_goes_by_the_interval_where_that_differs_and_else_by_the_shot(shot_set):
    even = steadiness(shot_set(TEMPS)).charts()[-1]
    assert even.title == "Recovery"
    assert even.x.title == "shot"
    assert even.series[0].x[0] == 2.0
    uneven = steadiness(shot_set(TEMPS, interval_min=[3.0, 2.0, 5.0, 2.5, 4.5, 3.5, 2.0, 5.0, 4.0, 3.0]))
    assert uneven.charts()[-1].x.title == "since the shot before"


def test_a_night_between_two_days_does_not_stretch_the_recovery_chart(shot_set):
    minutes = [3.0, 3.0, 2.0, 5.0, 2.5, 1410.0, 4.5, 3.5, 2.0, 5.0]
    chart = steadiness(shot_set(TEMPS, interval_min=minutes)).charts()[-1]
    (points,) = chart.series
    assert points.x == (3.0, 2.0, 5.0, 2.5, 4.5, 3.5, 2.0, 5.0)
    assert points.y[4] == pytest.approx(TEMPS[6] - TEMPS[5])
    assert chart.x.title == "since the shot before, long pauses left out"
    assert chart.summary.endswith("Not shown: 1 shot after a pause of more than 60 min.")


def test_a_night_does_not_make_even_intervals_uneven(shot_set):
    chart = steadiness(shot_set(TEMPS, interval_min=[3.0] * 5 + [1410.0] + [3.0] * 4)).charts()[-1]
    assert chart.x.title == "shot, long pauses left out"
    assert chart.series[0].x == (2.0, 3.0, 4.0, 5.0, 7.0, 8.0, 9.0, 10.0)


def test_long_intervals_that_are_usual_stay_in_the_recovery_chart(shot_set):
    chart = steadiness(shot_set(TEMPS, interval_min=[60.0, 90.0] * 5)).charts()[-1]
    assert len(chart.series[0].x) == 9
    assert "Not shown" not in chart.summary


def test_no_range_is_promised_of_two_shots_or_where_the_sentence_promises_none(shot_set):
    def rows(found):
        return {row[0]: row[2] for row in found.tables()[0].rows}

    assert "95 % of all shots" not in rows(steadiness(shot_set(TEMPS[:2])))
    assert "control limits" not in rows(steadiness(shot_set(TEMPS[:2])))
    promised = steadiness(shot_set(TEMPS))
    assert "will lie within" in promised.sentence(TempUnit.DEGC)
    assert " to " in rows(promised)["95 % of all shots"]
    drifting = steadiness(shot_set(92.0 + 0.15 * np.arange(12)))
    assert rows(drifting)["95 % of all shots"] == "not promised: the shots drift"


def test_no_range_is_promised_where_a_shot_stands_apart(shot_set):
    temps = [93.0, 93.3, 92.8, 93.1, 92.9, 95.2, 93.2, 92.7, 93.0, 93.1, 92.9, 93.2]
    found = steadiness(shot_set(temps))
    assert found.outliers == (5,)
    assert "no range of future shots can be promised" in found.sentence(TempUnit.DEGC)


def test_scatter_below_what_readings_can_show_is_not_called_none(shot_set):
    """An interface with coarse steps gives one and the same temperature, shot after shot."""
    found = steadiness(shot_set([93.0] * 8, reading_uncertainty_k=0.29))
    said = found.sentence(TempUnit.DEGC)
    assert "no more than their own readings are uncertain by (0.29 °C)" in said
    assert "no range of future shots can be promised" in said
    assert "0.00" not in said
