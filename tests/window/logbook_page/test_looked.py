"""Traces made small keep what matters, whatever they hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.logbook.index import LogbookIndex
from benchtemp.logbook.index.editing import edit, set_aside
from benchtemp.units import TempUnit
from benchtemp.window.logbook_page import looked as looked_module
from benchtemp.window.logbook_page.figures import edit_text, figures_of, title_of
from benchtemp.window.logbook_page.looked import TRACES_MAX, look_into, thinned

TEMPS = st.lists(st.floats(0, 200) | st.just(float("nan")), min_size=1, max_size=400)


@given(temps=TEMPS, most=st.integers(4, 60))
def test_no_peak_is_lost_and_time_goes_on(temps, most):
    temp_degc = np.array(temps)
    t_s = np.arange(len(temps)) / 10
    small_s, small_degc = thinned(t_s, temp_degc, most)
    assert len(small_s) == len(small_degc) <= max(most, 2 * (most // 2))
    assert (np.diff(small_s) > 0).all()
    assert np.isin(small_s, t_s).all()
    if np.isfinite(temp_degc).any():
        assert np.nanmax(small_degc) == np.nanmax(temp_degc)
        assert np.nanmin(small_degc) == np.nanmin(temp_degc)
    else:
        assert not np.isfinite(small_degc).any()


def test_a_trace_is_corrected_and_counted_from_pump_on(book, make_shot):
    make_shot(1)
    index = LogbookIndex(book)
    index.update()
    chosen = look_into(index, index.places())
    trace = chosen.looked[0].trace
    assert (trace.t_s[0], trace.pump_off_s, trace.plateau_s) == (-2.0, 26.0, (6.0, 26.0))
    assert trace.band_degc == (90.5, 96.0)
    assert np.nanmax(trace.temp_degc) == pytest.approx(93.0)


def test_of_many_files_none_is_opened(book, make_shot):
    for number in range(TRACES_MAX + 1):
        make_shot(number + 1, notes=f"note {number}")
    index = LogbookIndex(book)
    index.update()
    places = index.places()
    for path in book.shots():
        path.unlink()
    chosen = look_into(index, places)
    assert [one.notes for one in chosen.looked] == [f"note {number}" for number in range(TRACES_MAX, -1, -1)]
    assert all(one.trace is None for one in chosen.looked)
    assert title_of(chosen.rows) == f"{TRACES_MAX + 1} shots"


def test_what_is_gone_or_too_long_says_so(book, make_shot, monkeypatch):
    gone, long = make_shot(1), make_shot(2)
    index = LogbookIndex(book)
    index.update()
    gone.unlink()
    monkeypatch.setattr(looked_module, "TRACE_BYTES_MAX", 100)
    found = {one.place: one for one in look_into(index, index.places()).looked}
    assert "not there any more" in found[index.place_of(gone)].complaint
    assert found[index.place_of(long)].no_trace == "Too long to be drawn here; replay it."
    assert found[index.place_of(long)].tags["coffee"] == "house blend"


def test_figures_and_history_are_told_in_the_unit_shown(book, make_shot):
    path = make_shot(1)
    edit(path, tags={"coffee": "low tide"})
    set_aside(path, "channelled")
    index = LogbookIndex(book)
    index.update()
    chosen = look_into(index, index.places())
    facts = dict(figures_of(chosen.rows, TempUnit.DEGF))
    assert facts["Lowest, highest"] == "199.0 to 199.8 °F"
    assert facts["Dose, yield"] == "18.0 g → 36.0 g  (1:2.00)"
    texts = [edit_text(one)[18:] for one in chosen.looked[0].edits]
    assert texts == ["coffee: “house blend” → “low tide”", "counts: yes → no; set aside: none → “channelled”"]
