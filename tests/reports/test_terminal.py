from math import nan

import pytest
from msgspec.structs import replace

from benchtemp.bench import PullDismissed, ShotEnded, ShotSettled, StatusChanged
from benchtemp.readings.reading import NoticeKind
from benchtemp.reports.terminal import event_lines, shot_line, shots_table, trace_line
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.shot import Shot
from benchtemp.units import TempUnit


@pytest.fixture
def shot():
    result = Result(
        kind=PullKind.SHOT,
        rise_s=22.0,
        pump_on_s=20.0,
        pump_on_source=Origin.MARKED,
        pump_off_s=45.0,
        pump_off_source=Origin.MARKED,
        plateau_start_s=28.0,
        plateau_end_s=45.0,
        brew_temp_degc=93.0,
        sd_k=0.2,
        highest_degc=93.5,
        lowest_degc=92.5,
        drift_k_per_s=0.01,
        time_to_plateau_s=8.0,
        in_band_share=1.0,
    )
    return Shot(number=2, result=result, recipe=Recipe(), dose_g=18.0, yield_g=36.0)


def test_bars_grow_with_temperature_and_leave_gaps():
    assert trace_line([10.0, 60.0, 80.0, 99.9, 150.0, nan]) == "▁▁▅██ "
    assert trace_line([60.0, 99.9], unicode=False) == "_%"


def test_one_line_says_all_that_matters(shot):
    line = shot_line(shot)
    assert line == ("shot 2: 93.00 °C, sd 0.20, plateau 17.0 s, ran 25.0 s (marked), 1:2.00, counts")
    assert shot_line(shot, TempUnit.DEGF).startswith("shot 2: 199.40 °F, sd 0.36")


def test_table_turns_differences_without_their_offset(shot):
    heading, row = shots_table([shot], TempUnit.DEGF)
    assert "brew °F" in heading
    assert row.split()[:5] == ["2", "199.40", "—", "0.36", "1.80"]
    assert len({line.index("yes" if line is row else "counts") for line in (heading, row)}) == 1
    assert shots_table([]) == []


def test_events_of_no_interest_are_silent(shot):
    assert event_lines(StatusChanged(1.0, NoticeKind.READING, "")) == []
    assert event_lines(PullDismissed(3.0, "a warm-up")) == ["      3.0 s  not a shot: a warm-up"]
    assert "93.00 °C" in event_lines(ShotEnded(shot))[0]


def test_while_the_cup_fills_there_is_no_verdict(shot):
    filling = replace(shot, dose_g=18.0, yield_g=30.6, filling=True)
    (ended,) = event_lines(ShotEnded(filling))
    assert ended.endswith("1:1.70 so far")
    (settled,) = event_lines(ShotSettled(replace(filling, yield_g=36.0, filling=False)))
    assert settled.endswith("1:2.00, counts")
