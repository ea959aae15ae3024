import json
from dataclasses import replace

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.readings.reading import Mark, MarkKind, Stream


@pytest.fixture
def recording(tmp_path):
    """One marked shot whose yield was typed a minute after it, as a file."""
    t_s = np.round(np.arange(0, 130, 0.1), 4)
    temp_degc = np.full(len(t_s), 62.0)
    brewing = (t_s >= 22) & (t_s < 46)
    temp_degc[brewing] = 93.0 - 31.0 * np.exp(-(t_s[brewing] - 22) / 1.5)
    after = t_s >= 46
    temp_degc[after] = 62.0 + 31.0 * np.exp(-(t_s[after] - 46) / 60.0)
    marks = (
        Mark(20.0, MarkKind.PUMP_ON),
        Mark(46.0, MarkKind.PUMP_OFF),
        Mark(110.0, MarkKind.SET, "shot 1 yield_g=36"),
    )
    noise = np.random.default_rng(3).normal(0, 0.02, len(t_s))
    stream = Stream(
        channels=("T1",),
        t_s=t_s,
        temps_degc=np.round(temp_degc + noise, 2).reshape(-1, 1),
        marks=marks,
        mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s, side="right")) for mark in marks),
        meta={"kind": "recording", "recipe": {"dose_g": 18.0}, "tags": {"coffee": "house blend"}},
    )
    path = tmp_path / "shot.ecsv"
    write_stream(path, stream)
    return path


def lines(text):
    return [json.loads(line) for line in text.splitlines()]


KEYS = {
    "number", "pump_on_s", "pump_on_source", "pump_off_s", "pump_off_source", "rise_s", "plateau_start_s",
    "plateau_end_s", "brew_temp_degc", "brew_temp_expanded_uncertainty_k", "sd_k", "highest_degc",
    "lowest_degc", "drift_k_per_s", "time_to_plateau_s", "in_band_share", "dose_g", "yield_g", "brew_ratio",
    "shot_time_s", "recipe", "counts", "reasons",
}  # fmt: skip


def test_analyse_prints_an_object_a_file(command, recording):
    code, out, err = command("analyse", "--json", recording)
    assert (code, err) == (0, "")
    (found,) = lines(out)
    assert found["file"] == str(recording)
    (shot,) = found["shots"]
    assert set(shot) >= KEYS
    assert shot["brew_temp_degc"] == pytest.approx(93.0, abs=0.05)
    assert (shot["pump_on_source"], shot["shot_time_s"], shot["brew_ratio"]) == ("marked", 26.0, 2.0)
    assert (shot["recipe"], shot["counts"], shot["reasons"]) == ("within", True, [])


def test_replay_repeats_the_shot_and_its_stages(command, recording):
    code, out, err = command("replay", "--speed", "max", "--json", recording)
    assert (code, err) == (0, "")
    objects = lines(out)
    stages = [found["stage"] for found in objects if "stage" in found]
    assert [stage for stage in stages if stage != "standby"] == ["rising", "plateau", "ended"]
    first, revised = (found for found in objects if "number" in found)
    assert first["recipe"] == "not given"
    assert revised["revised"] is True
    assert revised["recipe"] == "within"
    _, analysed, _ = command("analyse", "--json", recording)
    (shot,) = lines(analysed)[0]["shots"]
    assert revised["brew_temp_degc"] == pytest.approx(shot["brew_temp_degc"], abs=0.005)


def test_the_threaded_replay_says_the_same(command, recording):
    code, fast, _ = command("replay", "--speed", "64", "--json", recording)
    assert code == 0
    assert fast == command("replay", "--speed", "max", "--json", recording)[1]


def test_text_is_for_people(command, recording):
    code, out, _ = command("replay", "--speed", "max", "--unit", "F", recording)
    assert code == 0
    assert "199.3" in out
    assert "°F" in out
    code, out, _ = command("analyse", "--unit", "F", recording)
    assert "brew °F" in out


def test_a_bad_file_among_good_ones_is_named_and_the_rest_is_read(command, recording, tmp_path):
    bad = tmp_path / "bad.ecsv"
    bad.write_text("this is no recording\n", encoding="utf-8")
    code, out, err = command("analyse", "--json", bad, recording, tmp_path / "missing.ecsv")
    assert code == 1
    assert len(lines(out)) == 1
    complaints = err.splitlines()
    assert len(complaints) == 2
    assert "bad.ecsv" in complaints[0]
    assert "missing.ecsv" in complaints[1]


def test_a_folder_is_read_by_several_processes_in_order(command, recording, tmp_path):
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(20):
        (folder / f"{number:02}.ecsv").write_bytes(recording.read_bytes())
    (folder / "07.ecsv").write_bytes(b"\x00\xff")
    code, out, err = command("analyse", "--json", "--jobs", "2", folder)
    assert code == 1
    assert "07.ecsv" in err
    names = [found["file"][-7:] for found in lines(out)]
    assert names == [f"{number:02}.ecsv" for number in range(20) if number != 7]


def test_an_empty_folder_is_said(command, tmp_path):
    code, out, err = command("analyse", tmp_path)
    assert (code, out) == (1, "")
    assert "no .ecsv files" in err


@pytest.mark.parametrize("speed", ["0.1", "65", "fast", "nan"])
def test_bad_speeds_are_one_sentence(command, recording, speed):
    code, out, err = command("replay", "--speed", speed, recording)
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1


def test_bad_recipe_is_one_sentence(command, recording):
    code, _, err = command("analyse", "--dose", "-3", recording)
    assert code == 1
    assert len(err.splitlines()) == 1


def test_a_recipe_given_goes_before_the_files(command, recording):
    _, out, _ = command("analyse", "--json", "--dose", "12", recording)
    (shot,) = lines(out)[0]["shots"]
    assert (shot["dose_g"], shot["recipe"]) == (12.0, "outside")


def test_a_stream_without_shots_says_why(command, tmp_path):
    rest = Stream(channels=("T1",), t_s=np.arange(60.0), temps_degc=np.full((60, 1), 21.0))
    write_stream(tmp_path / "rest.ecsv", rest)
    code, out, _ = command("analyse", tmp_path / "rest.ecsv")
    assert code == 0
    assert "no shot" in out


def test_corrections_in_the_header_are_applied(command, recording, tmp_path):
    stream = read_stream(recording)
    channel = {"name": "T1", "probe": "p1", "correction": {"probe": "p1", "offset_k": 0.8}}
    write_stream(tmp_path / "corrected.ecsv", replace(stream, meta={**stream.meta, "channels": [channel]}))
    plain = lines(command("analyse", "--json", recording)[1])[0]["shots"][0]
    corrected = lines(command("analyse", "--json", tmp_path / "corrected.ecsv")[1])[0]["shots"][0]
    assert corrected["brew_temp_degc"] == pytest.approx(plain["brew_temp_degc"] + 0.8, abs=0.005)
