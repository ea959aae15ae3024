"""Whatever a file holds, it ends in a sentence or in readings."""

import os
import sys
import time
from math import isfinite

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.importing import Given, guess_table, read_table
from benchtemp.logbook.importing.text import LARGEST_BYTES

PIECES = st.sampled_from(
    [
        *(
            "10:00:00",
            "10:00",
            "1:2:3:4",
            "2026-03-01",
            "03/04/2026",
            "31.02.2026",
            "0001-01-01",
            "20260301",
            "9999",
        ),
        *(
            "93.2",
            "93,2",
            "1e999",
            "-1e-999",
            "nan",
            "OL",
            "--",
            "1_000",
            "\u0663",
            "0x10",
            "\u0661\u0662:\u0660\u0660",
            "+",
            "-",
            ".",
            "e5",
        ),
        *(
            "°C",
            "°F",
            "K",
            "T1 (°C)",
            "Time",
            "Date",
            "ms",
            "=HYPERLINK(1)",
            "'",
            '"',
            '""',
            "#",
            "T1-T2",
            "No",
        ),
        *(
            ",",
            ";",
            "\t",
            "|",
            " ",
            "  ",
            "\n",
            "\r\n",
            "\r",
            "\x00",
            "\x1a",
            "\ufeff",
            "\u2028",
            "−5",
            "\x85",
            "\n\n",
        ),
        *("Interval: 1 s", "Start: 03/04/2026", "Unit: F", "9" * 400, "1e308", "1772366390", "1772366390000"),
    ]
)
TABLES = st.lists(PIECES, max_size=60).map("".join)


def try_it(content, stated=None):
    """Read a file as far as it goes; nothing but a sentence may come out of it."""
    try:
        guess = guess_table(content, given=stated or Given())
        stream = read_table(content, guess.layout)
    except BenchtempError as error:
        said = str(error)
        stream = None
    if stream is None:
        assert said.strip()
        assert "\n" not in said
        return None
    assert len(stream.t_s) == len(stream.temps_degc) > 0
    assert np.all(np.isfinite(stream.t_s))
    assert np.all(np.diff(stream.t_s) > 0)
    values = stream.temps_degc[np.isfinite(stream.temps_degc)]
    assert np.all((values >= -270) & (values <= 1372))
    return stream


@given(st.binary(max_size=300))
def test_any_bytes(content):
    try_it(content)


@given(TABLES, st.sampled_from(["utf-8", "utf-16-le", "utf-16", "cp1252"]))
def test_any_pieces_of_a_table(text, encoding):
    content = text.encode(encoding, "replace")
    try_it(content)
    try_it(content, Given(interval_s=0.5, order="dmy", unit="K"))


@given(st.lists(st.lists(PIECES, min_size=3, max_size=3).map(",".join), min_size=4, max_size=25))
def test_any_rows(lines):
    content = "\n".join(lines).encode()
    try_it(content, Given(delimiter=","))
    try_it(content, Given(delimiter=",", time_column=1, temperature_columns=(2, 3), order="mdy"))
    try_it(content, Given(delimiter=",", interval_s=1.0, temperature_columns=(2,)))


@given(st.data())
def test_a_file_cut_anywhere_gives_no_number_that_was_not_in_it(meter, data):
    written = meter(delimiter=";", decimal=",", heading=("Time", "T1 (°C)", "T2 (°C)"), decimals=2)
    # No whole numbers and no tenths among them: whatever is cut shorter is not one of these.
    temps = [[90.13 + row / 7, 20.37 + row * 1.11] for row in range(9)]
    content = written.file(range(9), temps)
    end = data.draw(st.integers(60, len(content)))
    stream = try_it(content[:end])
    if stream is not None:
        kept = {round(value, 2) for row in temps for value in row}
        assert {value for value in stream.temps_degc.ravel().tolist() if isfinite(value)} <= kept


def test_formulas_and_markup_stay_text(meter, tmp_path):
    heading = ("Time", '=HYPERLINK("x";"y") °C', "<script>alert(1)</script> T2 (°C)")
    content = meter(heading=heading, delimiter="\t").file(range(5), [[93.0, 20.0]] * 5)
    stream = read_table(content, guess_table(content).layout, "=cmd|' /C calc'!A0.csv")
    write_stream(tmp_path / "kept.ecsv", stream)
    again = read_stream(tmp_path / "kept.ecsv")
    assert again.channels == ("T1", "T2")
    assert "<script>" in again.meta["channels"][1]["heading"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\n\n \n", "empty"),
        (b"\x00" * 5000, "empty"),
        (b"PK\x03\x04" + bytes(100), "save it as CSV"),
        (b"\xd0\xcf\x11\xe0" + bytes(100), "save it as CSV"),
        (b"\x1f\x8b" + bytes(100), "unpack"),
        (bytes(range(256)) * 40, "no text file"),
        (b"just a letter to somebody, with commas, and more\n" * 30, "No table of numbers"),
        (b"a,b\n1,2\n" + b"9" * 3_000_000, "No table of numbers"),
        (b"a,b\n1,2\n3,5\n4,4\n", "seconds from one row"),
        (b"# %ECSV 1.0\n# ---\n# meta:\n#   kind: recording\nt T1\n0 93\n", "benchtemp analyse"),
    ],
)
def test_what_is_no_table_is_told_in_a_sentence(content, said):
    with pytest.raises(BadInput, match=said):
        read_table(content, guess_table(content, name="x.csv").layout)


def test_a_gigantic_line_is_one_line_that_was_left_out(meter):
    lines = meter(heading=("Time", "T1 (°C)")).file(range(6), [[93.0]] * 6).split(b"\n")
    lines[4] = b"2026-03-14 09:59:53," + b"9" * 2_000_000
    lines[5] = b"\x00" * 40 + b"2026-03-14 09:59:54,12.0"
    content = b"\n".join(lines)
    stream = read_table(content, guess_table(content).layout)
    assert len(stream.t_s) == 4
    assert any("2 lines are no rows" in warning for warning in stream.warnings)


@pytest.mark.parametrize(
    "cell", ["1{}x", "1,1 {}9", "10:00:00{}x", "2026-03-01{}x", '"{}', "0:00:01{}x", "{}", "{}1"]
)
@pytest.mark.parametrize("filling", [" ", "1", ","])
def test_no_cell_takes_long_to_look_at(cell, filling):
    # Were each character looked at again for each other one, this would take hours.
    lines = [cell.format(filling * 15_000)] * 12
    began_s = time.process_time()
    for delimiter in (None, ";", "", "  "):
        try_it("\n".join(lines).encode(), Given(delimiter=delimiter, interval_s=1.0))
    assert time.process_time() - began_s < 20


def test_a_file_too_large_is_refused_unread(tmp_path):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    with pytest.raises(BadInput, match="larger than 64 MB"):
        guess_table(path)


@pytest.mark.skipif(sys.platform == "win32", reason="named pipes of this kind are not on Windows")
def test_a_pipe_does_not_hang(tmp_path):
    path = tmp_path / "pipe.csv"
    os.mkfifo(path)
    with pytest.raises(BadInput, match="not a file"):
        guess_table(path)


def test_a_link_that_leads_to_itself_does_not_hang(tmp_path):
    path = tmp_path / "loop.csv"
    try:
        path.symlink_to(path)
    except OSError:
        pytest.skip("links cannot be made here")
    with pytest.raises(BadInput):
        guess_table(path)
