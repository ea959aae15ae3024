"""The layout that is proposed for tables of many shapes."""

import datetime as dt
from math import isnan, nan, sin

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.importing import Given, Timing, guess_table, guess_tables, preview_table, read_table

ROWS = 40


def climbing(count, rows=ROWS):
    return [[88 + place + 3 * sin(row / 9) for place in range(count)] for row in range(rows)]


def points(guess):
    return {question.point: question for question in guess.questions}


def columns(guess):
    return tuple(one.column for one in guess.layout.temperatures)


def units(guess):
    return tuple(one.unit for one in guess.layout.temperatures)


class TestFiveShapes:
    def test_semicolons_decimal_comma_and_utf16(self, meter):
        written = meter(
            delimiter=";",
            decimal=",",
            encoding="utf-16-le",
            mark=True,
            line_end="\r\n",
            above=("Seriennummer;00412", ""),
            heading=("Datum", "Zeit", "Fühler 1 (°C)", "Fühler 2 (°C)"),
            date="%d.%m.%Y",
            clock="%H:%M:%S",
        )
        guess = guess_table(written.file(range(ROWS), climbing(2)))
        assert guess.questions == ()
        assert (guess.layout.encoding, guess.layout.delimiter, guess.layout.decimal) == (
            "utf-16-le",
            ";",
            ",",
        )
        assert guess.layout.time == Timing(kind="clock", column=2, date_column=1, order="dmy")
        assert columns(guess) == (3, 4)
        assert guess.layout.heading == ("Datum", "Zeit", "Fühler 1 (°C)", "Fühler 2 (°C)")

    def test_tabs_and_fahrenheit(self, meter):
        written = meter(
            delimiter="\t",
            encoding="cp1252",
            heading=("Time", "Probe A (°F)"),
            clock="%m/%d/%Y %I:%M:%S %p",
            fahrenheit=True,
        )
        guess = guess_table(written.file(range(ROWS), climbing(1)))
        assert guess.questions == ()
        assert units(guess) == ("degF",)
        assert guess.layout.time == Timing(kind="clock", column=1, order="mdy")
        assert guess.preview[1].temps_degc[0] == pytest.approx(88.0, abs=0.03)

    def test_two_header_lines(self, meter):
        written = meter(
            heading=("Elapsed", "Probe 1", "Probe 2", "Probe 3"),
            units=("(s)", "[°C]", "[°C]", "[°C]"),
            elapsed=1.0,
        )
        guess = guess_table(written.file([row / 4 for row in range(ROWS)], climbing(3)))
        assert guess.questions == ()
        assert guess.layout.heading == ("Elapsed (s)", "Probe 1 [°C]", "Probe 2 [°C]", "Probe 3 [°C]")
        assert guess.layout.time == Timing(kind="elapsed", column=1, unit="s")

    @pytest.mark.parametrize("none", ["", "OL", "-----", "N/A", "Err", "open"])
    def test_missing_cells(self, meter, none):
        temps = climbing(2)
        for row in (0, 3, 4, 5, 20, 39):
            temps[row][row % 2] = nan
        written = meter(none=none, heading=("Date/Time", "T1 °C", "T2 °C"))
        content = written.file(range(ROWS), temps)
        stream = read_table(content, guess_table(content).layout)
        empty = [(row, place) for row, place in np.argwhere(np.isnan(stream.temps_degc)).tolist()]
        assert empty == [(0, 0), (3, 1), (4, 0), (5, 1), (20, 0), (39, 1)]
        assert stream.warnings == ()

    def test_four_channels_several_rows_a_second(self, meter):
        written = meter(
            delimiter="  ",
            date="%Y-%m-%d",
            clock="%H:%M:%S",
            none="OPEN",
            heading=("Date", "Time", "CH1", "CH2", "CH3", "CH4"),
        )
        temps = [[*row[:3], nan] for row in climbing(4)]
        content = written.file([row / 4 for row in range(ROWS)], temps)
        guess = guess_table(content)
        assert set(points(guess)) == {"unit"}
        assert columns(guess) == (3, 4, 5, 6)
        stream = read_table(content, guess.layout)
        assert stream.t_s.tolist() == [row / 4 for row in range(ROWS)]
        assert all(map(isnan, stream.temps_degc[:, 3]))


