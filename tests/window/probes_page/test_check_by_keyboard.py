"""A probe checked with nothing but keys, in the virtual pot, down to its file."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.probe_file import load_probe, probes
from benchtemp.probes.check import CheckMethod
from benchtemp.probes.reference import ReferenceKind
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, PROBES


def test_a_guided_check_from_a_new_probe_to_its_file(pots, logbook):
    pots.to_a_new_probe()
    pots.through_a_boil()
    result = pots.page.check.result
    assert not load_probe(logbook, "basket 1").checks  # nothing before the yes
    (made,) = result.checks.values()
    pots.type("after the move")
    pots.press()  # from the note to the button that saves
    assert result.save_button.hasFocus()
    pots.press()
    pots.wait(lambda: bool(load_probe(logbook, "basket 1").checks), "saving")

    (check,) = load_probe(logbook, "basket 1").checks
    assert check.operator == "Ada"
    assert check.note == "after the move"
    assert check.method is CheckMethod.BOILING
    assert check.points == made.points
    assert check.conditions == {"pressure": "1006.00 hPa", "depth": "5 cm"}
    truth_k = PROBES[0].offset_k + PROBES[0].slope_k_per_k * POT_BOILS_DEGC
    (point,) = check.points
    assert point.error_k == pytest.approx(truth_k, abs=point.expanded_k)
    assert check.correction.apply(point.reported_degc) == pytest.approx(point.reference_degc, abs=1e-9)
    stream = read_stream(logbook.recordings_dir / check.recording)
    assert stream.meta["purpose"] == "check of a probe"
    inside = (stream.t_s >= point.start_s) & (stream.t_s <= point.end_s)
    assert stream.temps_degc[inside, 0].mean() == pytest.approx(point.reported_degc, abs=0.05)
    assert not list(logbook.shots())
    pots.wait(lambda: "±" in pots.page.details.correction.text())
    assert pots.page.details.isVisible()
    assert pots.page.source.choice is None


def test_a_check_set_aside_saves_nothing(pots, logbook):
    pots.to_a_new_probe()
    pots.through_a_boil()
    pots.tab_to(pots.page.check.result.drop_button)
    pots.press()
    assert pots.page.details.isVisible()
    pots.page.shelf.close_down()
    assert not load_probe(logbook, "basket 1").checks
    assert not list(logbook.recordings())


def test_a_second_point_in_ice_gives_offset_and_slope(pots, logbook):
    pots.to_a_new_probe()
    pots.through_a_boil()
    check = pots.page.check
    pots.tab_to(check.result.another_button)
    pots.press()
    assert "crushed ice" in check.caution.steps.text()
    pots.press()
    pots.tab_to(check.source_step.virtual_button)
    pots.press()
    pots.wait(lambda: bool(check.source_step.rows.values))
    pots.go_on(2)
    pots.tab_to(check.source_step.go_on_button)
    pots.press()
    assert check.conditions.reference.kind is ReferenceKind.ICE
    pots.tab_to(check.conditions.go_on_button)
    pots.press()
    pots.until_settled()
    pots.press()
    pots.tab_to(check.result.save_button)
    pots.press()
    pots.wait(lambda: bool(load_probe(logbook, "basket 1").checks), "saving")
    (made,) = load_probe(logbook, "basket 1").checks
    assert made.method is CheckMethod.SEVERAL
    assert made.correction.slope_k_per_k == pytest.approx(-PROBES[0].slope_k_per_k, abs=0.004)
    stream = read_stream(logbook.recordings_dir / made.recording)
    assert (stream.t_s[1:] > stream.t_s[:-1]).all()
    ice, boil = sorted(made.points, key=lambda point: point.reported_degc)
    for point in (ice, boil):
        inside = (stream.t_s >= point.start_s) & (stream.t_s <= point.end_s)
        assert stream.temps_degc[inside, 0].mean() == pytest.approx(point.reported_degc, abs=0.05)


def test_several_probes_are_compared_in_one_go(pots, logbook):
    pots.to_a_new_probe("left")
    page = pots.page
    for name in ("right", "spare"):
        pots.tab_to(page.list.name_field)
        pots.type(name)
        pots.press()
        pots.wait(lambda name=name: page.shelf.named(name) is not None)
    page.list.choose("left")
    pots.tab_to(page.details.check_button)
    pots.press()
    pots.press()
    pots.press()
    step = page.check.source_step
    pots.wait(lambda: len(step.rows.choices) == 4)
    pots.go_on(2)
    for row, name in ((1, "right"), (2, "spare")):
        pots.tab_to(step.rows.choices[row])
        while step.rows.choices[row].currentData() != name:
            pots.press(Qt.Key.Key_Down)
    pots.tab_to(step.go_on_button)
    pots.press()
    pots.tab_to(page.check.conditions.go_on_button)
    pots.press()
    pots.until_settled()
    pots.press()
    result = page.check.result
    assert result.comparison.isVisible()
    assert [result.comparison.item(row, 0).text() for row in range(3)] == ["left", "right", "spare"]
    pots.tab_to(result._wanted["spare"])
    pots.press()  # Enter takes the tick away
    pots.tab_to(result.save_button)
    pots.press()
    pots.wait(lambda: bool(load_probe(logbook, "right").checks), "saving")
    saved = {probe.name: len(probe.checks) for probe in probes(logbook)[0]}
    assert saved == {"left": 1, "right": 1, "spare": 0}


def test_the_pump_key_does_not_disturb_a_check(pots):
    pots.to_a_new_probe()
    pots.press()
    pots.press()
    pots.press(Qt.Key.Key_Space)
    assert pots.page.check.source_step.isVisible()
    assert "No source is open" in pots.window.board.text_of("refused")
