"""The days below a probe's history."""

from __future__ import annotations

from datetime import datetime

import pytest

from benchtemp.window.probes_page.history_chart import _DayAxis


def labels(since, until, width_px):
    low, high = (datetime.fromisoformat(text).astimezone().timestamp() for text in (since, until))
    ((spacing, values),) = axis().tickValues(low, high, width_px)
    assert all(low <= value <= high for value in values)
    return axis().tickStrings(values, 1.0, spacing)


def axis():
    return _DayAxis()


@pytest.mark.usefixtures("qapp")
def test_weeks_are_told_by_day():
    assert labels("2031-02-20T08:00", "2031-03-05T20:00", 500) == [
        "20 Feb", "22 Feb", "24 Feb", "26 Feb", "28 Feb", "2 Mar", "4 Mar"
    ]  # fmt: skip


@pytest.mark.usefixtures("qapp")
def test_months_are_told_by_name_and_january_by_its_year():
    assert labels("2030-09-05T00:00", "2031-03-02T00:00", 600) == ["Oct", "Nov", "Dec", "2031", "Feb", "Mar"]


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("days", [1, 3, 20, 60, 200, 500, 1500, 8000])
@pytest.mark.parametrize("width_px", [200, 600, 1300])
def test_labels_have_room(days, width_px):
    low = datetime(2029, 5, 17, 13, 0).astimezone().timestamp()
    ((spacing, values),) = axis().tickValues(low, low + days * 86400.0, width_px)
    assert len(values) <= max(2, width_px / 64.0) + 1
    assert values == sorted(set(values))
    texts = axis().tickStrings(values, 1.0, spacing)
    assert all(texts)
    if spacing < 360 * 86400.0:
        assert len(set(texts)) == len(texts) or days > 330
