"""What is read of a table, and what is told of the rest."""

import hashlib
from math import isnan, nan

import msgspec
import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.importing import Given, TableLayout, Temperature, Timing, guess_table, read_table
from benchtemp.readings.reading import MarkKind

ELAPSED = TableLayout(
    delimiter=";",
    columns=3,
    time=Timing(kind="elapsed", column=1),
    temperatures=(Temperature(column=2), Temperature(column=3)),
)


def read(*lines, layout=ELAPSED, end="\n", name=""):
    return read_table(("\n".join(lines) + end).encode(), layout, name)


def test_what_the_header_holds(meter, tmp_path):
    content = meter(heading=("Time", "Cup (°F)"), fahrenheit=True, encoding="cp1252").file(
        range(5), [[93.0]] * 5
    )
    path = tmp_path / "card 7.csv"
    path.write_bytes(content)
    stream = read_table(path, guess_table(path).layout)
    meta = stream.meta
    assert meta["kind"] == "recording"
    assert meta["started"].startswith("2026-03-14T09:59:50.000")
    assert meta["started"][23:] != ""
    source = meta["source"]
    assert source["name"] == "card 7.csv"
    assert source["sha256"] == hashlib.sha256(content).hexdigest()
    assert source["bytes"] == len(content)
    assert msgspec.convert(source["layout"], TableLayout).temperatures == (
        Temperature(column=2, unit="degF"),
    )
    assert meta["channels"] == [{"name": "T1", "unit_as_sent": "degF", "heading": "Cup (°F)"}]
    write_stream(tmp_path / "kept.ecsv", stream)
    again = read_stream(tmp_path / "kept.ecsv")
    assert again.warnings == ()
    assert again.meta == meta
    np.testing.assert_array_equal(again.temps_degc, stream.temps_degc)


def test_rows_that_cannot_be_read_are_counted_and_shown():
    stream = read("0;90.0;20.0", "#####", "2;90.2;20.2", "x;90.3;20.3", "4;90.4;20.4")
    assert stream.t_s.tolist() == [0.0, 2.0, 4.0]
    assert stream.warnings[0] == "2 lines are no rows and were left out, such as line 2: “#####”."


def test_a_value_that_cannot_be_read_is_left_empty_and_counted():
    stream = read("0;90.0;20.0", "1;9o.1;20.1", "2;90.2;20.2")
    assert isnan(stream.temps_degc[1, 0])
    assert stream.temps_degc[1, 1] == 20.1
    assert stream.warnings[0] == "1 value could not be read and was left empty, such as “9o.1” in line 2."


def test_numbers_that_no_probe_gives_are_left_empty_and_counted():
    stream = read("0;90.0;20.0", "1;9999.9;20.1", "2;-273.1;9.9E37", "3;3276.7;1e308")
    assert np.isnan(stream.temps_degc[1:, 0]).all()
    assert isnan(stream.temps_degc[2, 1])
    assert stream.warnings[0].startswith("3 values cannot be a temperature")


def test_footers_are_no_damage():
    stream = read("0;90.0;20.0", "1;90.1;20.1", "", "Max;90.1;20.1", "Average;90.0;20.0")
    assert len(stream.t_s) == 2
    assert stream.warnings[0] == "2 lines below the last row were left out, such as “Max;90.1;20.1”."


@pytest.mark.parametrize(
    ("last", "said"),
    [
        ("2;90.2;2", "cut off within a number"),
        ("2;90.2;20.", "cut off within a number"),
        ("2;9", "below the last row was left out"),
        ("2", "below the last row was left out"),
        ("2;90.2", "lacks cells at the end"),
    ],
)
def test_a_last_line_cut_within_a_number_is_left_out(last, said):
    stream = read("0;90.0;20.0", "1;90.1;20.1", last, end="")
    assert stream.temps_degc[:2].tolist() == [[90.0, 20.0], [90.1, 20.1]]
    assert set(stream.temps_degc[2:, 0].tolist()) <= {90.2}
    assert np.isnan(stream.temps_degc[2:, 1]).all()
    assert said in stream.warnings[0]


def test_a_last_line_that_only_lacks_its_end_is_kept():
    assert read("0;90.0;20.0", "1;100.1;20.1", "2;9.2;9.2", end="").temps_degc[-1].tolist() == [9.2, 9.2]


