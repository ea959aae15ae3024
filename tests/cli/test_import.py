"""Importing from the command line: five shapes of files, their shots, and every bad input in a sentence."""

import json
from datetime import datetime, timedelta
from math import isnan

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.shot_file import verify
from benchtemp.places import demo_streams_dir
from benchtemp.probes.type_k import measured_degc

STARTED = datetime.fromisoformat("2026-03-14T09:59:50")
SHOTS = 6
EMPTY = (5, 45, 46, 61, 100, 150)
"""Seconds after each third minute at which a meter gave nothing: before, within and after a shot."""


@pytest.fixture(scope="module")
def pulled():
    """Six shots, read once a second and to a tenth of a degree, as a meter with a memory card keeps them."""
    stream = read_stream(demo_streams_dir() / "series_three_minutes.ecsv")
    known = np.isfinite(stream.temps_degc[:, 0])
    t_s = np.arange(np.ceil(stream.t_s[0]), stream.t_s[-1])
    return t_s, np.round(np.interp(t_s, stream.t_s[known], stream.temps_degc[known, 0]), 1)


def clock(t_s, form):
    return (STARTED + timedelta(seconds=float(t_s))).strftime(form)


def comma(value):
    return f"{value:.1f}".replace(".", ",")


def semicolons_utf16(t_s, temps):
    lines = ["Seriennummer;0412", "Intervall;1 s", "", "Datum;Zeit;Fühler 1 (°C);Fühler 2 (°C)"]
    lines += [
        f"{clock(t, '%d.%m.%Y;%H:%M:%S')};{comma(v)};{comma(v - 4)}" for t, v in zip(t_s, temps, strict=True)
    ]
    return "\r\n".join([*lines, ""]).encode("utf-16")


def tabs_fahrenheit(t_s, temps):
    rows = [
        f"{clock(t, '%m/%d/%Y %I:%M:%S %p')}\t{v * 1.8 + 32:.1f}" for t, v in zip(t_s, temps, strict=True)
    ]
    return "\n".join(["Time\tBasket (°F)", *rows, ""]).encode("cp1252")


def two_header_lines(t_s, temps):
    rows = [
        f"{int(t) // 3600}:{int(t) % 3600 // 60:02d}:{int(t) % 60:02d},{v:.1f},45"
        for t, v in zip(t_s, temps, strict=True)
    ]
    return "\n".join(["Elapsed,Basket,Humidity", "h:mm:ss,°C,%", *rows, "End of record,,", ""]).encode()


def missing_cells(t_s, temps):
    rows = []
    for place, (t, v) in enumerate(zip(t_s, temps, strict=True)):
        first = "" if place % 180 in EMPTY else f"{v:.1f}"
        rows.append(f"{clock(t, '%Y-%m-%d %H:%M:%S')},{first},{'OL' if place % 2 else ''}")
    return "\n".join(["Date/Time,T1 °C,T2 °C", *rows, ""]).encode()


def four_channels(t_s, temps):
    rows = [
        f"{clock(t, '%Y-%m-%d  %H:%M:%S')}  {v:.1f}  {v - 3:.1f}  ---  21.5"
        for t, v in zip(t_s, temps, strict=True)
    ]
    return "\n".join(["Date  Time  CH1  CH2  CH3  CH4", *rows, ""]).encode()


@pytest.mark.parametrize(
    ("write", "channels"),
    [
        (semicolons_utf16, 2),
        (tabs_fahrenheit, 1),
        (two_header_lines, 1),
        (missing_cells, 2),
        (four_channels, 4),
    ],
)
def test_files_of_five_shapes_become_recordings_with_their_shots(command, tmp_path, pulled, write, channels):
    (tmp_path / "card.txt").write_bytes(write(*pulled))
    code, out, err = command(
        "import", tmp_path / "card.txt", "--machine", "bench two", "--tag", "coffee=house", "--json"
    )
    assert code == 0, err
    found = json.loads(out)
    assert len(found["shots"]) == SHOTS
    assert found["readings"] == len(pulled[0])
    recording = read_stream(found["recording"])
    assert len(recording.channels) == channels
    np.testing.assert_allclose(
        recording.temps_degc[:, 0][np.isfinite(recording.temps_degc[:, 0])],
        pulled[1][np.isfinite(recording.temps_degc[:, 0])],
        atol=0.03,
    )
    # What the command tells and what is kept are the same shots.
    assert len(found["kept"]) == SHOTS
    for kept, told in zip(found["kept"], found["shots"], strict=True):
        meta = read_meta(kept)
        assert verify(kept).condition == "whole"
        assert meta["machine"] == "bench two"
        assert meta["tags"] == {"coffee": "house"}
        assert meta["shot"]["number"] == told["number"]
        assert meta["shot"]["result"]["brew_temp_degc"] == pytest.approx(told["brew_temp_degc"], abs=0.05)
    # The truth, from ten times as many readings in a finer step.
    whole = command("analyse", demo_streams_dir() / "series_three_minutes.ecsv", "--json")[1]
    for told, true in zip(found["shots"], json.loads(whole)["shots"], strict=True):
        assert told["brew_temp_degc"] == pytest.approx(true["brew_temp_degc"], abs=0.15)