class TestTimes:
    def guess(self, heading, cells, above=()):
        lines = [
            *above,
            ",".join(heading),
            *(",".join([*cell, f"{88 + row / 10:.1f}"]) for row, cell in enumerate(cells)),
        ]
        return guess_table("\n".join(lines).encode())

    @pytest.mark.parametrize(
        ("name", "scale", "unit"),
        [
            ("Time (s)", 1, "s"),
            ("Time [ms]", 1000, "ms"),
            ("millis", 250, "ms"),
            ("Elapsed min", 0.01, "min"),
            ("Time h", 0.001, "h"),
            ("Zeit in Sekunden", 2, "s"),
        ],
    )
    def test_elapsed_numbers_take_the_unit_that_is_written(self, name, scale, unit):
        guess = self.guess((name, "T1 °C"), [[f"{row * scale:g}"] for row in range(20)])
        assert guess.layout.time == Timing(kind="elapsed", column=1, unit=unit)
        assert guess.questions == ()

    @pytest.mark.parametrize(("scale", "unit"), [(1, "s"), (0.1, "s"), (1000, "ms"), (1 / 60, "min")])
    def test_a_unit_that_is_not_written_is_asked_for(self, scale, unit):
        guess = self.guess(("Time", "T1 °C"), [[f"{row * scale:.5g}"] for row in range(20)])
        assert guess.layout.time.unit == unit
        assert points(guess)["elapsed_unit"].assumed == unit
        assert not guess.required

    def test_durations(self):
        cells = [[f"0:{row // 60:02d}:{row % 60:02d}"] for row in range(70)]
        assert self.guess(("Time", "T1 °C"), cells).layout.time == Timing(
            kind="elapsed", column=1, unit="h:mm:ss"
        )

    def test_two_parts_are_asked_for(self):
        guess = self.guess(("Elapsed", "T1 °C"), [[f"{row // 60:02d}:{row % 60:02d}"] for row in range(70)])
        assert guess.layout.time.unit == "mm:ss"
        assert points(guess)["elapsed_unit"].choices == ("mm:ss", "h:mm")

    def test_seconds_since_1970(self):
        guess = self.guess(("ts", "T1 °C"), [[str(1772366390 + row)] for row in range(20)])
        assert guess.layout.time.kind in ("epoch", "interval")
        guess = self.guess(("timestamp", "T1 °C"), [[str(1772366390123 + 250 * row)] for row in range(20)])
        assert guess.layout.time == Timing(kind="epoch", column=1, unit="ms")

    def test_rows_that_are_only_counted_need_their_interval(self):
        guess = self.guess(("No.", "T1 °C"), [[str(row)] for row in range(1, 20)])
        assert guess.layout.time == Timing(kind="interval", column=1)
        (question,) = guess.required
        assert question.point == "interval_s"

    @pytest.mark.parametrize(
        ("line", "seconds"),
        [
            ("Interval: 2 s", 2.0),
            ("Sample interval (s),0.5", 0.5),
            ("Logging rate = 00:00:10", 10.0),
            ("Sampling rate;4 Hz", 0.25),
            ("Messintervall: 500 ms", 0.5),
            ("Record rate: 1 min", 60.0),
        ],
    )
    def test_the_lines_above_may_state_the_interval(self, line, seconds):
        guess = self.guess(("No.", "T1 °C"), [[str(row)] for row in range(1, 20)], (line, ""))
        assert guess.layout.time.interval_s == seconds
        assert guess.required == ()

    def test_the_lines_above_may_state_when_it_began(self):
        above = ("Device no: 7", "Exported: 2027-01-01 00:00", "Start time: 2026-03-04 10:15:00", "")
        cells = [[f"{row}"] for row in range(20)]
        guess = self.guess(("Time (s)", "T1 °C"), cells, above)
        assert guess.layout.time.start_labels == ("Start time",)
        guess = self.guess(("Time (s)", "T1 °C"), cells, ("Date: 14.03.2026", "Time: 10:15", "Unit: C"))
        assert guess.layout.time.start_labels == ("Date", "Time")
        assert guess.layout.time.order == "dmy"

    def test_a_date_above_that_can_be_meant_in_two_ways_is_asked_for(self):
        guess = self.guess(
            ("Time (s)", "T1 °C"), [[f"{row}"] for row in range(20)], ("Start: 03/04/2026 10:15",)
        )
        assert points(guess)["order"].assumed
        assert guess.layout.time.order == ""

    def test_times_of_the_day_without_a_date(self):
        cells = [[f"10:15:{row:02d}"] for row in range(30)]
        guess = self.guess(("Time", "T1 °C"), cells)
        assert guess.layout.time == Timing(kind="clock", column=1)
        assert guess.questions == ()


