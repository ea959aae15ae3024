from math import sqrt

import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.bath import compare_in_bath
from benchtemp.probes.boiling import boiling_reference
from benchtemp.probes.calibration import (
    COMMONLY_AT_WORST_K,
    COMMONLY_WITHIN_K,
)
from benchtemp.probes.noise import Mean
from benchtemp.probes.settle import Level


def level_at(temp_degc, *, u=0.02, start_s=0.0, end_s=60.0):
    return Level(start_s, end_s, Mean(temp_degc, 0.1, u, 50.0, 200), temp_degc - 0.3, temp_degc + 0.3, 0.0)


def test_several_probes_in_one_bath():
    reference = boiling_reference(pressure_hpa=835.0)
    base = reference.temp_degc
    levels = {"a": level_at(base + 0.10), "b": level_at(base + 0.16), "c": level_at(base + 0.40)}
    found = compare_in_bath(levels, reference)
    assert found.mean_degc == pytest.approx(base + 0.22)
    assert found.spread_k == pytest.approx(0.30)
    assert [round(one.from_mean_k, 3) for one in found.probes] == [-0.12, -0.06, 0.18]
    assert [round(one.from_reference_k, 3) for one in found.probes] == [0.10, 0.16, 0.40]
    # The mean holds the probe itself: u² (1 - 1/n).
    assert found.probes[0].from_mean_expanded_k == pytest.approx(2.0 * 0.02 * sqrt(2.0 / 3.0), rel=0.05)
    assert found.probes[0].from_reference_expanded_k > found.probes[0].from_mean_expanded_k
    assert "more than is usual" in found.remark
    assert "common practice" in found.remark


@pytest.mark.parametrize(
    ("spread_k", "words"), [(COMMONLY_WITHIN_K, "as is usual"), (COMMONLY_AT_WORST_K, "can be asked")]
)
def test_spread_is_held_against_common_practice(spread_k, words):
    found = compare_in_bath({"a": level_at(94.0), "b": level_at(94.0 + 0.99 * spread_k)})
    assert words in found.remark
    assert found.probes[0].from_reference_k is None


def test_a_bath_with_one_probe_or_at_different_times_is_told():
    with pytest.raises(BadInput, match="at least two probes"):
        compare_in_bath({"a": level_at(94.0)})
    with pytest.raises(BadInput, match="same time"):
        compare_in_bath({"a": level_at(94.0), "b": level_at(94.0, start_s=60.0, end_s=120.0)})