def test_cells_missing_at_the_end_are_no_readings():
    stream = read("0;90.0;20.0", "1;90.1", "2;90.2;20.2")
    assert stream.temps_degc[1, 0] == 90.1
    assert isnan(stream.temps_degc[1, 1])
    assert "1 row lacks cells" in stream.warnings[0]


def test_a_row_cut_in_the_middle_of_the_file_is_left_out():
    stream = read("0;90.0;20.0", "1;9", "2;90.2;20.2")
    assert stream.t_s.tolist() == [0.0, 2.0]


def test_a_row_with_more_cells_than_a_row_has_is_left_out():
    stream = read("0;90.0;20.0", "1;90;1;20.1", "2;90.2;20.2;", "3;90.3;20.3;;")
    assert stream.t_s.tolist() == [0.0, 2.0, 3.0]


def test_a_heading_written_again_is_no_damage_and_the_clock_runs_on(meter):
    written = meter(heading=("Time (s)", "T1 (°C)"), elapsed=1.0, above=("Record 1",))
    part = written.file(range(30), [[88 + row / 10] for row in range(30)])
    stream = read_table(part + part, guess_table(part + part).layout)
    assert stream.t_s.tolist() == [float(number) for number in range(60)]
    assert stream.marks[0].kind is MarkKind.GAP
    assert stream.mark_rows == (30,)
    told = " ".join(stream.warnings)
    assert "2 lines of the heading stand again" in told
    assert "Time goes back in 1 place" in told


def test_damaged_rows_keep_their_place_where_rows_are_only_counted():
    layout = TableLayout(
        delimiter=";",
        columns=2,
        time=Timing(kind="interval", interval_s=0.5),
        temperatures=(Temperature(column=2),),
    )
    stream = read("a;90.0", "a;90.1", "garbage", "", "a;90.3", layout=layout)
    assert stream.t_s.tolist() == [0.0, 0.5, 1.5]


def test_counted_rows_keep_the_place_their_number_gives_them():
    layout = TableLayout(
        delimiter=";",
        columns=2,
        time=Timing(kind="interval", column=1, interval_s=2.0),
        temperatures=(Temperature(column=2),),
    )
    assert read("7;90.0", "8;90.1", "11;90.3", "Max;90.3", layout=layout).t_s.tolist() == [0.0, 2.0, 8.0]


def test_an_interval_that_is_not_known_is_asked_for():
    layout = TableLayout(delimiter=";", time=Timing(kind="interval"), temperatures=(Temperature(column=1),))
    with pytest.raises(BadInput, match="seconds from one row"):
        read("90.0", "90.1", layout=layout)


def test_elapsed_times_stay_as_in_the_file_unless_they_count_from_long_ago():
    assert read("5;90.0;20.0", "6;90.1;20.1").t_s.tolist() == [5.0, 6.0]
    assert read("900005;90.0;20.0", "900006;90.1;20.1").t_s.tolist() == [0.0, 1.0]
    assert read("-2;90.0;20.0", "-1;90.1;20.1").t_s.tolist() == [0.0, 1.0]


@pytest.mark.parametrize(("unit", "second"), [("s", 30.0), ("ms", 0.03), ("min", 1800.0), ("h", 108000.0)])
def test_elapsed_units(unit, second):
    layout = msgspec.structs.replace(ELAPSED, time=Timing(kind="elapsed", column=1, unit=unit))
    assert read("0;90.0;20.0", "30;90.1;20.1", layout=layout).t_s[1] == pytest.approx(second)


def test_an_offset_to_utc_is_kept():
    layout = msgspec.structs.replace(ELAPSED, time=Timing(kind="clock", column=1))
    stream = read("2026-03-14T10:00:00+01:00;90.0;20.0", "2026-03-14T10:00:01+01:00;90.0;20.0", layout=layout)
    assert stream.meta["started"] == "2026-03-14T09:00:00.000+00:00"
    assert stream.t_s.tolist() == [0.0, 1.0]


def test_seconds_since_1970():
    layout = msgspec.structs.replace(ELAPSED, time=Timing(kind="epoch", column=1, unit="ms"))
    stream = read("1773482390250;90.0;20.0", "1773482390500;90.0;20.0", layout=layout)
    assert stream.meta["started"] == "2026-03-14T09:59:50.250+00:00"
    assert stream.t_s.tolist() == [0.0, 0.25]


