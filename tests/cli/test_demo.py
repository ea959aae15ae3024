from pathlib import Path

import pytest

from benchtemp.cli import demo as demo_command
from benchtemp.logbook.ecsv import read_stream
from benchtemp.readings.virtual import VirtualSource
from benchtemp.shots.shot import analyse_stream


def test_the_main_job_runs_in_the_terminal(command, tmp_path):
    code, out, err = command(
        "demo", "--no-window", "--shots", "1", "--speed", "64", "--logbook", tmp_path / "book"
    )
    assert code == 0, err
    files = [Path(line.partition(": ")[2]) for line in out.splitlines() if line.endswith(".ecsv")]
    recording, shot_file = files
    assert recording.parent == tmp_path / "book" / "recordings"
    (shot,) = analyse_stream(read_stream(shot_file)).shots
    assert shot.result.pump_on_source == "marked"
    assert f"{shot.result.brew_temp_degc:.2f} °C" in out
    # How much runs into the cup depends on how quickly this machine sees the scale at 64 times life.
    assert 1.5 < shot.brew_ratio < 4


def test_with_a_display_the_window_opens_on_the_virtual_machine(command, tmp_path, monkeypatch):
    monkeypatch.setattr(demo_command, "_display_there", lambda: True)
    opened = {}
    code, _, _ = command(
        "demo", "--logbook", tmp_path, open_window=lambda **options: opened.update(options) or 0
    )
    assert code == 0
    assert isinstance(opened["source"], VirtualSource)
    assert opened["logbook"] == tmp_path


@pytest.mark.parametrize(
    "arguments",
    [("--machine", "nonesuch"), ("--stream", "missing.ecsv")],
)
def test_what_is_not_there_is_one_sentence(command, arguments):
    code, out, err = command("demo", "--no-window", *arguments)
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1


def test_without_a_command_the_window_opens(command, tmp_path):
    opened = {}
    code, out, err = command("--logbook", tmp_path, open_window=lambda **options: opened.update(options) or 0)
    assert (code, out, err) == (0, "", "")
    assert opened == {"logbook": tmp_path}


def test_wrong_usage_is_told_apart(command):
    assert command("demo", "--no-such-option")[0] == 2
    assert command("nonesuch")[0] == 2
