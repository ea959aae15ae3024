import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.ice import ice_reference
from benchtemp.probes.reference import ReferenceKind


def test_ice():
    plain = ice_reference()
    assert plain.kind is ReferenceKind.ICE
    assert plain.temp_degc == 0.0
    assert 0.02 < plain.uncertainty_k < 0.05
    salted = ice_reference(dissolved_g_per_l=0.5)
    assert salted.temp_degc == pytest.approx(-0.0318, abs=1e-4)
    assert salted.uncertainty_k > plain.uncertainty_k
    assert "−0.032" in salted.working[-1]
    with pytest.raises(BadInput):
        ice_reference(dissolved_g_per_l=-1.0)
