"""Voltages of thermocouples with their reference junction, a scale's weights, and words for no reading."""

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.importing import (
    Given,
    Junction,
    TableLayout,
    Temperature,
    Timing,
    Weight,
    changed,
    forget_table_layout,
    guess_table,
    keep_table_layout,
    named_table_layout,
    read_table,
    try_guess,
    try_layout,
)
from benchtemp.logbook.importing.text import read_text
from benchtemp.probes.type_k import measured_degc


def table(heading, rows):
    return "\n".join([heading, *(",".join(map(str, row)) for row in rows), ""]).encode()


def voltages(count=30):
    return [
        (f"2026-03-14 10:00:{row:02d}", 2.8 + row / 100, 24.5 + row / 10, f"{row * 1.5:.1f}")
        for row in range(count)
    ]


def test_voltages_junction_and_weight_are_found_and_read():
    content = table("Date Time,TC1 [mV],CJ [°C],Scale [g]", voltages())
    guess = guess_table(content)
    assert guess.questions == ()
    assert guess.layout.temperatures == (Temperature(column=2, unit="mV"),)
    assert guess.layout.junction == Junction(column=3)
    assert guess.layout.weight == Weight(column=4)
    stream = read_table(content, guess.layout)
    expected = [measured_degc(2.8 + row / 100, 24.5 + row / 10) for row in range(30)]
    np.testing.assert_allclose(stream.temps_degc[:, 0], expected, rtol=0, atol=6e-5)
    np.testing.assert_array_equal(stream.weight_g, [row * 1.5 for row in range(30)])
    assert stream.meta["channels"][0]["unit_as_sent"] == "mV"


def test_the_weights_stay_with_their_rows_when_the_newest_row_stands_first(tmp_path):
    stamp = "2026-03-14 10:00:{:02d},{},{} g"
    lines = [stamp.format(9 - row, 93 + row / 10, 30 - row) for row in range(10)]
    content = "\n".join(["Time,T1 (°C),Weight", *lines, ""]).encode()
    stream = read_table(content, guess_table(content).layout)
    np.testing.assert_array_equal(stream.weight_g, [21, 22, 23, 24, 25, 26, 27, 28, 29, 30])
    write_stream(tmp_path / "kept.ecsv", stream)
    np.testing.assert_array_equal(read_stream(tmp_path / "kept.ecsv").weight_g, stream.weight_g)


def test_without_a_junction_voltages_are_no_temperatures_until_it_is_stated():
    content = table("Time,TC1 [mV]", [row[:2] for row in voltages()])
    guess = guess_table(content)
    assert [question.point for question in guess.required] == ["junction_degc"]
    with pytest.raises(BadInput, match="how warm the terminals were"):
        read_table(content, guess.layout)
    stated = guess_table(content, given=Given(junction_degc=25.0))
    assert stated.questions == ()
    assert stated.layout == changed(guess.layout, Given(junction_degc=25.0))
    assert read_table(content, stated.layout).temps_degc[0, 0] == pytest.approx(measured_degc(2.8, 25.0))


def test_a_voltage_no_type_k_gives_is_left_empty_and_told():
    rows = voltages()
    rows[7] = (rows[7][0], 99.5, *rows[7][2:])
    rows[9] = (rows[9][0], "OL", *rows[9][2:])
    rows[11] = (*rows[11][:2], "OL", rows[11][3])
    content = table("Date Time,TC1 [mV],CJ [°C],Scale [g]", rows)
    stream = read_table(content, guess_table(content).layout)
    assert np.flatnonzero(np.isnan(stream.temps_degc[:, 0])).tolist() == [7, 9, 11]
    assert [warning for warning in stream.warnings if "99.5" in warning]


def test_a_weight_that_is_none_is_told_and_a_word_for_none_is_not():
    rows = [[f"10:00:{row:02d}", 93.0 + row / 10, row] for row in range(20)]
    rows[3][2], rows[5][2] = "spilled", "OL"
    content = table("Time,T1 (°C),Weight (kg)", rows)
    stream = read_table(content, guess_table(content).layout)
    assert np.flatnonzero(np.isnan(stream.weight_g)).tolist() == [3, 5]
    assert stream.weight_g[2] == 2000.0
    assert any("cannot be a weight" in warning and "spilled" in warning for warning in stream.warnings)