@pytest.fixture
def card(tmp_path):
    """A file whose dates can be meant in two ways and that names no unit."""
    path = tmp_path / "card.csv"
    rows = [f"03/04/2026,10:00:{second:02d},{80 + second % 7 / 10:.1f},20.5" for second in range(40)]
    path.write_text("\n".join(["Date,Time,Front,Rear", *rows, ""]))
    return path


def test_what_cannot_be_known_must_be_stated(command, card, tmp_path):
    code, out, err = command("import", card)
    assert code == 1
    assert out == ""
    assert "03/04/2026" in err.splitlines()[-1]
    assert "--day-first or --month-first" in err.splitlines()[-1]
    assert not (tmp_path / "own-logbook").exists()


@pytest.mark.parametrize(
    ("option", "started"), [("--day-first", "2026-04-03T10:00"), ("--month-first", "2026-03-04T10:00")]
)
def test_the_order_of_dates(command, card, option, started):
    code, out, err = command("import", card, option, "--json")
    assert code == 0
    assert json.loads(out)["started"].startswith(started)
    assert "°C is taken (say --unit)" in err


def test_the_preview_imports_nothing(command, card, tmp_path):
    code, out, _ = command("import", card, "--preview")
    assert code == 0
    assert "03/04/2026,10:00:00,80.0,20.5" in out
    assert "80.00 °C" in out
    assert "? It cannot be known" in out
    assert not (tmp_path / "own-logbook").exists()
    found = json.loads(command("import", card, "--preview", "--json", "--day-first", "--unit", "f")[1])
    assert found["layout"]["temperatures"] == [{"column": 3, "unit": "degF"}, {"column": 4, "unit": "degF"}]
    assert found["preview"][1]["temps_degc"][0] == pytest.approx((80 - 32) / 1.8, abs=1e-4)
    assert [one["point"] for one in found["questions"]] == ["temperature_columns"]


def test_every_point_can_be_stated(command, tmp_path):
    path = tmp_path / "odd.txt"
    path.write_bytes("rubbish 1;2;3\na:b:c\n7:20,5:°\n8:20,6:°\n9:20,7:°\n".encode("cp1252"))
    code, out, err = command(
        *(
            "import",
            path,
            "--delimiter",
            ":",
            "--decimal",
            "comma",
            "--encoding",
            "cp1252",
            "--skip-lines",
            "1",
        ),
        *(
            "--time-column",
            "a",
            "--elapsed-unit",
            "min",
            "--temperature-columns",
            "b",
            "--unit",
            "C",
            "--json",
        ),
    )
    assert code == 0, err
    stream = read_stream(json.loads(out)["recording"])
    assert stream.t_s.tolist() == [420.0, 480.0, 540.0]
    assert stream.temps_degc[:, 0].tolist() == [20.5, 20.6, 20.7]
    code, out, err = command(
        *("import", path, "--delimiter", ":", "--decimal", "comma", "--skip-lines", "2", "--interval", "0.5"),
        *("--temperature-columns", "2", "--unit", "C", "--json", "--again"),
    )
    assert code == 0, err
    assert read_stream(json.loads(out)["recording"]).t_s.tolist() == [0.0, 0.5, 1.0]


def test_voltages_weights_and_words_for_no_reading(command, tmp_path):
    path = tmp_path / "volts.csv"
    path.write_text(
        "Time (s),TC1,inside,Load\n" + "".join(f"{n},2.8,25,{n}\n" for n in range(9)) + "9,-999,25,9\n"
    )
    stated = ("import", path, "--unit", "mV", "--temperature-columns", "TC1", "--weight-column", "Load")
    code, _, err = command(*stated)
    assert code != 0
    assert "--junction" in err
    code, out, err = command(*stated, "--weight-unit", "kg", "--junction", "25", "--none", "-999", "--json")
    assert code == 0, err
    stream = read_stream(json.loads(out)["recording"])
    assert stream.temps_degc[0, 0] == pytest.approx(measured_degc(2.8, 25.0), abs=6e-5)
    assert isnan(stream.temps_degc[9, 0])
    assert stream.weight_g.tolist() == [1000.0 * n for n in range(10)]
    by_column = command(*stated, "--junction-column", "inside", "--none", "-999", "--again", "--preview")
    assert by_column[0] == 0
    assert "92.85 °C" in by_column[1]
    assert " g" in by_column[1]


