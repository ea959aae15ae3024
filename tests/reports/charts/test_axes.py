import pytest

from benchtemp.reports.charts.axes import axis_title, converted, reach
from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.units import TempUnit


@pytest.mark.parametrize(
    ("quantity", "unit", "value", "shown"),
    [
        (Quantity.TEMP_DEGC, TempUnit.DEGC, 93.0, 93.0),
        (Quantity.TEMP_DEGC, TempUnit.DEGF, 93.0, 199.4),
        (Quantity.SETPOINT_DEGC, TempUnit.DEGF, 100.0, 212.0),
        (Quantity.DELTA_K, TempUnit.DEGF, 1.0, 1.8),
        (Quantity.DELTA_K, TempUnit.DEGC, 1.0, 1.0),
        (Quantity.SHARE, TempUnit.DEGF, 0.5, 50.0),
        (Quantity.TIME_S, TempUnit.DEGF, 3.0, 3.0),
    ],
)
def test_values_are_converted_where_they_are_drawn(quantity, unit, value, shown):
    assert converted(quantity, unit)([value]) == pytest.approx([shown])


def test_titles_carry_the_unit_shown():
    assert axis_title(Axis(quantity=Quantity.TEMP_DEGC, title="brew"), TempUnit.DEGF) == "brew (°F)"
    assert axis_title(Axis(quantity=Quantity.SHOT, title="shot"), TempUnit.DEGF) == "shot"


def chart(*series, levels=(), x=Quantity.TIME_S):
    return Chart(
        title="",
        summary="",
        x=Axis(quantity=x, title="x"),
        y=Axis(quantity=Quantity.TEMP_DEGC, title="y"),
        series=series,
        levels=levels,
    )


def line(*y, look=Look.LINE, **more):
    return Series(name="one", look=look, x=tuple(float(at) for at in range(len(y))), y=y, **more)


def same(values):
    return converted(Quantity.TIME_S, TempUnit.DEGC)(values)


def test_an_axis_reaches_over_all_that_is_drawn():
    low, high = reach(chart(line(92.0, 93.0)), upright=True, convert=same)
    assert low < 92.0
    assert high > 93.0
    assert reach(chart(line(92.0, 93.0)), upright=False, convert=same)[1] > 1.0


def test_a_wide_strip_does_not_squeeze_what_is_drawn_and_a_narrow_one_is_shown_whole():
    wide = chart(line(92.0, 93.0), levels=(Level(name="band", at=80.0, to=99.0),))
    assert reach(wide, upright=True, convert=same)[0] > 91
    narrow = chart(line(92.0, 93.0), levels=(Level(name="band", at=92.5, to=94.0),))
    assert reach(narrow, upright=True, convert=same)[1] > 94


def test_a_line_across_is_always_in_sight_and_one_upright_is_on_the_other_axis():
    across = chart(line(92.0, 93.0), levels=(Level(name="target", at=96.0),))
    assert reach(across, upright=True, convert=same)[1] > 96
    upright = chart(line(92.0, 93.0), levels=(Level(name="start", at=7.0, upright=True),))
    assert reach(upright, upright=True, convert=same)[0] > 90
    assert reach(upright, upright=False, convert=same)[1] > 7


def test_ends_that_are_infinite_or_missing_do_not_count():
    series = line(92.0, 93.0, look=Look.INTERVALS, low=(-float("inf"), 92.5), high=(float("nan"), 94.0))
    low, high = reach(chart(series), upright=True, convert=same)
    assert 91 < low < 92
    assert 94 < high < 95


def test_bars_stand_on_zero_and_one_value_has_room():
    assert reach(chart(line(1.0, 2.0, look=Look.BARS)), upright=True, convert=same)[0] == 0.0
    low, high = reach(chart(line(93.0)), upright=True, convert=same)
    assert low < 93.0 < high
    assert reach(chart(), upright=True, convert=same) == pytest.approx((-0.06, 1.06))


def test_shots_are_counted_from_one_on():
    assert reach(chart(line(92.0, 93.0), x=Quantity.SHOT), upright=False, convert=same) == (-0.6, 1.6)