class TestOrderOfDates:
    def content(self, meter, day, form="%d/%m/%Y", clock="%H:%M:%S"):
        written = meter(
            heading=("Date", "Time", "T1 (°C)"),
            date=form,
            clock=clock,
            started=dt.datetime.fromisoformat(f"2026-04-{day:02d}T10:00:00"),
        )
        return written.file(range(ROWS), climbing(1))

    def test_an_order_that_cannot_be_known_is_asked_for(self, meter):
        guess = guess_table(self.content(meter, 3))
        (question,) = guess.required
        assert question.point == "order"
        assert question.choices == ("dmy", "mdy")
        assert "03/04/2026" in question.text
        assert guess.preview[-1].is_row
        with pytest.raises(BadInput, match="day or the month first"):
            read_table(self.content(meter, 3), guess.layout)

    @pytest.mark.parametrize(("order", "month"), [("dmy", 4), ("mdy", 3)])
    def test_the_answer_is_taken(self, meter, order, month):
        content = self.content(meter, 3)
        guess = guess_table(content, given=Given(order=order))
        assert guess.questions == ()
        started = dt.datetime.fromisoformat(read_table(content, guess.layout).meta["started"])
        assert (started.month, started.day) == (month, 7 - month)

    def test_another_file_of_the_same_kind_may_tell(self, meter, tmp_path):
        for day in (3, 4, 19):
            (tmp_path / f"{day:02d}.csv").write_bytes(self.content(meter, day))
        files = sorted(tmp_path.glob("*.csv"))
        guess = guess_tables(files)
        assert guess.required == ()
        assert guess.layout.time.order == "dmy"
        assert "19.csv tells" in guess.remarks[-1]
        assert guess_tables(files[:2]).required

    def test_midnight_tells(self, meter):
        written = meter(
            heading=("Date", "Time", "T1 (°C)"),
            date="%m/%d/%Y",
            clock="%H:%M:%S",
            started=dt.datetime.fromisoformat("2026-03-04T23:59:50"),
        )
        assert guess_table(written.file(range(ROWS), climbing(1))).layout.time.order == "mdy"


