import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.probes.tolerance import ToleranceClass, class_slope_limit, class_tolerance_k


@given(st.floats(0.0, 1000.0))
def test_the_better_class_is_never_worse(temp_degc):
    assert class_tolerance_k(temp_degc, ToleranceClass.IEC_1) < class_tolerance_k(
        temp_degc, ToleranceClass.IEC_2
    )
    special = class_tolerance_k(temp_degc, ToleranceClass.ASTM_SPECIAL)
    assert special < class_tolerance_k(temp_degc, ToleranceClass.ASTM_STANDARD)


@pytest.mark.parametrize(
    ("kind", "temp_degc"),
    [(ToleranceClass.IEC_1, 1001.0), (ToleranceClass.IEC_3, 93.0), (ToleranceClass.ASTM_SPECIAL, -1.0)],
)
def test_silence_of_a_class_is_told(kind, temp_degc):
    with pytest.raises(BadInput, match=rf"{kind} says nothing about .* choose another class"):
        class_tolerance_k(temp_degc, kind)


def test_slope_limits():
    assert class_slope_limit(ToleranceClass.IEC_1) == 0.004
    assert class_slope_limit(ToleranceClass.IEC_2) == 0.0075
    assert class_slope_limit(ToleranceClass.ASTM_STANDARD) == 0.0075
