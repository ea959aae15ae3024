"""Files as they should not be written, and are: each is read right, or refused in one clear sentence."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.importing import Given, guess_table, read_table, try_guess, try_layout
from benchtemp.logbook.importing.text import read_text

LATE = dt.datetime.fromisoformat("2026-03-14T23:59:50")
TEMPS = [93.0 + row / 10 for row in range(30)]


def comma(value):
    return f"{value:.1f}".replace(".", ",")


def rows(write, *, began=LATE, step_s=1.0, temps=TEMPS):
    return [write(began + dt.timedelta(seconds=row * step_s), temp) for row, temp in enumerate(temps)]


def read(lines, *, mark="", **stated):
    content = (mark + "\r\n".join([*lines, ""])).encode()
    guess = guess_table(content, given=Given(**stated), name="card.csv")
    assert not guess.required
    return guess, read_table(content, guess.layout)


def test_am_pm_through_midnight_with_quoted_decimal_commas():
    def write(moment, temp):
        hour = moment.hour % 12 or 12
        return f'"{moment:%m/%d/%Y} {hour}:{moment:%M:%S %p}","{comma(temp)}","{comma(temp - 70)}"'

    guess, stream = read(['"Date","Temp 1 (°C)","Temp 2 (°C)"', *rows(write)])
    assert (guess.layout.delimiter, guess.layout.decimal, guess.layout.time.order) == (",", ",", "mdy")
    np.testing.assert_array_equal(stream.t_s, np.arange(30.0))
    np.testing.assert_allclose(stream.temps_degc[:, 0], TEMPS, rtol=0, atol=1e-9)
    assert stream.meta["started"].startswith("2026-03-14T23:59:50")
    assert stream.warnings == ()


def test_a_mark_at_the_beginning_and_a_summary_at_the_end():
    below = ["", "Statistik;T1;T2", "Max;95,9;25,9", "Min;93,0;23,0", "Mittelwert;94,4;24,4", "Anzahl;30;30"]
    lines = rows(lambda moment, temp: f"{moment:%Y-%m-%d %H:%M:%S};{comma(temp)};{comma(temp - 70)}")
    _, stream = read(["Zeit;T1 [°C];T2 [°C]", *lines, *below], mark="\ufeff")
    np.testing.assert_allclose(stream.temps_degc[:, 0], TEMPS, rtol=0, atol=1e-9)
    assert len(stream.warnings) == 1
    assert "5 lines below the last row" in stream.warnings[0]


def test_a_heading_on_every_page():
    lines = rows(lambda moment, temp: f"{moment:%Y-%m-%d %H:%M:%S},{temp:.1f}")
    head = "Time,T1 (°C)"
    _, stream = read(
        ["Page 1", head, *lines[:10], "", "Page 2", head, *lines[10:20], "Page 3", head, *lines[20:]]
    )
    np.testing.assert_array_equal(stream.t_s, np.arange(30.0))
    assert any("2 lines of the heading stand again" in warning for warning in stream.warnings)
    assert any("“Page 2”" in warning for warning in stream.warnings)


@pytest.mark.parametrize("form", ["%H:%M:%S", "%I:%M:%S %p"])
def test_times_without_a_date_run_through_midnight(form):
    _, stream = read(["Time,T1 °C", *rows(lambda moment, temp: f"{moment:{form}},{temp:.1f}")])
    np.testing.assert_array_equal(stream.t_s, np.arange(30.0))


def test_the_clock_put_back_in_autumn_loses_no_reading():
    def write(moment, temp):
        return f"{moment:%d.%m.%Y %H:%M:%S};{comma(temp)}"

    before = rows(write, began=dt.datetime.fromisoformat("2026-10-25T02:59:50"), temps=TEMPS[:10])
    after = rows(write, began=dt.datetime.fromisoformat("2026-10-25T02:00:00"), temps=TEMPS[10:])
    _, stream = read(["Zeit;T1 °C", *before, *after])
    np.testing.assert_allclose(stream.temps_degc[:, 0], TEMPS, rtol=0, atol=1e-9)
    assert np.all(np.diff(stream.t_s) > 0)
    assert stream.mark_rows == (10,)
    assert any("Time goes back in 1 place" in warning for warning in stream.warnings)


def test_with_offsets_to_utc_that_night_is_no_riddle():
    lines = [f"2026-10-25T02:59:{50 + row}+02:00,{93 + row / 10}" for row in range(10)]
    lines += [f"2026-10-25T02:00:{row:02d}+01:00,{94 + row / 10}" for row in range(20)]
    _, stream = read(["Time,T1 °C", *lines])
    np.testing.assert_array_equal(stream.t_s, np.arange(30.0))
    assert stream.warnings == ()


def test_the_hour_that_is_not_there_in_spring_is_a_pause():
    def write(moment, temp):
        return f"{moment:%d.%m.%Y %H:%M:%S};{comma(temp)}"

    before = rows(write, began=dt.datetime.fromisoformat("2026-03-29T01:59:50"), temps=TEMPS[:10])
    after = rows(write, began=dt.datetime.fromisoformat("2026-03-29T03:00:00"), temps=TEMPS[10:])
    _, stream = read(["Zeit;T1 °C", *before, *after])
    assert stream.t_s[10] - stream.t_s[9] == pytest.approx(3601.0)


def test_two_rows_a_second_are_spread_but_rows_written_twice_are_taken_once():
    def write(moment, temp):
        return f"{moment:%Y-%m-%d %H:%M:%S},{temp:.1f}"

    _, halves = read(["Time,T1 °C", *rows(write, step_s=0.5)])
    np.testing.assert_allclose(halves.t_s, np.arange(30) / 2, rtol=0, atol=1e-9)
    twice = [line for line in rows(write) for _ in range(2)]
    _, once = read(["Time,T1 °C", *twice])
    np.testing.assert_array_equal(once.t_s, np.arange(30.0))
    assert once.warnings == (
        "Every row stands 2 times in the file, one after the other; each is taken once.",
    )
    # A steady temperature read twice a second looks alike too, and is no repetition.
    steady = [93.0] * 20 + [93.1] * 10
    _, kept = read(["Time,T1 °C", *rows(write, step_s=0.5, temps=steady)])
    assert len(kept.t_s) == 30


def test_commas_for_everything_are_refused_in_one_sentence():
    lines = rows(lambda moment, temp: f"{moment:%H:%M:%S},{comma(temp)},{comma(temp - 70)}")
    with pytest.raises(BadInput, match=r"commas seem to stand both .*semicolons"):
        read(["Time,T1,T2", *lines])
    # Whoever says how it reads is believed.
    _, stream = read(["Time,T1,T2", *lines], decimal=".", delimiter=",", temperature_columns=(2,))
    assert stream.temps_degc[0, 0] == 93.0


def test_whole_numbers_between_commas_are_no_riddle():
    lines = rows(lambda moment, temp: f"{moment:%H:%M:%S},{temp:.0f},{round(temp * 10) % 10}")
    assert read(["Time,T1 °C,Code", *lines])[1].temps_degc[0, 0] == 93.0


def test_seconds_since_1970_need_no_name():
    _, stream = read(
        ["ts,T1 °C", *(f"{1773500000 + row / 2:.3f},{temp:.1f}" for row, temp in enumerate(TEMPS))]
    )
    np.testing.assert_allclose(stream.t_s, np.arange(30) / 2, rtol=0, atol=1e-9)
    assert stream.meta["started"].startswith("2026-03-14T")


def test_days_as_spreadsheets_count_them():
    lines = [f"{46095 + (row + 36000) / 86400:.9f},{temp:.1f}" for row, temp in enumerate(TEMPS)]
    guess, stream = read(["Time,T1 °C", *lines])
    assert guess.layout.time.unit == "day"
    np.testing.assert_allclose(stream.t_s, np.arange(30.0), rtol=0, atol=2e-4)


def test_of_lowest_mean_and_highest_the_mean_is_read():
    write = "{:%Y-%m-%d %H:%M:%S},{:.1f},{:.1f},{:.1f}"
    lines = rows(lambda moment, temp: write.format(moment, temp - 1, temp, temp + 1))
    guess, stream = read(["Time,T1 min °C,T1 avg °C,T1 max °C", *lines])
    assert [one.column for one in guess.layout.temperatures] == [3]
    np.testing.assert_allclose(stream.temps_degc[:, 0], TEMPS, rtol=0, atol=1e-9)


def test_a_line_for_spreadsheets_and_text_with_commas():
    lines = rows(lambda moment, temp: f"{moment:%Y-%m-%d %H:%M:%S};{comma(temp)};")
    lines[7] += "door open, please check"
    _, stream = read(["sep=;", "Time;T1 °C;Note", *lines])
    np.testing.assert_allclose(stream.temps_degc[:, 0], TEMPS, rtol=0, atol=1e-9)


CELLS = st.sampled_from(
    [
        "93.2",
        "-999",
        "2.8 mV",
        "OL",
        "",
        "1e300",
        "24,5",
        "24.5",
        "12 g",
        "1e308",
        "nan",
        "x",
        "9" * 30,
        "0.1 kg",
    ]
)


@given(
    st.lists(st.lists(CELLS, min_size=4, max_size=4).map(";".join), min_size=4, max_size=20), st.booleans()
)
def test_any_cells_as_voltages_weights_and_none_end_in_readings_or_a_sentence(lines, known):
    stated = Given(
        delimiter=";",
        interval_s=1.0,
        unit="mV",
        temperature_columns=(1, 2),
        junction_column=None if known else 3,
        junction_degc=25.0 if known else None,
        weight_column=4,
        weight_unit="lb",
        none_words=("-999", "x"),
    )
    content = "\n".join(lines).encode()
    stream, said = None, ""
    try:
        stream = read_table(content, guess_table(content, given=stated).layout)
    except BenchtempError as error:
        said = str(error)
    if stream is None:
        assert said.strip()
        return
    values = stream.temps_degc[np.isfinite(stream.temps_degc)]
    assert np.all((values >= -270) & (values <= 1372))
    assert stream.weight_g.shape == stream.t_s.shape
    weights = stream.weight_g[np.isfinite(stream.weight_g)]
    assert np.all(np.abs(weights) <= 1e6)


@given(st.binary(max_size=400))
def test_any_bytes_can_be_tried(content):
    try:
        text = read_text(content, name="x")
    except BenchtempError:
        return
    trial = try_guess(text)
    assert (trial.stream is None) == bool(trial.complaint)
    if trial.layout is not None:
        again = try_layout(text, trial.layout)
        assert (again.stream is None) == bool(again.complaint)
