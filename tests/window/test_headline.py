from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint

from benchtemp.readings.reading import NoticeKind
from benchtemp.shots.result import Origin, PullKind
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit
from benchtemp.window.headline import Headline, last_result, pump_texts, spread_text, temperature_texts
from benchtemp.window.theme import LIGHT

NAN = float("nan")


@pytest.mark.parametrize(
    ("temp_degc", "detail"),
    [(93.0, "in the target band"), (88.5, "2.0 °C below band"), (97.0, "1.0 °C above band")],
)
def test_the_temperature_is_held_to_the_band(make_snapshot, temp_degc, detail):
    figure, told, look = temperature_texts(make_snapshot(temps_degc=(temp_degc,)), TempUnit.DEGC)
    assert figure == f"{temp_degc:.1f} °C"
    assert told == detail
    assert look == ""


def test_fahrenheit_is_shown_with_its_own_difference(make_snapshot):
    figure, told, _ = temperature_texts(make_snapshot(temps_degc=(88.5,)), TempUnit.DEGF)
    assert figure == "191.3 °F"
    assert told == "3.6 °F below band"


def test_a_stale_reading_is_never_shown_as_a_temperature(make_snapshot):
    snapshot = make_snapshot(now_s=40.0)
    assert snapshot.stale
    figure, told, look = temperature_texts(snapshot, TempUnit.DEGC)
    assert figure == "— °C"
    assert told == "no reading for 10 s"
    assert look == "bad"
    lost = make_snapshot(now_s=40.0, status=NoticeKind.LOST)
    assert "interface lost" in temperature_texts(lost, TempUnit.DEGC)[1]


def test_an_open_probe_says_why(make_snapshot):
    figure, told, _ = temperature_texts(
        make_snapshot(temps_degc=(NAN,), reasons=("open circuit",)), TempUnit.DEGC
    )
    assert figure == "— °C"
    assert told == "open circuit"


def test_the_pump_time_runs_and_stands(make_snapshot, make_shot):
    running = make_snapshot(now_s=30.0, stage=Stage.PLATEAU, pump_on_s=12.0, pump_marked=True)
    assert pump_texts(running) == ("18.0 s", "window 22–28 s", "Pump time")
    assert pump_texts(make_snapshot(shots=(make_shot(),))) == ("25.0 s", "shot 1", "Pump time")
    assert pump_texts(make_snapshot())[0] == "— s"


def test_an_estimate_is_called_one(make_snapshot, make_shot):
    rising = make_snapshot(now_s=30.0, stage=Stage.RISING, pump_on_s=12.0)
    assert pump_texts(rising)[2] == "Since the rise"
    ended = make_snapshot(shots=(make_shot(pump_off_source=Origin.ESTIMATED),))
    assert pump_texts(ended)[1] == "shot 1, estimated"


def test_the_uncertainty_stands_beside_the_brew_temperature_once_it_is_known(make_shot):
    assert spread_text(make_shot(), TempUnit.DEGC) == "sd 0.21 °C"
    known = make_shot(brew_temp_expanded_uncertainty_k=0.6)
    assert spread_text(known, TempUnit.DEGC) == "± 0.60 °C (k = 2), sd 0.21 °C"
    assert spread_text(make_shot(brew_temp_degc=None), TempUnit.DEGC) == "no plateau"


def test_the_last_result_stays_through_a_rise_that_nobody_marked(make_snapshot, make_shot):
    shot = make_shot()
    rising = {"now_s": 30.0, "stage": Stage.RISING, "pump_on_s": 12.0, "shots": (shot,)}
    assert last_result(make_snapshot(**rising)) is shot  # a probe that warms up again is no shot
    assert last_result(make_snapshot(**rising, pump_marked=True)) is None
    plateau = make_snapshot(now_s=30.0, stage=Stage.PLATEAU, pump_on_s=12.0, shots=(shot,))
    assert last_result(plateau) is None
    assert last_result(make_snapshot(shots=(shot,))) is shot
    assert last_result(make_snapshot(shots=(make_shot(kind=PullKind.FLUSH),))) is None


def test_the_strip_shows_a_pull(qtbot, make_snapshot):
    strip = Headline()
    qtbot.addWidget(strip)
    strip.set_theme(LIGHT)
    strip.show_snapshot(
        make_snapshot(
            now_s=30.0,
            last_s=29.98,
            temps_degc=(93.26,),
            stage=Stage.PLATEAU,
            pump_on_s=12.0,
            pump_marked=True,
            plateau_start_s=19.0,
            running_brew_degc=93.04,
        )
    )
    assert strip.temperature.figure.text() == "93.3 °C"
    assert strip.stage.figure.text() == "Plateau"
    assert strip.stage.detail.text() == "for 11 s"
    assert strip.pump.figure.text() == "18.0 s"
    assert strip.brew.figure.text() == "93.0 °C"
    assert strip.brew.figure.accessibleName() == "Brew so far"
    assert strip.brew.figure.accessibleDescription() == "93.0 °C, mean of the plateau so far"
    strip.show_snapshot(None)
    assert strip.temperature.figure.text() == "— °C"


def test_the_basket_channel_is_named_where_there_are_several(qtbot, make_snapshot, make_trace):
    strip = Headline()
    qtbot.addWidget(strip)
    strip.show_snapshot(make_snapshot(trace=make_trace(channels=3), basket=1))
    assert strip.temperature.caption.text() == "Temperature, T2"


def test_the_figures_grow_with_the_window_and_never_leave_it(qtbot):
    strip = Headline()
    qtbot.addWidget(strip)
    strip.set_theme(LIGHT)
    strip.show()
    sizes = []
    for width in (900, 1400, 1900):
        strip.resize(width, 200)
        qtbot.waitUntil(lambda width=width: strip.width() == width)
        sizes.append(strip.temperature.figure.font().pointSizeF())
        assert strip.minimumSizeHint().width() <= width
    assert sizes == sorted(sizes)
    assert sizes[-1] > 1.5 * sizes[0]


def test_captions_and_base_lines_stand_in_a_row(qtbot):
    strip = Headline()
    qtbot.addWidget(strip)
    strip.set_theme(LIGHT)
    strip.resize(1300, 200)
    strip.show()
    cells = (strip.temperature, strip.stage, strip.pump, strip.brew)
    for part in ("caption", "figure", "detail"):
        tops = {getattr(cell, part).mapTo(strip, QPoint(0, 0)).y() for cell in cells}
        assert len(tops) == 1, part
