"""A study's part of a report."""

from dataclasses import dataclass

import pytest

from benchtemp.reports.content import Grid, Paragraph
from benchtemp.reports.sections.study_section import study_section
from benchtemp.studies.outcome import Table
from benchtemp.units import TempUnit


@dataclass
class FakeStudy:
    table: Table
    title: str = "A study"
    left_out: tuple = ()

    def charts(self, _unit):
        return ()

    def tables(self, _unit):
        return (self.table,)


def blocks(count, *, remark="", last="", title="Shots"):
    rows = tuple(
        (str(number), f"{90 + number / 10:.1f} °C", remark if number in (3, 7) else "")
        for number in range(1, count + 1)
    )
    table = Table(title=title, headings=("shot", "brew temperature", last), rows=rows)
    return study_section(FakeStudy(table), TempUnit.DEGC).blocks


def test_of_a_long_list_of_shots_those_that_stand_apart_are_shown():
    grid, told = blocks(30, remark="stands apart")
    assert isinstance(grid, Grid)
    assert [row.cells[0] for row in grid.rows] == ["3", "7"]
    assert told == Paragraph("The other 28 stand in the table of all shots.", quiet=True)


def test_a_long_list_without_remarks_is_only_pointed_to():
    assert blocks(30) == (Paragraph("Its 30 shots stand in the table of all shots.", quiet=True),)


@pytest.mark.parametrize("other", [{"title": "Groups"}, {"last": "after heating began"}])
def test_every_other_table_is_whole(other):
    (grid,) = blocks(30, remark="x", **other)
    assert len(grid.rows) == 30


def test_a_short_list_is_whole():
    (grid,) = blocks(20, remark="stands apart")
    assert len(grid.rows) == 20