class TestColumns:
    def table(self, heading, row, rows=ROWS):
        lines = [";".join(heading)]
        for number in range(rows):
            cells = [str(cell(number)) if callable(cell) else cell for cell in row]
            lines.append(";".join([f"{number / 2:g}", *cells]))
        return "\n".join(lines).encode()

    def warm(self, number):
        return f"{88 + 4 * sin(number / 6):.1f}"

    def test_what_is_no_temperature_is_left_out_and_told(self):
        content = self.table(
            (
                "Time (s)",
                "No",
                "T1",
                "RH %",
                "Setpoint",
                "Pressure",
                "T1-T2",
                "T1 max",
                "Battery V",
                "T2",
                "Note",
            ),
            (
                str,
                self.warm,
                lambda _: "45.2",
                "93.0",
                lambda n: f"{n % 9}.1",
                "0.3",
                self.warm,
                "3.1",
                self.warm,
                "",
            ),
        )
        guess = guess_table(content)
        assert columns(guess) == (3, 10)
        told = " ".join(guess.remarks)
        for name in ("RH %", "Setpoint", "Pressure", "T1-T2", "T1 max", "Battery V", "Note"):
            assert f"“{name}” is left out" in told

    def test_units_follow_the_numbers(self):
        content = self.table(
            ("Time (s)", "A", "B"), (lambda n: f"{190 + n / 10:.1f} °F", lambda n: f"{88 + n / 10:.1f}°C")
        )
        guess = guess_table(content)
        assert units(guess) == ("degF", "degC")
        assert all(one.unit_follows for one in guess.layout.temperatures)

    def test_units_in_a_column_of_their_own_may_change(self):
        rows = [f"{n};{190 + n / 10:.1f};F" for n in range(20)] + [
            f"{n};{90 + n / 10:.1f};C" for n in range(20, 40)
        ]
        content = ("Time (s);T1;Unit\n" + "\n".join(rows)).encode()
        guess = guess_table(content)
        assert guess.layout.temperatures[0].unit_column == 3
        stream = read_table(content, guess.layout)
        assert stream.temps_degc[0, 0] == pytest.approx((190 - 32) / 1.8, abs=1e-4)
        assert stream.temps_degc[20, 0] == 92.0

    def test_a_k_may_be_the_kind_of_thermocouple(self):
        guess = guess_table(self.table(("Time (s)", "T1", "Type"), (self.warm, "K")))
        assert units(guess) == ("degC",)
        assert "kind of thermocouple" in " ".join(guess.remarks)
        guess = guess_table(self.table(("Time (s)", "T1 (K)"), (lambda n: f"{360 + n / 10:.1f}",)))
        assert units(guess) == ("K",)
        assert guess.questions == ()

    @pytest.mark.parametrize(
        ("low", "unit"), [(88.0, "degC"), (190.0, "degF"), (360.0, "K"), (500.0, "degC")]
    )
    def test_a_unit_that_is_not_written_is_asked_for_and_the_likely_one_said(self, low, unit):
        guess = guess_table(self.table(("Time (s)", "T1"), (lambda n: f"{low + n / 10:.1f}",)))
        assert points(guess)["unit"].assumed == unit
        assert units(guess) == (unit,)

    def test_lines_above_may_name_the_unit(self):
        content = b"Temperature unit: Fahrenheit\n\n" + self.table(("Time (s)", "T1"), (self.warm,))
        guess = guess_table(content)
        assert units(guess) == ("degF",)
        assert guess.questions == ()

    def test_groups_above_and_units_below_the_names(self):
        lines = [";Front;;Rear;", "Time;Temp;RH;Temp;RH", "s;°C;%;°C;%"]
        lines += [f"{n};{88 + n / 10:.1f};40.5;{20 + n / 10:.1f};39.5" for n in range(30)]
        guess = guess_table("\n".join(lines).encode())
        assert columns(guess) == (2, 4)
        assert guess.layout.heading[1] == "Front Temp °C"
        assert guess.layout.heading[3] == "Rear Temp °C"

    @pytest.mark.parametrize("damaged", ["0.5;8#", "\x01\x02;;", "10:0;12.5;x\n#;1.5;2.5"])
    def test_a_damaged_first_row_does_not_hide_the_names(self, damaged):
        content = self.table(("Time (s)", "Cup", "Case (°F)"), (self.warm, lambda n: f"{150 + n % 7}.5"))
        heading, _, rows = content.decode().partition("\n")
        guess = guess_table(f"Record 7\n{heading}\n{damaged}\n{rows}".encode())
        assert guess.layout.heading == ("Time (s)", "Cup", "Case (°F)")
        assert units(guess)[-1] == "degF"

    def test_channels_may_be_named_by_numbers(self):
        guess = guess_table(self.table(("Time (s)", "1", "2"), (self.warm, self.warm)))
        assert columns(guess) == (2, 3)
        assert guess.layout.heading == ("Time (s)", "1", "2")
        assert points(guess)["temperature_columns"].assumed == "2,3"

    def test_no_heading_at_all(self):
        content = self.table((), (self.warm, "20.5"))[1:]
        guess = guess_table(content)
        assert guess.layout.heading == ()
        assert columns(guess) == (2, 3)

    def test_more_channels_than_can_be_kept(self):
        guess = guess_table(self.table(("Time (s)", *(f"T{n}" for n in range(1, 11))), [self.warm] * 10))
        assert len(guess.layout.temperatures) == 8
        assert "“T9”, “T10” left out" in " ".join(guess.remarks)

    def test_one_number_a_line(self):
        content = "\n".join(f"{88 + n / 10:.1f}".replace(".", ",") for n in range(30)).encode()
        guess = guess_table(content, given=Given(interval_s=0.5))
        assert guess.layout.decimal == ","
        stream = read_table(content, guess.layout)
        assert stream.t_s[:3].tolist() == [0.0, 0.5, 1.0]
        assert stream.temps_degc[3, 0] == 88.3

    def test_quoted_decimal_commas_between_commas(self):
        content = "\n".join(
            [
                '"Time","T1 (°C)"',
                *(f'"2026-03-14 10:00:{n:02d}","{88 + n / 10:.1f}"'.replace(".", ",") for n in range(30)),
            ]
        )
        stream = read_table(content.encode(), guess_table(content.encode()).layout)
        assert stream.temps_degc[3, 0] == 88.3


