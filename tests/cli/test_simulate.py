"""`benchtemp simulate` as a user runs it."""

from __future__ import annotations

import shlex
import time
from dataclasses import replace

import numpy as np
import pytest

from benchtemp.bench.sitting import start_sitting
from benchtemp.cli import run
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.virtual import Order, OrderKind, VirtualSource, virtual_machines
from benchtemp.readings.virtual.demo import demo_streams


def simulate(*arguments: str) -> int:
    def no_window(**_: object) -> int:
        raise AssertionError("simulate opens no window")

    return run(["simulate", *arguments], open_window=no_window)


def test_help_has_an_example(capsys):
    assert simulate("--help") == 0
    assert "benchtemp simulate --machine heat-exchanger" in capsys.readouterr().out


def test_list_names_every_machine(capsys):
    assert simulate("--list") == 0
    shown = capsys.readouterr().out
    for key, machine in virtual_machines().items():
        assert key in shown
        assert machine.name in shown


def test_a_file_holds_what_was_asked_for(tmp_path, capsys):
    out = tmp_path / "shots.ecsv"
    code = simulate(
        *("--machine", "heat-exchanger", "--shots", "2", "--interval", "120", "--flush", "4", "--idle", "20"),
        *("--rate", "4", "--quantum", "0.25", "--noise", "0.1", "--dose", "17", "--seed", "9"),
        *("--place", "basket", "--place", "group", "--setpoint", "119", "--out", str(out)),
    )
    assert code == 0
    stream = read_stream(out)
    told = capsys.readouterr().out
    assert stream.channels == ("T1", "T2")
    assert np.all(stream.temps_degc % 0.25 == 0.0)
    assert stream.weight_g is not None
    assert stream.meta["recipe"] == {"dose_g": 17.0}
    assert stream.meta["tags"]["idle_min"] == "20"
    assert stream.meta["tags"]["setpoint_degc"] == "119"
    assert len(stream.meta["flushes"]) == 2
    for shot in stream.meta["truth"]:
        assert f"{shot['brew_temp_degc']:.2f} °C" in told
        assert shot["yield_g"] == pytest.approx(34.0, abs=0.8)
    assert str(out) in told


def test_marks_and_scale_can_be_left_out(tmp_path):
    out = tmp_path / "bare.ecsv"
    assert simulate("--shots", "1", "--no-marks", "--no-scale", "--cold", "--out", str(out)) == 0
    stream = read_stream(out)
    assert stream.marks == ()
    assert stream.weight_g is None
    assert stream.temps_degc[0, 0] < 30.0


def test_the_command_in_the_header_makes_the_same_file_again(tmp_path):
    first, again = tmp_path / "first.ecsv", tmp_path / "again.ecsv"
    assert simulate("--shots", "1", "--no-scale", "--seed", "3", "--yield", "30", "--out", str(first)) == 0
    words = shlex.split(read_stream(first).meta["command"].replace("FILE", str(again)))
    assert words[:2] == ["benchtemp", "simulate"]
    assert run(words[1:], open_window=lambda **_: 1) == 0
    assert first.read_bytes() == again.read_bytes()


@pytest.mark.parametrize("offset_k", [-0.8, 1.5])
def test_a_probe_that_reads_off_shifts_the_readings_and_not_the_truth(tmp_path, capsys, offset_k):
    true, off, again = (tmp_path / f"{name}.ecsv" for name in ("true", "off", "again"))
    same = (
        "--shots",
        "1",
        "--seed",
        "4",
        "--quantum",
        "0",
        "--no-scale",
        "--place",
        "basket",
        "--place",
        "group",
    )
    assert simulate(*same, "--out", str(true)) == 0
    told = capsys.readouterr().out.splitlines()[0]
    assert simulate(*same, "--probe-offset", f"{offset_k}", "--out", str(off)) == 0
    assert capsys.readouterr().out.splitlines()[0] == told
    one, other = read_stream(true), read_stream(off)
    assert other.temps_degc - one.temps_degc == pytest.approx(
        np.full(one.temps_degc.shape, offset_k), abs=1e-4
    )
    assert other.meta["truth"] == one.meta["truth"]
    assert [channel.get("offset_k") for channel in one.meta["channels"]] == [None, None]
    assert [channel["offset_k"] for channel in other.meta["channels"]] == [offset_k, offset_k]
    words = shlex.split(other.meta["command"].replace("FILE", str(again)))
    assert run(words[1:], open_window=lambda **_: 1) == 0
    assert again.read_bytes() == off.read_bytes()


def test_a_slow_probe_lags_behind_the_same_water(tmp_path):
    rises, waters = [], []
    for tau_s in ("0.1", "3"):
        out = tmp_path / f"tau-{tau_s}.ecsv"
        assert simulate("--shots", "1", "--noise", "0", "--time-constant", tau_s, "--out", str(out)) == 0
        stream = read_stream(out)
        assert stream.meta["channels"][0]["time_constant_s"] == float(tau_s)
        (shot,) = stream.meta["truth"]
        since_on = stream.t_s > shot["pump_on_s"]
        rises.append(stream.t_s[since_on & (stream.temps_degc[:, 0] > 80.0)][0])
        waters.append(shot["water_degc"])
    assert rises[1] > rises[0] + 2.0
    assert waters[1] == pytest.approx(waters[0], abs=0.1)


