"""The shipped streams against the true temperatures in their own headers."""

from pathlib import Path

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import PullKind

STREAMS = sorted((Path(__file__).parents[2] / "demo_streams").glob("*.ecsv"))


def shots(stream, marks):
    found = find_pulls(stream.t_s, stream.temps_degc[:, 0], marks)
    return [pull for pull in found.pulls if pull.kind is PullKind.SHOT]


@pytest.mark.parametrize("path", STREAMS, ids=lambda path: path.stem)
def test_marked_shots_are_read_to_the_true_temperature(path):
    stream = read_stream(path)
    truth = stream.meta["truth"]
    marks = [
        mark
        for shot in truth
        for mark in (Mark(shot["pump_on_s"], MarkKind.PUMP_ON), Mark(shot["pump_off_s"], MarkKind.PUMP_OFF))
    ]
    read = shots(stream, marks)
    assert len(read) == len(truth)
    for pull, shot in zip(read, truth, strict=True):
        # One stream in ten or so may lie beyond twice the stated uncertainty, none beyond four times.
        assert pull.brew_temp_uncertainty_k < 0.06
        assert pull.brew_temp_degc == pytest.approx(
            shot["brew_temp_degc"], abs=4.0 * pull.brew_temp_uncertainty_k
        )
        assert pull.plateau_start_s == pytest.approx(shot["plateau_start_s"], abs=0.6)


@pytest.mark.parametrize("path", STREAMS, ids=lambda path: path.stem)
def test_the_same_shots_are_found_without_marks(path):
    stream = read_stream(path)
    truth = stream.meta["truth"]
    read = shots(stream, ())
    assert len(read) == len(truth)
    for pull, shot in zip(read, truth, strict=True):
        assert pull.brew_temp_degc == pytest.approx(shot["brew_temp_degc"], abs=0.15)
        assert pull.plateau_start_s == pytest.approx(shot["plateau_start_s"], abs=0.6)
        assert pull.plateau_end_s == pytest.approx(shot["pump_off_s"], abs=2.0)
        assert pull.pump_on_s == pytest.approx(shot["pump_on_s"], abs=2.0)


@pytest.mark.parametrize("every", [3, 4, 7, 31])
def test_missing_seconds_of_a_slow_meter_do_not_move_the_end_to_where_the_portafilter_is_taken_out(every):
    stream = read_stream(next(path for path in STREAMS if path.stem == "series_three_minutes"))
    rows = np.searchsorted(stream.t_s, np.arange(0.0, stream.t_s[-1]))
    t_s, temp_degc = stream.t_s[rows], np.round(stream.temps_degc[rows, 0], 1)
    temp_degc[::every] = np.nan
    pulls = find_pulls(t_s, temp_degc).pulls
    assert len(pulls) == len(stream.meta["truth"])
    for pull, shot in zip(pulls, stream.meta["truth"], strict=True):
        assert pull.pump_off_s == pytest.approx(shot["pump_off_s"], abs=1.5)
        assert pull.brew_temp_degc == pytest.approx(shot["brew_temp_degc"], abs=0.1)
