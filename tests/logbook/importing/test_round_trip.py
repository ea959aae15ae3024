"""What a meter wrote is what is read, whatever way it writes."""

import datetime as dt
from math import isnan, nan

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from benchtemp.logbook.importing import Given, TableLayout, Temperature, Timing, guess_table, read_table

MIDNIGHT = dt.datetime.fromisoformat("2026-03-14")
CLOCKS = [
    ("", "%Y-%m-%d %H:%M:%S"),
    ("", "%Y-%m-%dT%H:%M:%S"),
    ("%Y-%m-%d", "%H:%M:%S"),
    ("%d.%m.%Y", "%H:%M:%S"),
    ("", "%d/%m/%Y %H:%M:%S"),
    ("%d/%m/%y", "%H:%M:%S"),
    ("", "%m/%d/%Y %I:%M:%S %p"),
    ("%Y/%m/%d", "%H:%M:%S"),
    ("%d-%b-%Y", "%H:%M:%S"),
    ("%Y%m%d", "%H:%M:%S"),
]


@st.composite
def tables(draw, meter):
    """Return a meter, the times and temperatures it wrote, and its temperatures' columns."""
    count = draw(st.integers(1, 6))
    rows = draw(st.integers(6, 40))
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    decimal = draw(st.sampled_from([".", ","])) if delimiter != "," else "."
    encoding = draw(st.sampled_from(["utf-8", "utf-16-le", "utf-16-be", "cp1252"]))
    elapsed = draw(st.sampled_from([None, None, 1.0, 1000.0]))
    date, clock = draw(st.sampled_from(CLOCKS)) if elapsed is None else ("", "")
    fahrenheit = draw(st.booleans())
    suffix = draw(st.sampled_from(["", "", " °F" if fahrenheit else " °C"]))
    unit = "°F" if fahrenheit else "°C"
    in_names = not suffix and draw(st.booleans())
    times = [{1.0: "Time (s)", 1000.0: "Time (ms)"}.get(elapsed, "Time")]
    times = ["Date", *times] if date else times
    names = [f"T{number} ({unit})" if in_names else f"T{number}" for number in range(1, count + 1)]
    with_units = not suffix and not in_names
    units = tuple(["" for _ in times] + [unit] * count) if with_units else None
    value = st.one_of(*[st.floats(-40, 140).map(lambda one: round(one, 1))] * 9, st.just(nan))
    temps = draw(st.lists(st.lists(value, min_size=count, max_size=count), min_size=rows, max_size=rows))
    for place in range(count):
        temps[0][place] = 20.5 + place  # a column without any value would rightly be left out
    step_s = draw(st.sampled_from([1, 2, 5])) if elapsed is None else draw(st.sampled_from([0.25, 1.0, 0.1]))
    above = draw(
        st.sampled_from(
            [(), ("Record of a bench",), ("Serial: 00412", "Operator: M. Ferrowick", ""), ("", "")]
        )
    )
    written = meter(
        delimiter=delimiter,
        decimal=decimal,
        encoding=encoding,
        mark=draw(st.booleans()),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        above=above,
        heading=(*times, *names),
        units=units,
        below=draw(st.sampled_from([(), ("End of record",), ("", "*** 12 rows ***")])),
        ended=True,
        decimals=draw(st.sampled_from([1, 2, 4])),
        suffix=suffix,
        none=draw(st.sampled_from(["", "OL", "---", "Open", "NaN", "****"])),
        clock=clock,
        date=date,
        elapsed=elapsed,
        fahrenheit=fahrenheit,
        # The 14th leaves no doubt about the order of a date.
        started=MIDNIGHT
        + dt.timedelta(days=draw(st.integers(0, 14)), hours=draw(st.integers(0, 23)), seconds=3590),
    )
    return written, [step_s * row for row in range(rows)], temps


def expected(written, temps):
    """Return what was written, as °C with the digits it was written with."""
    found = []
    for row in temps:
        cells = [written.number(value).removesuffix(written.suffix).replace(",", ".") for value in row]
        degc = [
            nan if isnan(value) else (float(cell) - 32) / 1.8 if written.fahrenheit else float(cell)
            for cell, value in zip(cells, row, strict=True)
        ]
        found.append(degc)
    return np.array(found)


