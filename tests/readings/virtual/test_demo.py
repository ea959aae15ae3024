"""The committed demo streams are exactly what the simulator makes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.readings.reading import MarkKind
from benchtemp.readings.virtual.demo import COMMAND, demo_streams

FOLDER = Path(__file__).parents[3] / "demo_streams"
STREAMS = demo_streams()


@pytest.mark.parametrize("name", STREAMS)
def test_a_committed_stream_is_made_again_bit_for_bit(name, tmp_path):
    made = tmp_path / f"{name}.ecsv"
    write_stream(made, STREAMS[name]())
    assert made.read_bytes() == (FOLDER / made.name).read_bytes()


def test_the_folder_holds_these_streams_and_nothing_else():
    assert sorted(path.name for path in FOLDER.iterdir()) == sorted(f"{name}.ecsv" for name in STREAMS)
    assert all(path.stat().st_size < 300_000 for path in FOLDER.iterdir())
    assert len(STREAMS) >= 8


@pytest.mark.parametrize("name", STREAMS)
def test_a_header_tells_scenario_seed_command_and_truth(name):
    stream = read_stream(FOLDER / f"{name}.ecsv")
    assert stream.warnings == ()
    assert stream.meta["command"] == COMMAND
    assert isinstance(stream.meta["seed"], int)
    assert len(stream.meta["scenario"]) > 20
    assert stream.meta["started"].endswith("+00:00")
    assert stream.meta["truth"]
    for shot in stream.meta["truth"]:
        on = (stream.t_s >= shot["plateau_start_s"]) & (stream.t_s <= shot["plateau_end_s"])
        # The median, as some streams hold spikes.
        assert np.median(stream.temps_degc[on, 0]) == pytest.approx(shot["brew_temp_degc"], abs=0.6)
        assert shot["plateau_end_s"] - shot["plateau_start_s"] > 8.0
    pumped = [mark.t_s for mark in stream.marks if mark.kind is MarkKind.PUMP_ON]
    if pumped:
        assert {shot["pump_on_s"] for shot in stream.meta["truth"]} <= {round(t_s, 3) for t_s in pumped}


def test_together_they_show_what_they_are_meant_to():
    streams = {name: read_stream(FOLDER / f"{name}.ecsv") for name in STREAMS}
    truths = {name: stream.meta["truth"] for name, stream in streams.items()}
    assert sum(not stream.marks for stream in streams.values()) >= 2
    assert sum(len(stream.channels) == 4 for stream in streams.values()) == 1
    assert any(mark.kind is MarkKind.GAP for mark in streams["unplugged_and_spikes"].marks)
    assert abs(streams["unplugged_and_spikes"].temps_degc).max() > 300.0
    idle, flushed = truths["heat_exchanger_long_idle"][0], truths["heat_exchanger_flushed"][0]
    assert idle["highest_degc"] - flushed["highest_degc"] > 3.0
    hot, cool = (truths[f"single_boiler_heater_{when}"][0] for when in ("just_off", "due"))
    assert hot["brew_temp_degc"] - cool["brew_temp_degc"] > 1.0
    starts = [shot["pump_on_s"] for shot in truths["series_three_minutes"]]
    assert np.diff(starts) == pytest.approx([180.0] * 5)
    slow, quick = truths["slow_pump_preinfusion"][0], truths["dual_boiler_steady"][0]
    assert slow["plateau_start_s"] - slow["pump_on_s"] > quick["plateau_start_s"] - quick["pump_on_s"] + 4.0
