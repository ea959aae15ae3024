from __future__ import annotations

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit
from benchtemp.window.plot.summary import trace_summary


def test_nothing_is_said_to_be_nothing():
    assert trace_summary(None, TempUnit.DEGC) == "The temperature trace is empty."


def test_a_live_pull_is_told(make_snapshot):
    snapshot = make_snapshot(
        stage=Stage.PLATEAU,
        now_s=30.0,
        last_s=29.9,
        pump_on_s=12.0,
        running_brew_degc=93.04,
        marks=(Mark(20.0, MarkKind.NOTE, "cup turned"),),
    )
    text = trace_summary(snapshot, TempUnit.DEGC)
    for said in (
        "Now T1 93.0 °C",
        "Stage plateau",
        "18 s since pump on",
        "so far 93.0 °C",
        "90.5–96.0 °C",
        "cup turned",
    ):
        assert said in text


def test_a_stale_reading_is_not_told_as_now(make_snapshot):
    text = trace_summary(make_snapshot(now_s=99.0), TempUnit.DEGC)
    assert "no present reading" in text
    assert "Now" not in text


def test_the_unit_is_the_one_shown(make_snapshot):
    assert "194.9–204.8 °F" in trace_summary(make_snapshot(), TempUnit.DEGF)


def test_a_chosen_shot_is_told(make_snapshot, make_shot):
    text = trace_summary(make_snapshot(), TempUnit.DEGC, make_shot(2))
    assert text.startswith("Shot 2: brew temperature 93.1 °C, from 92.4 °C to 93.6 °C")
    bare = make_shot(3, brew_temp_degc=None, reasons=("no plateau was found",))
    assert "no plateau was found" in trace_summary(make_snapshot(), TempUnit.DEGC, bare)