@given(st.data())
def test_numbers_read_are_the_numbers_written(meter, data):
    written, t_s, temps = data.draw(tables(meter))
    content = written.file(t_s, temps)
    # 14/03/26 may be in March 2026 or 2014: nothing but being told helps.
    guess = guess_table(content, given=Given(order="dmy" if "%y" in written.date else None))
    assert not guess.required
    assert guess.layout.encoding in (written.encoding, "utf-8")
    stream = read_table(content, guess.layout)
    # °F are turned into °C with 4 decimals.
    np.testing.assert_allclose(
        stream.temps_degc, expected(written, temps), rtol=0, atol=5.1e-5 if written.fahrenheit else 0
    )
    np.testing.assert_allclose(stream.t_s, t_s, rtol=0, atol=1e-9)
    if written.elapsed is None:
        assert dt.datetime.fromisoformat(stream.meta["started"]).replace(tzinfo=None) == written.started
    assert stream.meta["channels"][0]["unit_as_sent"] == ("degF" if written.fahrenheit else "degC")


@given(st.data())
def test_spaces_part_columns_too(meter, data):
    gap = data.draw(st.sampled_from([" ", "  ", "   ", " \t"]))
    decimal = data.draw(st.sampled_from([".", ","]))
    none = data.draw(st.sampled_from(["OL", "---", "open"]))
    temps = data.draw(
        st.lists(
            st.lists(
                st.floats(-40, 140).map(lambda one: round(one, 1)) | st.just(nan), min_size=2, max_size=2
            ),
            min_size=5,
            max_size=30,
        )
    )
    temps[0] = [20.5, 21.5]
    written = meter(
        delimiter=gap,
        decimal=decimal,
        none=none,
        heading=("Date", "Time", "T1", "T2"),
        date="%Y-%m-%d",
        clock="%H:%M:%S",
    )
    t_s = [float(row) for row in range(len(temps))]
    content = written.file(t_s, temps)
    stream = read_table(content, guess_table(content, given=Given(unit="degC")).layout)
    np.testing.assert_array_equal(stream.temps_degc, expected(written, temps))
    np.testing.assert_array_equal(stream.t_s, t_s)


@given(
    st.lists(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=3), min_size=1, max_size=20),
    st.sampled_from([";", "\t", "|", ":", "^"]),
    st.sampled_from([".", ","]),
)
@example([[93.25, 1e-7, -0.0]], ";", ",")
def test_a_stated_layout_reads_any_number_exactly(rows, delimiter, decimal):
    content = "".join(
        delimiter.join([str(place), *(repr(value).replace(".", decimal) for value in row)]) + "\n"
        for place, row in enumerate(rows)
    ).encode()
    layout = TableLayout(
        delimiter=delimiter,
        decimal=decimal,
        columns=4,
        time=Timing(kind="elapsed", column=1),
        temperatures=tuple(Temperature(column=column) for column in (4, 2, 3)),
    )
    stream = read_table(content, layout)
    values = np.array([[row[2], row[0], row[1]] for row in rows])
    values[(values < -270) | (values > 1372)] = nan
    np.testing.assert_array_equal(stream.temps_degc, values)


@pytest.mark.parametrize("step_s", [0.25, 0.3, 1 / 3, 0.7, 0.5, 0.1])
def test_times_to_the_second_are_spread_evenly(meter, step_s):
    t_s = [step_s * row for row in range(120)]
    written = meter(heading=("Time", "T1 (°C)"))
    content = written.file(t_s, [[20.0 + row / 10] for row in range(120)])
    stream = read_table(content, guess_table(content).layout)
    np.testing.assert_allclose(stream.t_s, t_s, rtol=0, atol=min(step_s, 0.35))
    np.testing.assert_allclose(np.diff(stream.t_s), step_s, rtol=0, atol=2e-4)
    assert any("steps of 1 s" in warning for warning in stream.warnings)


def test_a_stated_unit_goes_before_what_is_written(meter):
    content = meter(heading=("Time", "T1 (°C)")).file([0, 1, 2, 3], [[199.4]] * 4)
    stream = read_table(content, guess_table(content, given=Given(unit="degF")).layout)
    assert stream.temps_degc[0, 0] == pytest.approx(93.0)
