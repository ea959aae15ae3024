import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.probes.correction import UNCORRECTED, Correction


def test_unknown_uncertainty_stays_unknown():
    assert UNCORRECTED.uncertainty_at(93.0) is None
    assert Correction(offset_k=0.1).uncertainty_at(93.0) is None


@given(
    st.floats(-5.0, 5.0), st.floats(-0.01, 0.01), st.lists(st.floats(-50.0, 150.0), min_size=1, max_size=9)
)
def test_correction_of_arrays_is_that_of_numbers(offset_k, slope, temps):
    correction = Correction(offset_k=offset_k, slope_k_per_k=slope)
    together = correction.apply(np.array(temps))
    assert together.tolist() == [correction.apply(temp) for temp in temps]
