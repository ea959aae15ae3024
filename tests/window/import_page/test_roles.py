"""Columns and what they are taken for, without a window."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.logbook.importing import Junction, TableLayout, Temperature, Timing, Weight
from benchtemp.window.import_page.roles import (
    CHANNEL_UNITS,
    TIME_UNITS,
    Use,
    layout_from,
    roles_for,
    units_of,
    uses_of,
    with_role,
    with_unit,
)

BASE = TableLayout(
    columns=6,
    delimiter=";",
    time=Timing(kind="clock", column=2, date_column=1, order="dmy"),
    temperatures=(Temperature(column=4), Temperature(column=3, unit="degF", unit_follows=True)),
    weight=Weight(column=5, unit="oz"),
)


def test_a_layout_seen_by_columns_is_the_same_again():
    uses = uses_of(BASE, 6)
    assert [use.role for use in uses] == ["date", "time", "T2", "T1", "weight", ""]
    assert layout_from(BASE, uses) == BASE


def test_channels_change_places():
    uses = with_role(uses_of(BASE, 6), 2, "T1")
    assert [use.role for use in uses] == ["date", "time", "T1", "T2", "weight", ""]
    layout = layout_from(BASE, uses)
    assert [one.column for one in layout.temperatures] == [3, 4]
    assert layout.temperatures[0].unit_follows


def test_a_channel_taken_away_leaves_no_gap():
    uses = with_role(uses_of(BASE, 6), 3, "")
    assert [use.role for use in uses] == ["date", "time", "T1", "", "weight", ""]
    assert [value for value, _ in roles_for(uses)].count("T2") == 1
    assert "T3" not in [value for value, _ in roles_for(uses)]


def test_a_new_channel_has_the_unit_of_the_others():
    uses = with_role(uses_of(BASE, 6), 5, "T3")
    assert uses[5] == Use("T3", "degF")


def test_a_unit_that_is_chosen_goes_before_the_one_behind_the_number():
    layout = layout_from(BASE, with_unit(uses_of(BASE, 6), 2, "K"))
    assert layout.temperatures[1] == Temperature(column=3, unit="K")


def test_without_a_column_of_times_rows_are_counted():
    uses = with_role(uses_of(BASE, 6), 1, "")
    layout = layout_from(BASE, uses)
    assert layout.time.kind == "interval"
    assert layout.time.interval_s == 0


@pytest.mark.parametrize("unit", [value for value, _ in TIME_UNITS])
def test_every_way_to_write_a_time_is_kept(unit):
    uses = with_unit(with_role(uses_of(BASE, 6), 0, ""), 1, unit)
    layout = layout_from(BASE, uses)
    assert uses_of(layout, 6)[1] == Use("time", unit)


def test_a_date_makes_the_times_those_of_a_day():
    uses = with_unit(with_role(uses_of(BASE, 6), 0, ""), 1, "ms")
    uses = with_role(uses, 5, "date")
    assert layout_from(BASE, uses).time == Timing(kind="clock", column=2, date_column=6, order="dmy")


def test_voltages_take_a_junction():
    uses = with_unit(uses_of(BASE, 6), 3, "mV")
    layout = layout_from(BASE, with_role(uses, 5, "junction"))
    assert layout.has_voltages
    assert layout.junction == Junction(column=6)
    assert not layout.lacks_junction


def test_no_temperature_at_all_is_refused():
    uses = with_role(with_role(uses_of(BASE, 6), 2, ""), 3, "")
    with pytest.raises(BadInput, match="No column is taken as a temperature"):
        layout_from(BASE, uses)


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 40), st.integers(0, 20)), max_size=12))
def test_whatever_is_chosen_makes_a_layout_or_a_sentence(steps):
    uses = uses_of(BASE, 6)
    for place, role, unit in steps:
        roles = [value for value, _ in roles_for(uses)]
        uses = with_role(uses, place, roles[role % len(roles)], ["10:00:00", "93.1"])
        units = units_of(uses[place])
        if units:
            uses = with_unit(uses, place, units[unit % len(units)][0])
        channels = sorted(use.channel for use in uses if use.channel)
        assert channels == list(range(1, len(channels) + 1))
        named = [use.role for use in uses if use.role]
        assert len(set(named)) == len(named)
        if channels:
            layout = layout_from(BASE, uses)
            again = uses_of(layout, 6)
            assert [use.role for use in again if use.channel] == [use.role for use in uses if use.channel]
            assert all(use.unit in dict(CHANNEL_UNITS) for use in again if use.channel)
        else:
            with pytest.raises(BadInput):
                layout_from(BASE, uses)
