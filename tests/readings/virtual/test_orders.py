"""Orders: what can be set, what is refused, and what a recording tells of it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.readings.virtual.orders import LIMITS, Deed, Order, OrderKind, deeds_in, order_from


@given(st.sampled_from(OrderKind), st.floats(0.0, 1.0))
def test_a_note_is_read_back_as_the_very_order(kind, share):
    low, high, _unit, _what = LIMITS[kind]
    order = Order(kind, low + share * (high - low)).checked()
    assert order_from(order.note) == order


@pytest.mark.parametrize("kind", OrderKind)
@pytest.mark.parametrize("beside", [-1.0, 1.0])
def test_what_cannot_be_set_is_refused_with_what_can(kind, beside):
    low, high, unit, what = LIMITS[kind]
    value = low - 0.4 if beside < 0 else high + 1.0
    with pytest.raises(BadInput, match=f"A {what} of .* {unit} cannot be set here; give {low:g} to {high:g}"):
        Order(kind, value).checked()
    with pytest.raises(BadInput, match="cannot be set"):
        Order(kind, float("nan")).checked()


def test_the_end_of_an_idle_time_is_an_order_without_a_value():
    order = Order(OrderKind.IDLE)
    assert order.checked().ends_waiting
    assert order.note == "machine: idle over"
    assert order_from(order.note) == order


@pytest.mark.parametrize(
    "note", ["cup changed", "machine: hot", "machine: flush 4 g", "machine: flush 400 s", "machine: pump 1 s"]
)
def test_other_notes_are_no_orders(note):
    assert order_from(note) is None


def test_deeds_are_found_among_all_marks_and_a_mark_taken_back_is_obeyed():
    marks = [
        Mark(0.5, MarkKind.SET, "dose_g=18"),
        Mark(1.0, MarkKind.NOTE, "machine: flush 4 s"),
        Mark(9.0, MarkKind.PUMP_ON),
        Mark(20.0, MarkKind.PUMP_OFF),
        Mark(20.5, MarkKind.UNDO),
        Mark(25.0, MarkKind.NOTE, "spurting"),
        Mark(30.0, MarkKind.PUMP_OFF),
        Mark(40.0, MarkKind.TARE, "by scale"),
    ]
    assert deeds_in(marks) == (
        Deed(1.0, Order(OrderKind.FLUSH, 4.0)),
        Deed(9.0, what=True),
        Deed(20.0, what=False),
        Deed(20.5, what=True),
        Deed(30.0, what=False),
        Deed(40.0, None),
    )
