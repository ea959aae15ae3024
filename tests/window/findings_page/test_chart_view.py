"""Charts are drawn from the arrays they hold, in the unit shown, with a legend that needs no colour."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
import pytest

from benchtemp.studies.chart import Axis, Chart, Level, Look, Quantity, Series
from benchtemp.units import TempUnit
from benchtemp.window.findings_page.chart_view import ChartView, legend_entries
from benchtemp.window.theme import DARK, LIGHT


def chart(*series, x=Quantity.SHOT, levels=(), names=()):
    return Chart(
        title="A chart",
        summary="What it shows.",
        x=Axis(quantity=x, title="shot", names=names),
        y=Axis(quantity=Quantity.TEMP_DEGC, title="brew temperature"),
        series=series,
        levels=levels,
    )


@pytest.fixture
def show(qtbot):
    def make(made, unit=TempUnit.DEGC, theme=LIGHT):
        view = ChartView(made)
        qtbot.addWidget(view)
        view.unit = unit
        view.set_theme(theme)
        view.resize(500, 300)
        view.show()
        return view

    return make


def items(view, kind):
    return [item for item in view.plot.getPlotItem().items if isinstance(item, kind)]


def test_points_stand_where_the_study_puts_them(show):
    series = Series(name="shots", look=Look.POINTS, x=(1, 2, 3), y=(93.0, 94.0, 92.0), marked=(1,))
    view = show(chart(series))
    points, rings = items(view, pg.ScatterPlotItem)
    assert points.getData()[1].tolist() == [93.0, 94.0, 92.0]
    assert rings.getData()[1].tolist() == [94.0]
    assert "stands&nbsp;out" in view.legend.text()
    low, high = view.plot.getPlotItem().viewRange()[1]
    assert low < 92.0
    assert high > 94.0


def test_fahrenheit_is_drawn_and_said(show):
    series = Series(name="line", look=Look.LINE, x=(1, 2), y=(90.0, 95.0))
    level = Level(name="target", at=93.0)
    view = show(chart(series, levels=(level,)), TempUnit.DEGF, DARK)
    (line,) = items(view, pg.PlotDataItem)
    assert line.getData()[1].tolist() == pytest.approx([194.0, 203.0])
    (target,) = items(view, pg.InfiniteLine)
    assert target.value() == pytest.approx(199.4)
    assert view.y_title.text() == "Brew temperature (°F)"


def test_bands_and_intervals_without_an_end_stay_drawable(show):
    band = Series(
        name="band", look=Look.BAND, x=(1, 2, 3), low=(91.0, -np.inf, 92.0), high=(94.0, np.inf, 95.0)
    )
    bars = Series(
        name="means", look=Look.INTERVALS, x=(1, 2), y=(93.0, 93.5), low=(92.0, -np.inf), high=(94.0, np.inf)
    )
    view = show(chart(band, bars))
    (filled,) = items(view, pg.FillBetweenItem)
    assert np.isfinite(filled.boundingRect().height())
    (whiskers,) = items(view, pg.ErrorBarItem)
    assert np.all(np.isfinite(whiskers.opts["top"]))


def test_groups_differ_by_more_than_colour(show):
    series = [
        Series(name=f"group {group}", look=Look.POINTS, x=(0.0,), y=(93.0,), group=group)
        for group in range(3)
    ]
    view = show(chart(*series, x=Quantity.NAME, names=("a", "b", "c")))
    assert len({item.opts["symbol"] for item in items(view, pg.ScatterPlotItem)}) == 3
    assert [sign in view.legend.text() for sign in "●■▲"] == [True, True, True]


def test_a_chart_of_nothing_is_empty_not_broken(show):
    view = show(chart(Series(name="shots", look=Look.POINTS, x=(), y=())))
    assert view.accessibleDescription() == "What it shows."


def test_a_line_and_its_band_share_an_entry_of_the_legend():
    told = {
        "bar left, ± 1 sd": ("░", "#111111"),
        "bar right, ± 1 sd": ("░", "#222222"),
        "bar left": ("━━", "#111111"),
        "bar right": ("╍╍", "#222222"),
        "shots, bar left": ("●", "#111111"),
        "stands out": ("◯", "#333333"),
    }
    entries = [entry.replace("&nbsp;", " ") for entry in legend_entries(told)]
    assert entries == [
        '<span style="color:#111111">━━░</span> bar left, ± 1 sd',
        '<span style="color:#222222">╍╍░</span> bar right, ± 1 sd',
        '<span style="color:#111111">●</span> shots, bar left',
        '<span style="color:#333333">◯</span> stands out',
    ]