def test_a_name_that_may_mean_anything_is_no_weight():
    content = table("Time,T1 (°C),Load", [[f"10:00:{row:02d}", 93.0, row % 3] for row in range(20)])
    assert guess_table(content).layout.weight is None
    stated = guess_table(content, given=Given(weight_column="Load", weight_unit="oz")).layout
    assert stated.weight == Weight(column=3, unit="oz")
    assert read_table(content, stated).weight_g[1] == pytest.approx(28.3495, abs=1e-4)


@pytest.mark.parametrize("word", ["-999", "850.0", "Fühler ab"])
def test_words_of_its_own_for_no_reading(word):
    rows = [[row, 93.0 + row / 10, word if row in (0, 4) else 20.5] for row in range(20)]
    content = table("Time (s),T1 (°C),T2 (°C)", rows)
    plain = read_table(content, guess_table(content).layout)
    layout = guess_table(content, given=Given(none_words=(word,))).layout
    stream = read_table(content, layout)
    assert np.flatnonzero(np.isnan(stream.temps_degc[:, 1])).tolist() == [0, 4]
    assert stream.warnings == ("The file does not say on which day it was recorded.",)
    assert plain.warnings != stream.warnings or np.isfinite(plain.temps_degc[0, 1])


def test_such_a_layout_is_kept_and_found_again():
    layout = TableLayout(
        name="voltmeter",
        delimiter=";",
        time=Timing(kind="elapsed", column=1),
        temperatures=(Temperature(column=2, unit="mV"),),
        junction_degc=23.5,
        weight=Weight(column=3, unit="oz"),
        none_words=("-999",),
    )
    keep_table_layout(layout)
    assert named_table_layout("voltmeter") == layout
    forget_table_layout("another")
    assert named_table_layout("voltmeter") == layout
    forget_table_layout("voltmeter")
    with pytest.raises(BadInput, match="none was kept"):
        named_table_layout("voltmeter")


@pytest.mark.parametrize(
    "wrong",
    [
        {"weight": Weight(column=2)},
        {"junction": Junction(column=1)},
        {"junction_degc": 9000.0},
        {"none_words": ("",)},
        {"none_words": ("x",) * 50},
        {"weight": Weight(column=999)},
    ],
)
def test_a_layout_that_contradicts_itself_is_refused(wrong):
    with pytest.raises(BadInput):
        TableLayout(
            time=Timing(kind="elapsed", column=1), temperatures=(Temperature(column=2, unit="mV"),), **wrong
        )


class TestTrial:
    def test_a_whole_file_is_tried(self):
        text = read_text(table("Date Time,TC1 [mV],CJ [°C],Scale [g]", voltages()), name="x.csv")
        trial = try_guess(text)
        assert trial.complaint == ""
        assert trial.rows[0].cells == ("Date Time", "TC1 [mV]", "CJ [°C]", "Scale [g]")
        assert trial.rows[1].weight_g == 0.0
        assert len(trial.stream.t_s) == 30
        assert trial.analysis.shots == ()
        again = try_layout(text, trial.layout)
        np.testing.assert_array_equal(again.stream.temps_degc, trial.stream.temps_degc)

    def test_an_open_order_still_shows_rows(self):
        content = table("Time,T1 (°C)", [(f"03/04/2026 10:00:{row:02d}", 93.0 + row) for row in range(9)])
        text = read_text(content, name="x.csv")
        for trial in (try_guess(text), try_layout(text, try_guess(text).layout)):
            assert "cannot be known" in trial.complaint
            assert trial.stream is None
            assert trial.rows[1].t_s == 0.0

    def test_what_is_no_table_shows_its_lines(self):
        text = read_text(b"a letter\nto somebody\n", name="x.csv")
        trial = try_guess(text)
        assert trial.layout is None
        assert "No table of numbers" in trial.complaint
        assert [row.raw for row in trial.rows] == ["a letter", "to somebody"]