def test_a_layout_is_kept_and_used_for_other_files(command, card, tmp_path):
    code, _, err = command("import", card, "--day-first", "--unit", "C", "--save-layout", "bench meter")
    assert code == 0
    assert "Layout kept" in err
    other = tmp_path / "other.csv"
    other.write_text(card.read_text().replace("80.1", "80.2"))
    code, out, err = command("import", other, "--layout", "bench meter", "--json")
    assert code == 0, err
    assert json.loads(out)["started"].startswith("2026-04-03")
    (kept,) = (tmp_path / "own-preferences" / "table-layouts").glob("*.toml")
    assert command("import", other, "--layout", kept, "--preview")[0] == 0
    code, out, err = command("import", other, "--layout", "bench meter", "--month-first", "--again", "--json")
    assert json.loads(out)["started"].startswith("2026-03-04")


def test_a_layout_with_an_open_point_is_not_kept(command, card, tmp_path):
    code, _, err = command("import", card, "--preview", "--save-layout", "x")
    assert code == 1
    assert "--day-first" in err
    assert not (tmp_path / "own-preferences").exists()


def test_importing_twice_is_noticed(command, card):
    command("import", card, "--day-first")
    code, out, err = command("import", card, "--day-first")
    assert code == 0
    assert out == ""
    assert "was imported before as" in err
    assert "--again" in err


def test_many_files_of_one_layout(command, card, tmp_path):
    for day in range(1, 15):
        (tmp_path / f"log{day:02d}.csv").write_text(card.read_text().replace("03/04", f"{day:02d}/04"))
    (tmp_path / "log99.csv").write_text("something else\n")
    files = sorted(tmp_path.glob("log*.csv"))
    code, out, err = command("import", *files, "--unit", "C", "--json")
    assert code == 1
    assert "log13.csv tells the order of its dates" in err
    found = [json.loads(line) for line in out.splitlines()]
    assert [bool(one["recording"]) for one in found] == [True] * 14 + [False]
    assert found[2]["started"].startswith("2026-04-03")
    assert "log99.csv" in found[-1]["complaint"]
    assert "log99.csv" in err


def test_the_shots_are_told_in_a_table(command, tmp_path, pulled):
    (tmp_path / "card.txt").write_bytes(tabs_fahrenheit(*pulled))
    code, out, err = command("import", tmp_path / "card.txt")
    assert code == 0
    assert out.count("yes") == SHOTS
    assert "T1 is “Basket (°F)”" in err


@pytest.mark.parametrize(
    "options",
    [
        ("--delimiter", "abc"),
        ("--encoding", "klingon"),
        ("--time-column", "99"),
        ("--date-column", "nowhere"),
        ("--temperature-columns", "Front,99"),
        ("--temperature-columns", "Front,Front"),
        ("--temperature-columns", ","),
        ("--layout", "no such layout"),
        ("--layout", "no such file.toml"),
        ("--tag", "no equals sign"),
        ("--save-layout", " "),
        ("--skip-lines", "1000"),
    ],
)
def test_bad_options_end_in_one_sentence(command, card, options, tmp_path):
    code, out, err = command("import", card, "--day-first", *options)
    assert code == 1
    assert out == ""
    assert err.strip().splitlines()[-1].endswith(".")
    assert "Traceback" not in err
    assert not list((tmp_path / "own-logbook").rglob("*.ecsv"))


@pytest.mark.parametrize(
    "content", [b"", b"\x00" * 99, b"\x7fELF" + bytes(range(256)) * 9, b"PK\x03\x04", b"hello\n" * 9]
)
def test_bad_files_end_in_one_sentence(command, tmp_path, content):
    (tmp_path / "bad.csv").write_bytes(content)
    code, out, err = command("import", tmp_path / "bad.csv")
    assert (code, out) == (1, "")
    assert len(err.strip().splitlines()) == 1
    assert "bad.csv" in err


def test_what_is_no_file_ends_in_one_sentence(command, tmp_path):
    for path in (tmp_path, tmp_path / "missing.csv"):
        code, out, err = command("import", path)
        assert (code, out) == (1, "")
        assert len(err.strip().splitlines()) == 1
