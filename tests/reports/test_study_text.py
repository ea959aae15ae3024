"""A study as text, for a terminal and for pasting."""

from __future__ import annotations

import pytest

from benchtemp.reports.study_text import figure_columns, left_out_lines, study_lines, study_text, table_lines
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.evidence.shot_set import LeftOut
from benchtemp.studies.outcome import About, Concern, Study, Table
from benchtemp.units import TempUnit

TABLE = Table(
    title="Figures",
    headings=("figure", "value", "interval", "chance"),
    rows=(("mean", "92.4 °C", "92.1 to 92.7 °C", "0.04"), ("range", "—", "", "< 0.001")),
)


class Told(Study, frozen=True, tag="told"):
    @property
    def title(self):
        return "A study"

    def sentence(self, unit):
        return f"Something was found in {unit.symbol}, " + "and more of it " * 10 + "at length."

    def limits(self, _unit):
        return ("12 shots used", "tested once")

    def tables(self, _unit=TempUnit.DEGC):
        return (TABLE,)

    def charts(self, _unit=TempUnit.DEGC):
        return ()


@pytest.fixture
def told():
    def left(number, reason, *, beside):
        shot = ShotRecord(number=number, pulled="2031-03-03T09:00:00+00:00")
        return LeftOut(shot=shot, reasons=(reason, "and more"), beside=beside)

    return Told(
        concerns=(Concern(about=About.FIT, text="It does not fit."),),
        left_out=(
            left(1, "too short", beside=False),
            left(2, "no setpoint", beside=True),
            left(3, "no setpoint", beside=True),
        ),
    )


def test_a_terminal_gets_lines_that_fit_and_columns(told):
    lines = study_lines(told, TempUnit.DEGF)
    assert lines[0] == "A study"
    assert "°F" in lines[2]
    assert all(len(line) <= 100 for line in lines)
    assert "(12 shots used; tested once)" in lines
    assert "! It does not fit." in lines
    assert "  2031-03-03 09:00 shot 1: too short; and more" in lines
    assert lines[-1] == "  2 more: no setpoint"


def test_pasted_text_keeps_lines_whole_and_parts_columns_by_tabs(told):
    text = study_text(told, TempUnit.DEGC)
    assert told.sentence(TempUnit.DEGC) in text
    assert "mean\t92.4 °C\t92.1 to 92.7 °C\t0.04" in text
    assert text.endswith("2 more: no setpoint\n")


def test_figures_stand_to_the_right_and_words_to_the_left():
    assert figure_columns(TABLE) == (1, 3)
    head, first, second = table_lines(TABLE)
    assert first.index("92.4 °C") + len("92.4 °C") == second.index("—") + 1
    assert head.index("interval") == first.index("92.1 to")


def test_nothing_left_out_is_not_mentioned():
    assert left_out_lines(Told()) == []
    assert "Left out" not in study_text(Told(), TempUnit.DEGC)
