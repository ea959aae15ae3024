from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.reports.charts.shot_charts import (
    brew_chart,
    overlay_chart,
    plateau_chart,
    plateaus_chart,
    shot_chart,
    thinned,
)
from benchtemp.reports.gathering import read_tested
from benchtemp.studies.chart import Look


@settings(max_examples=30)
@given(
    st.lists(st.one_of(st.floats(-50, 150), st.just(float("nan"))), min_size=1, max_size=400),
    st.integers(4, 60),
)
def test_thinning_keeps_every_peak_and_every_gap(values, at_most):
    degc = np.array(values)
    t_s = np.arange(float(len(degc)))
    kept_s, kept = thinned(t_s, degc, at_most)
    assert len(kept) <= max(len(degc) if len(degc) <= at_most else 3 * at_most, 1)
    assert (np.diff(kept_s) > 0).all()
    assert np.isnan(kept).any() == np.isnan(degc).any()
    if np.isfinite(degc).any():
        assert (np.nanmin(kept), np.nanmax(kept)) == (np.nanmin(degc), np.nanmax(degc))


def test_a_shots_chart_shows_plateau_and_pump_times_where_they_were(single):
    (one,) = single.shots
    chart = shot_chart(one)
    result = one.shot.result
    levels = {level.name: level for level in chart.levels}
    assert levels["pump on"].at == 0.0
    assert levels["pump off"].at == pytest.approx(result.shot_time_s)
    assert levels["plateau"].at == pytest.approx(result.time_to_plateau_s)
    assert levels["plateau"].to - levels["plateau"].at == pytest.approx(result.plateau_s)
    assert (levels["target band"].at, levels["target band"].to) == (90.5, 96.0)
    assert "92.59 °C on average" in chart.summary
    assert max(chart.series[0].y) == pytest.approx(np.nanmax(one.trace.between(-5, 40).degc), abs=0.001)


def test_pump_times_that_were_estimated_say_so(recording):
    (one,) = read_tested([recording(93.0, marked=False)]).shots
    names = [level.name for level in shot_chart(one).levels]
    assert "pump on (estimated)" in names
    assert "pump off (estimated)" in names


def test_the_plateaus_chart_holds_only_the_plateau(single):
    (one,) = single.shots
    chart = plateau_chart(one)
    result = one.shot.result
    assert chart.series[0].x[0] >= result.time_to_plateau_s - 0.1
    assert max(chart.series[0].y) == pytest.approx(result.highest_degc, abs=0.001)
    assert min(chart.series[0].y) == pytest.approx(result.lowest_degc, abs=0.001)
    assert (
        next(level for level in chart.levels if level.name == "brew temperature").at == result.brew_temp_degc
    )


def test_shots_laid_over_each_other_are_told_apart(series):
    chart = overlay_chart(series.shots)
    assert [line.group for line in chart.series] == [0, 1, 2, 3, 4, 5]
    assert len({line.name for line in chart.series}) == 6
    assert not any(line.faint for line in chart.series)
    lines = plateaus_chart(series.shots).series
    assert all(min(line.x) > 5 and max(line.x) < 30 for line in lines)


def test_those_that_do_not_count_are_faint_and_behind(series):
    first, *others = series.shots
    aside = replace(first, used=False)
    chart = overlay_chart([*others, aside])
    assert [line.faint for line in chart.series] == [True, False, False, False, False, False]
    assert chart.series[0].name == "does not count"
    brew = brew_chart([*others, aside])
    assert [(part.name, len(part.x), part.group) for part in brew.series] == [
        ("counts", 5, 0),
        ("does not count", 1, 1),
    ]
    assert brew.series[1].x == (6.0,)


def test_more_lines_than_can_be_told_apart_go_by_machine(series):
    other = [
        replace(one, record=msgspec.structs.replace(one.record, machine="Ostrel", path=f"other {place}"))
        for place, one in enumerate(series.shots)
    ]
    chart = overlay_chart([*series.shots, *other])
    assert {(line.name, line.group) for line in chart.series} == {("Ferrowick Two", 0), ("Ostrel", 1)}
    many = [
        replace(one, record=msgspec.structs.replace(one.record, path=f"{place}"))
        for place, one in enumerate(series.shots * 12)
    ]
    assert "the first 60 of 72 shots" in overlay_chart(many).summary


def test_brew_temperatures_carry_their_uncertainty(series):
    chart = brew_chart(series.shots)
    (part,) = chart.series
    assert part.look is Look.INTERVALS
    assert part.y == tuple(one.record.brew_temp_degc for one in series.shots)
    halves = [(high - low) / 2 for low, high in zip(part.low, part.high, strict=True)]
    assert halves == pytest.approx([one.record.expanded_uncertainty_k for one in series.shots])


def test_where_there_is_too_little_there_is_no_chart(single):
    (one,) = single.shots
    assert overlay_chart([one]) is None
    assert brew_chart([one]) is None
    assert shot_chart(replace(one, trace=None)) is None
    assert plateau_chart(replace(one, trace=None)) is None
