from html.parser import HTMLParser

import msgspec
import pytest

from benchtemp.reports.clipboard import (
    shot_as_html,
    shot_as_text,
    shots_as_html,
    shots_as_text,
    study_as_html,
    study_as_text,
    table_as_html,
    table_as_text,
)
from benchtemp.studies.outcome import Table
from benchtemp.studies.steadiness import steadiness
from benchtemp.units import TempUnit

FORMULA = '=HYPERLINK("http://evil.example","x")'


class Cells(HTMLParser):
    def __init__(self, content):
        super().__init__()
        self.rows = []
        self.tags = set()
        self.feed(content)

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        assert all(name == "style" for name, _ in attributes)
        if tag == "tr":
            self.rows.append([])
        if tag in {"td", "th"}:
            self.rows[-1].append("")

    def handle_data(self, data):
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data.strip("\n")


@pytest.fixture
def shots(series):
    return [one.shot for one in series.shots]


def test_text_and_html_hold_the_same_cells(shots):
    lines = [line.split("\t") for line in shots_as_text(shots).splitlines()]
    assert lines == Cells(shots_as_html(shots)).rows
    assert len(lines) == 7
    assert len({len(line) for line in lines}) == 1
    head = lines[0]
    assert [float(line[head.index("brew temperature °C")]) for line in lines[1:]] == pytest.approx(
        [shot.result.brew_temp_degc for shot in shots], abs=0.005
    )
    assert [float(line[head.index("ratio")]) for line in lines[1:]] == pytest.approx(
        [shot.brew_ratio for shot in shots], abs=0.005
    )


def test_numbers_are_such_as_a_spreadsheet_knows(shots):
    falling = msgspec.structs.replace(
        shots[0], result=msgspec.structs.replace(shots[0].result, drift_k_per_s=-0.01)
    )
    line = dict(zip(*(row.split("\t") for row in shots_as_text([falling]).splitlines()), strict=True))
    assert line["drift °C/min"] == "-0.60"
    assert float(line["time s"]) == pytest.approx(falling.result.shot_time_s, abs=0.05)


def test_no_shots_are_no_table():
    assert shots_as_text([]) == shots_as_html([]) == ""


def test_nothing_typed_becomes_a_formula_or_markup(shots):
    tags = {"machine": FORMULA, "coffee": "<script>alert(1)</script>", "bean": "@x"}
    bad = msgspec.structs.replace(shots[0], tags=tags, set_aside="=1+1\tand a tab\nand a line")
    others = [msgspec.structs.replace(shots[1], tags={"coffee": "b"})]
    text = shots_as_text([bad, *others])
    assert len(text.splitlines()) == 3
    cells = [cell for line in text.splitlines() for cell in line.split("\t")]
    assert not [cell for cell in cells if cell[:1] in {"=", "+", "@", "-"} and not cell[1:2].isdigit()]
    html = shots_as_html([bad, *others])
    assert Cells(html).tags == {"table", "caption", "thead", "tbody", "tr", "th", "td"}
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    one = shot_as_text(bad)
    assert f"machine\t'{FORMULA}\n" in one
    assert "<script" not in shot_as_html(bad)


def test_one_shots_figures_are_a_line_each(shots):
    lines = dict(line.split("\t") for line in shot_as_text(shots[0], TempUnit.DEGF).splitlines())
    assert lines["brew temperature"] == f"{shots[0].result.brew_temp_degc * 1.8 + 32:.2f} °F"
    assert lines["counts"] == "yes"
    rows = Cells(shot_as_html(shots[0], TempUnit.DEGF)).rows
    assert dict(rows[1:]) == lines


def test_a_studys_verdict_and_tables_are_copied(series):
    study = steadiness(series.shot_set)
    text = study_as_text(study)
    assert text.startswith(f"{study.title}\n{study.sentence(TempUnit.DEGC)}\n")
    assert all(f"! {concern.said()}" in text for concern in study.concerns)
    assert "standard deviation\t" in text
    assert study.sentence(TempUnit.DEGC) in study_as_html(study)


def test_a_table_is_escaped():
    table = Table(title="<b>", headings=("a", "<i>"), rows=(("<script>", "−1.5"), ("=1", "2")))
    assert table_as_text(table) == "a\t<i>\n<script>\t-1.5\n'=1\t2\n"
    assert Cells(table_as_html(table)).rows == [["a", "<i>"], ["<script>", "-1.5"], ["'=1", "2"]]
    assert "<script>" not in table_as_html(table)
