import datetime as dt
from math import isnan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.logbook.importing.moments import (
    DAY_S,
    MomentReader,
    date_of,
    date_order,
    read_duration,
    read_moment,
)

MOMENT = dt.datetime.fromisoformat("2026-03-04T22:05:07")
IN_S = MOMENT.toordinal() * DAY_S + 22 * 3600 + 5 * 60 + 7


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("2026-03-04 22:05:07", ""),
        ("2026-03-04T22:05:07", ""),
        ("2026/03/04 22:05:07", ""),
        ("2026.03.04 22:05:07", ""),
        ("20260304 22:05:07", ""),
        ("20260304T220507", ""),
        ("20260304220507", ""),
        ("04.03.2026 22:05:07", "dmy"),
        ("4.3.2026 22:05:07", "dmy"),
        ("04.03.26 22.05.07", "dmy"),
        ("04/03/2026 22:05:07", "dmy"),
        ("03/04/2026 10:05:07 PM", "mdy"),
        ("3/4/26, 10:05:07 p.m.", "mdy"),
        ("26-03-04 22:05:07", "ymd"),
        ("4 Mar 2026 22:05:07", ""),
        ("04-MAR-26 22:05:07", ""),
        ("Mar 4, 2026 10:05:07 pm", ""),
        ("March 4th 2026 22:05:07", ""),
        ("Wed 04/03/2026 22:05:07", "dmy"),
        ("  2026-03-04   22:05:07  ", ""),
    ],
)
def test_dates_and_times_as_meters_write_them(text, order):
    moment = read_moment(text, order)
    assert moment is not None
    assert moment.at_s == IN_S


@pytest.mark.parametrize(
    ("text", "offset_s", "second"),
    [
        ("2026-03-04T22:05:07Z", 0.0, 79507.0),
        ("2026-03-04T22:05:07+01:00", 3600.0, 79507.0),
        ("2026-03-04 22:05:07.25 -0530", -19800.0, 79507.25),
        ("2026-03-04 22:05:07,5", None, 79507.5),
        ("2026-03-04 22:05:07:125", None, 79507.125),
        ("22:05:07.001", None, 79507.001),
        ("22:05", None, 79500.0),
        ("12:00 AM", None, 0.0),
        ("12:30 PM", None, 45000.0),
        ("24:00:00", None, 86400.0),
    ],
)
def test_parts_of_seconds_and_offsets(text, offset_s, second):
    moment = read_moment(text, "")
    assert moment is not None
    assert moment.offset_s == offset_s
    assert moment.second == pytest.approx(second, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        *(
            "",
            "93.2",
            "93,2",
            "10:60:00",
            "25:00:00",
            "10:00:61",
            "13:00 PM",
            "0:5",
            "10",
            "abc",
            "12.13.14.15",
        ),
        *("2026-02-30", "31/31/2026", "2026-13-01", "1879-01-01", "2026-3", "99999999", "1/2/3", "T10:00:00"),
        *("2026-03-04 25:00", "2026-03-04 10:00:00 XY", "10:00:00 2026-03-04", "-10:00:00", "+"),
    ],
)
def test_what_is_no_moment_gives_none(text):
    assert read_moment(text, "dmy") is None


def test_an_ambiguous_date_is_not_read_without_its_order():
    assert read_moment("03/04/2026", "") is None
    assert read_moment("13/04/2026", "") is not None
    assert date_of("03/04/2026").orders == ("dmy", "mdy")
    assert date_of("03/04/26").orders == ("ymd", "dmy", "mdy")
    assert date_of("2026-03-04").orders == ("ymd",)


@given(
    st.datetimes(dt.datetime.fromisoformat("1980-01-01"), dt.datetime.fromisoformat("2099-12-31")),
    st.sampled_from(
        [("%Y-%m-%d", "ymd"), ("%d.%m.%Y", "dmy"), ("%m/%d/%Y", "mdy"), ("%d-%b-%Y", ""), ("%Y%m%d", "")]
    ),
    st.sampled_from(["%H:%M:%S.%f", "%I:%M:%S.%f %p"]),
)
def test_what_python_writes_is_read_back(moment, form, clock):
    date, order = form
    at_s = moment.toordinal() * DAY_S + (moment - dt.datetime.combine(moment, dt.time())).total_seconds()
    written = moment.strftime(f"{date} {clock}")
    assert read_moment(written, order).at_s == pytest.approx(at_s, abs=2e-5)
    reader = MomentReader(order)
    assert reader.at_s(written) == pytest.approx(at_s, abs=2e-5)
    assert reader.at_s(moment.strftime(clock), moment.strftime(date)) == pytest.approx(at_s, abs=2e-5)


class TestOrder:
    def nothing(self, _order):
        return []

    def test_a_day_beyond_the_twelfth_tells(self):
        assert date_order(["03/04/2026", "03/13/2026"], self.nothing).order == "mdy"
        assert date_order(["03/04/2026", "13/04/2026"], self.nothing).order == "dmy"

    def test_what_cannot_be_known_stays_open(self):
        found = date_order(["03/04/2026"], self.nothing)
        assert found.order == ""
        assert found.possible == ("dmy", "mdy")
        assert date_order(["11/10/12"], self.nothing).possible == ("ymd", "dmy", "mdy")

    def test_it_does_not_matter_where_day_and_month_are_alike(self):
        found = date_order(["05/05/2026"], self.nothing)
        assert (found.order, found.matters) == ("", False)
        assert read_moment("05/05/2026", "").day == dt.date(2026, 5, 5).toordinal()

    def test_full_stops_have_the_day_first(self):
        assert date_order(["03.04.2026"], self.nothing).order == "dmy"

    def test_years_long_ago_are_not_meant(self):
        assert date_order(["26-03-04"], self.nothing).order == "ymd"

    def test_rows_that_go_on_through_midnight_tell(self):
        def steps(order):
            reader = MomentReader(order)
            return [reader.at_s("04/04/2026 00:00:01") - reader.at_s("03/04/2026 23:59:59")]

        assert date_order(["03/04/2026", "04/04/2026"], steps).order == "dmy"

    def test_orders_that_contradict_each_other_leave_none(self):
        assert date_order(["13/04/2026", "04/13/2026"], self.nothing).possible == ()


@pytest.mark.parametrize(
    ("text", "form", "seconds"),
    [
        ("0:01:30", "mm:ss", 90.0),
        ("100:00:00.5", "mm:ss", 360000.5),
        ("01:30", "mm:ss", 90.0),
        ("01:30", "h:mm", 5400.0),
        ("01:30.25", "mm:ss", 90.25),
        ("0:00:01:250", "mm:ss", 1.25),
        ("1 00:00:01", "mm:ss", 86401.0),
        ("1.00:00:01", "mm:ss", 86401.0),
    ],
)
def test_durations(text, form, seconds):
    assert read_duration(text, form) == seconds


@pytest.mark.parametrize("text", ["", "90", "1:60", "1:2:61", "a:b", "-1:00", "::", "1:2:3:4:5"])
def test_what_is_no_duration(text):
    assert isnan(read_duration(text, "mm:ss"))