class TestStatedPoints:
    CONTENT = (
        "Time;Zeit;A;B;C\n"
        + "\n".join(f"{n};10:00:{n:02d};{n % 3};{88 + n / 10:.1f};{n % 4}" for n in range(30))
    ).encode()

    def test_columns_by_name_or_number(self):
        guess = guess_table(
            self.CONTENT, given=Given(temperature_columns=("c", 4), time_column="Time", elapsed_unit="min")
        )
        assert columns(guess) == (5, 4)
        assert guess.layout.time == Timing(kind="elapsed", column=1, unit="min")

    @pytest.mark.parametrize("name", [0, 6, "99", "Q", "", "T¹"])
    def test_a_column_that_is_not_there(self, name):
        with pytest.raises(BadInput, match=r"There is no column|columns; give a number"):
            guess_table(self.CONTENT, given=Given(temperature_columns=(name,)))

    def test_a_column_cannot_be_two_things(self):
        with pytest.raises(BadInput, match="twice"):
            guess_table(self.CONTENT, given=Given(temperature_columns=(1,), time_column=1))

    def test_lines_to_pass_over(self):
        above = b"2026-03-14;09:00:00;1;2;3\n" * 3
        guess = guess_table(above + self.CONTENT, given=Given(skip_lines=3))
        assert guess.layout.skip_lines == 3
        assert guess.layout.heading[0] == "Time"

    def test_an_interval_goes_before_what_looks_like_times(self):
        guess = guess_table(self.CONTENT, given=Given(interval_s=2.0, temperature_columns=(4,)))
        assert guess.layout.time.kind == "interval"
        assert read_table(self.CONTENT, guess.layout).t_s[1] == 2.0

    def test_a_delimiter_that_does_not_part_anything(self):
        with pytest.raises(BadInput):
            guess_table(self.CONTENT, given=Given(delimiter="|"))


def test_the_preview_shows_raw_lines_beside_what_is_read(meter):
    content = meter(heading=("Time", "T1 (°C)"), none="OL").file(range(20), [[88.0], [nan], *([[90.5]] * 18)])
    guess = guess_table(content)
    heading, first, second, *_ = guess.preview
    assert (heading.raw, heading.is_row) == ("Time,T1 (°C)", False)
    assert (first.line, first.t_s, first.temps_degc) == (2, 0.0, (88.0,))
    assert second.is_row
    assert isnan(second.temps_degc[0])
    assert preview_table(content, guess.layout)[1] == first
    assert len(guess.preview) == 13
