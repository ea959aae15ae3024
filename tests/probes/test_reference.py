import json

import pytest

from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.reference import thermometer_reference


def test_thermometer_takes_its_certificate():
    reference = thermometer_reference(93.12, 0.10, note="glass 7")
    assert reference.uncertainty_k == pytest.approx(0.05)
    assert reference.expanded_k() == pytest.approx(0.10)
    assert reference.conditions == {"thermometer": "glass 7"}


def test_as_plain_values():
    reference = boiling_reference(pressure_hpa=835.0, depth_cm=6.0)
    plain = json.loads(json.dumps(reference.to_dict()))
    assert plain["temp_degc"] == reference.temp_degc
    assert plain["expanded_uncertainty_k"] == pytest.approx(plain["coverage_factor"] * plain["uncertainty_k"])
    assert sum(line["share_k"] ** 2 for line in plain["contributions"]) == pytest.approx(
        plain["uncertainty_k"] ** 2
    )
    assert sum(line["part"] for line in plain["contributions"]) == pytest.approx(1.0)
