"""Streams of many shapes, shared by the tests of the logbook."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import strategies as st
from hypothesis.extra import numpy as stnp

from benchtemp.readings.reading import Mark, MarkKind, Stream

if TYPE_CHECKING:
    from collections.abc import Callable

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
NUMBERS = st.floats(allow_nan=False, width=64)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**63 - 1) | NUMBERS | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)


@st.composite
def _marks(draw: st.DrawFn) -> Mark:
    kind = draw(st.sampled_from(MarkKind))
    words = " ".join(draw(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)).split())
    return Mark(draw(st.floats(0, 1e6)), kind, words)


@st.composite
def _streams(draw: st.DrawFn) -> Stream:
    rows = draw(st.integers(0, 12))
    count = draw(st.integers(1, 4))
    values = st.just(float("nan")) | NUMBERS
    marks = tuple(draw(st.lists(_marks(), max_size=4)))
    places = sorted(draw(st.lists(st.integers(0, rows), min_size=len(marks), max_size=len(marks))))
    times = sorted(draw(st.lists(st.floats(0, 1e6), min_size=rows, max_size=rows)))
    return Stream(
        channels=tuple(f"T{number}" for number in range(1, count + 1)),
        t_s=np.array(times, dtype=np.float64),
        temps_degc=draw(stnp.arrays(np.float64, (rows, count), elements=values)),
        weight_g=draw(st.none() | stnp.arrays(np.float64, (rows,), elements=values)),
        marks=marks,
        mark_rows=tuple(places),
        meta=draw(st.dictionaries(TEXTS, PLAIN, max_size=4)),
    )


@pytest.fixture(scope="session")
def streams() -> st.SearchStrategy[Stream]:
    """Return a strategy for streams with any number, mark and meta."""
    return _streams()


@pytest.fixture(scope="session")
def assert_same_stream() -> Callable[[Stream, Stream], None]:
    """Return a check that two streams are the same, bit for bit, warnings apart."""

    def check(found: Stream, expected: Stream) -> None:
        assert found.channels == expected.channels
        assert found.t_s.tobytes() == expected.t_s.tobytes()
        np.testing.assert_array_equal(found.temps_degc, expected.temps_degc)
        np.testing.assert_array_equal(np.signbit(found.temps_degc), np.signbit(expected.temps_degc))
        assert (found.weight_g is None) == (expected.weight_g is None)
        if found.weight_g is not None and expected.weight_g is not None:
            np.testing.assert_array_equal(found.weight_g, expected.weight_g)
        assert found.marks == expected.marks
        assert found.mark_rows == expected.mark_rows
        assert found.meta == expected.meta

    return check


@pytest.fixture
def small_stream() -> Stream:
    """Return a minute of two channels with a scale, marks and a header of our vocabulary."""
    nan = float("nan")
    return Stream(
        channels=("T1", "T2"),
        t_s=np.array([0.0, 0.1, 0.25, 0.3]),
        temps_degc=np.array([[93.25, 91.0], [nan, 91.25], [93.5, nan], [nan, nan]]),
        weight_g=np.array([0.0, nan, 1.5, 2.25]),
        marks=(
            Mark(0.05, MarkKind.PUMP_ON),
            Mark(0.26, MarkKind.NOTE, 'puck "wet", #2 of 5, 20 °C'),
            Mark(0.4, MarkKind.PUMP_OFF),
        ),
        mark_rows=(1, 3, 4),
        meta={
            "kind": "shot",
            "format_version": 1,
            "started": "2025-11-25T10:00:00+01:00",
            "machine": "Kestrel Two",
            "tags": {"coffee": "no. 7", "flush": "off", "code": "010", "day": "2025-11-25"},
            "recipe": {"dose_g": 18.0},
        },
    )