@pytest.mark.parametrize(
    ("above", "timing", "rows", "started"),
    [
        (
            ["Start: 2026-03-14 10:15:00"],
            Timing(kind="elapsed", column=1, start_labels=("Start",)),
            ["0", "1"],
            "10:15:00",
        ),
        (
            ["# Date: 14.03.2026", "# Time: 10:15"],
            Timing(kind="elapsed", column=1, start_labels=("Date", "Time"), order="dmy"),
            ["0", "1"],
            "10:15:00",
        ),
        (
            ["Date;14/03/2026"],
            Timing(kind="clock", column=1, start_labels=("Date",), order="dmy"),
            ["23:59:59", "00:00:00"],
            "23:59:59",
        ),
    ],
)
def test_lines_above_tell_when_it_began(above, timing, rows, started):
    layout = msgspec.structs.replace(ELAPSED, time=timing)
    stream = read(*above, *(f"{row};90.0;20.0" for row in rows), layout=layout)
    assert stream.meta["started"].startswith(f"2026-03-14T{started}")
    assert stream.t_s.tolist() == [0.0, 1.0]


def test_a_file_without_a_date_says_so():
    stream = read("0;90.0;20.0", "1;90.1;20.1")
    assert "started" not in stream.meta
    assert "does not say on which day" in stream.warnings[-1]


def test_a_file_of_another_kind_is_refused(meter):
    ours = meter(heading=("Time", "T1 (°C)", "T2 (°C)")).file(range(5), [[93.0, 20.0]] * 5)
    other = meter(heading=("Time", "T2 (°C)", "T1 (°C)")).file(range(5), [[93.0, 20.0]] * 5)
    layout = guess_table(ours).layout
    with pytest.raises(BadInput, match="another kind of table"):
        read_table(other, layout, "other.csv")
    assert read_table(b"Serial;1\n\n" + ours, layout).t_s.tolist() == [0, 1, 2, 3, 4]


def test_a_layout_without_a_heading_takes_any():
    layout = msgspec.structs.replace(ELAPSED, heading=())
    assert len(read("a;b;c", "0;90.0;20.0", "1;90.1;20.1", layout=layout).t_s) == 2


def test_a_layout_that_fits_nothing_is_told():
    with pytest.raises(BadInput, match=r"No row of x\.csv reads as this layout says"):
        read("hello", "world", name="x.csv")
    with pytest.raises(BadInput, match="holds a temperature"):
        read("0;;", "1;OL;", "2;;OL")


def test_newest_first_is_turned_round(meter):
    written = meter(heading=("Time", "T1 (°C)"))
    lines = written.file(range(20), [[80 + row] for row in range(20)]).decode().splitlines()
    content = "\n".join([lines[0], *lines[:0:-1]]).encode()
    stream = read_table(content, guess_table(content).layout)
    assert stream.temps_degc[:, 0].tolist() == [80.0 + row for row in range(20)]
    assert "newest row stands first" in stream.warnings[0]


def test_units_behind_numbers_go_before_the_layouts():
    layout = msgspec.structs.replace(
        ELAPSED, temperatures=(Temperature(column=2, unit_follows=True), Temperature(column=3, unit="degF"))
    )
    stream = read("0;199.4 °F;50", "1;93.0;50", "2;366.15 K;50", "3;12 mV;50", layout=layout)
    np.testing.assert_allclose(stream.temps_degc[:, 0], [93.0, 93.0, 93.0, nan], atol=1e-4)
    assert stream.temps_degc[0, 1] == 10.0


def test_a_stated_point_changes_only_that_point(meter):
    content = meter(heading=("Time", "T1")).file(range(9), [[199.4]] * 9)
    plain, stated = guess_table(content).layout, guess_table(content, given=Given(unit="degC")).layout
    assert stated == msgspec.structs.replace(plain, temperatures=(Temperature(column=2, unit="degC"),))


def test_a_file_of_many_rows_is_read_in_blocks():
    rows = 45_000
    content = "\n".join(
        ["Time (s);T1 (°C)", *(f"{row};{20 + row % 700 / 10:.1f}" for row in range(rows))]
    ).encode()
    stream = read_table(content + b"\n", guess_table(content).layout)
    assert len(stream.t_s) == rows
    np.testing.assert_allclose(stream.temps_degc[:, 0], 20 + np.arange(rows) % 700 / 10, atol=1e-9)