def test_demo_streams_are_written_where_they_were_asked_for(tmp_path, capsys, monkeypatch):
    few = {name: make for name, make in demo_streams().items() if name in {"thermoblock", "coarse_unmarked"}}
    monkeypatch.setattr("benchtemp.readings.virtual.demo.demo_streams", lambda: few)
    assert simulate("--demo-streams", str(tmp_path)) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["coarse_unmarked.ecsv", "thermoblock.ecsv"]
    assert capsys.readouterr().out.count(".ecsv") == 2
    assert simulate("--demo-streams", str(tmp_path)) == 1
    assert "already a file" in capsys.readouterr().err
    assert simulate("--demo-streams", str(tmp_path), "--overwrite") == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "Name the file to write"),
        (["--machine", "toaster", "--out", "{}/x.ecsv"], "no virtual machine 'toaster'"),
        (["--out", "{}/none/x.ecsv"], "no folder"),
        (["--out", "{}/there.ecsv"], "already a file"),
        (["--interval", "20", "--out", "{}/x.ecsv"], "interval of 20 s is too short"),
        (
            ["--rate", "nan", "--out", "{}/x.ecsv"],
            "--rate must be a number from 0.1 to 200 Hz; nan was given.",
        ),
        (["--probe-offset", "21", "--out", "{}/x.ecsv"], "--probe-offset must be a number from -20 to 20 K"),
        (
            ["--time-constant", "0", "--out", "{}/x.ecsv"],
            "--time-constant must be a number from 0.01 to 60 s",
        ),
        (["--noise", "-1", "--out", "{}/x.ecsv"], "--noise must be a number from 0 to 5 K"),
        (["--place", "group", "--out", "{}/x.ecsv"], "first channel must sit in the basket"),
        (["--cold", "--idle", "5", "--out", "{}/x.ecsv"], "give --cold or --idle"),
        (["--started", "yesterday", "--out", "{}/x.ecsv"], "no date and time with UTC offset"),
        (["--started", "2031-03-04T08:00:00", "--out", "{}/x.ecsv"], "no date and time with UTC offset"),
        (["--demo-streams", "{}/none"], "no folder"),
    ],
)
def test_bad_input_is_one_sentence_and_leaves_no_file(arguments, said, tmp_path, capsys):
    (tmp_path / "there.ecsv").write_text("kept")
    assert simulate(*(word.format(tmp_path) for word in arguments)) == 1
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["there.ecsv"]
    assert (tmp_path / "there.ecsv").read_text() == "kept"


@pytest.mark.parametrize(
    "arguments", [["--shots", "x"], ["--shots", "0"], ["--place", "roof"], ["--seed", "-1"]]
)
def test_a_wrong_option_is_wrong_usage(arguments, capsys):
    assert simulate(*arguments, "--out", "x.ecsv") == 2
    assert "Invalid value" in capsys.readouterr().err


def test_a_finer_grind_fills_the_cup_less_and_is_told(tmp_path, capsys):
    yields = {}
    for grind in ("85", "100", "125"):
        out = tmp_path / f"{grind}.ecsv"
        assert simulate("--shots", "1", "--shot-time", "20", "--grind", grind, "--out", str(out)) == 0
        stream = read_stream(out)
        yields[grind] = stream.meta["truth"][0]["yield_g"]
        assert stream.meta["tags"].get("grind", "100 %") == f"{grind} %"
    assert yields["85"] < 0.8 * yields["100"] < 0.8 * 0.8 * yields["125"]
    assert simulate("--grind", "20", "--out", str(tmp_path / "x.ecsv")) != 0
    assert "from 70 to 140 %" in capsys.readouterr().err


def test_only_a_sitting_at_a_virtual_machine_is_made_again(tmp_path, capsys):
    scripted = tmp_path / "scripted.ecsv"
    stream = replace(demo_streams()["coarse_unmarked"](), meta={"kind": "recording"})
    write_stream(scripted, stream)
    assert simulate("--again", str(scripted), "--out", str(tmp_path / "again.ecsv")) != 0
    assert "not recorded on a virtual machine" in capsys.readouterr().err
    assert not (tmp_path / "again.ecsv").exists()


def test_a_sitting_is_made_again_to_the_last_bit(tmp_path, capsys):
    source = VirtualSource(virtual_machines()["dual-boiler"], seed=3, speed=60.0)
    live = start_sitting(source, logbook=Logbook(tmp_path))
    live.start()

    def wait_until(t_s):
        deadline_s = time.monotonic() + 20.0
        while live.snapshot is None or (live.snapshot.last_s or 0.0) < t_s:
            assert time.monotonic() < deadline_s
            time.sleep(0.005)

    wait_until(1.0)
    source.order(Order(OrderKind.SETPOINT, 97.0))
    live.press()
    wait_until(source.now_s() + 20.0)
    live.press()
    wait_until(source.now_s() + 20.0)
    recording = live.snapshot.recording
    live.stop()
    out = tmp_path / "again.ecsv"
    assert simulate("--again", str(recording), "--out", str(out)) == 0
    assert "all the same as in" in capsys.readouterr().out
    kept, made = read_stream(recording), read_stream(out)
    np.testing.assert_array_equal(made.temps_degc[: len(kept.t_s)], kept.temps_degc)
