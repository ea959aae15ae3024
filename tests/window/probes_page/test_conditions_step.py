"""The bath's temperature, worked out while it is typed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.probes.boiling import ASK_FOR_PRESSURE, SHOP_RULE, boiling_reference
from benchtemp.probes.reference import ReferenceKind
from benchtemp.units import TempUnit
from benchtemp.window.probes_page.caution_step import Method
from benchtemp.window.probes_page.conditions_step import ConditionsStep


@pytest.fixture
def step(qtbot):
    made = ConditionsStep()
    qtbot.addWidget(made)
    made.set_unit(TempUnit.DEGC)
    made.begin(Method.BOIL, values={}, operator="Ada", limit_k=0.5)
    made.show()
    return made


def test_pressure_and_depth_give_the_reference_with_its_working(step):
    step.fields["pressure"].setText("1006hPa")
    step.fields["depth"].setText("5 cm")
    wanted = boiling_reference(pressure_hpa=1006.0, depth_cm=5.0)
    assert step.reference == wanted
    assert step.figure.text() == f"99.90 ± {wanted.expanded_k():.2f} °C"
    for line in wanted.working:
        assert line in step.working.text()
    assert SHOP_RULE in step.notes.text()
    assert not step.advice.text()


def test_the_altitude_alone_asks_for_the_pressure(step):
    step.fields["altitude"].setText("1600m")
    assert ASK_FOR_PRESSURE in step.advice.text()
    assert "weather" in step.notes.text()
    sent = []
    step.went_on.connect(sent.append)
    step.go_on_button.click()
    (conditions,) = sent
    assert conditions.altitude_m == 1600.0
    assert conditions.operator == "Ada"
    assert conditions.limit_k == 0.5
    assert conditions.reference.expanded_k() > 0.4
    step.fields["pressure"].setText("835hPa")
    assert not step.advice.text()
    step.go_on_button.click()
    assert sent[1].altitude_m is None


def test_geometric_and_geopotential_altitudes_differ(step):
    step.fields["altitude"].setText("4000m")
    geometric = step.reference.temp_degc
    step.geopotential.click()
    assert step.reference.temp_degc == pytest.approx(geometric - 0.0083, abs=0.001)
    assert "geopotential" in step.reference.conditions["altitude"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"pressure": "1013"}, "no unit"),
        ({"pressure": "1013kPa"}, "did you mean 1013hPa?"),
        ({"altitude": "5250m"}, "did you mean 5250ft"),
        ({"barometer": "1013hPa"}, "needs the altitude"),
        ({"pressure": "835hPa", "barometer": "1013hPa"}, "only one of them"),
        ({"altitude": "1600m", "within": "1hPa"}, "without a pressure"),
        ({"pressure": "1006hPa", "depth": "3m"}, "not one in a pot"),
        ({"pressure": "1013hPa", "altitude": "1600m"}, "does not go with"),
    ],
)
def test_what_cannot_be_meant_gets_one_sentence_and_no_reference(step, typed, said):
    for name, text in typed.items():
        step.fields[name].setText(text)
    assert said in step.complaint.text()
    assert step.reference is None
    assert not step.go_on_button.isEnabled()


def test_nothing_typed_is_no_mistake_yet(step):
    assert not step.complaint.text()
    assert "pressure" in step.factor.text()
    assert not step.go_on_button.isEnabled()


def test_an_ice_bath_asks_for_little(step):
    step.begin(Method.ICE, values={}, operator="", limit_k=0.5)
    assert step.reference.kind is ReferenceKind.ICE
    assert not step.fields["pressure"].isVisible()
    step.fields["dissolved"].setText("500ppm")
    assert step.reference.temp_degc < -0.02


def test_a_reference_thermometer_is_typed_in_the_unit_shown(step):
    step.set_unit(TempUnit.DEGF)
    step.begin(Method.THERMOMETER, values={}, operator="", limit_k=0.5)
    assert step.reference is None
    step.thermometer.setText("199.4")
    step.certificate.setText("0.18")
    step.which.setText("bench thermometer, 2026")
    assert step.reference.temp_degc == pytest.approx(93.0)
    assert step.reference.expanded_k() == pytest.approx(0.1)
    assert step.reference.conditions == {"thermometer": "bench thermometer, 2026"}
    step.certificate.setText("0")
    assert step.reference is None


def test_probes_against_each_other_need_no_reference(step):
    step.begin(Method.TOGETHER, values={}, operator="", limit_k=0.5)
    sent = []
    step.went_on.connect(sent.append)
    step.go_on_button.click()
    assert sent[0].reference is None


def test_the_limit_is_in_the_unit_shown(qtbot, step):
    step.fields["pressure"].setText("1006hPa")
    step.set_unit(TempUnit.DEGF)
    assert step.limit.text() == "0.9"
    step.limit.setFocus()
    step.limit.setText("1.8")
    step.limit.setModified(True)
    sent = []
    step.went_on.connect(sent.append)
    qtbot.keyClick(step.limit, Qt.Key.Key_Return)
    step.go_on_button.click()
    assert sent[-1].limit_k == pytest.approx(1.0)
    step.limit.setText("0")
    step.limit.setModified(True)
    step.limit.editingFinished.emit()
    step.go_on_button.click()
    assert len(sent) == 1
    assert "limit" in step.complaint.text()
