import math

import numpy as np
import pytest

from benchtemp.studies.statistics.components import crossed_components, one_way_components


def test_balanced_parts_are_those_of_the_mean_squares():
    groups = [np.array([1.0, 2.0, 3.0]), np.array([4.0, 5.0, 6.0]), np.array([2.0, 3.0, 4.0])]
    found = one_way_components("operator", groups)
    assert found.repeatability.sd == pytest.approx(1.0)
    # Means 2, 5, 3: variance 7/3; less the 1/3 that the shots themselves bring.
    assert found.between[0].sd == pytest.approx(math.sqrt(2.0))
    assert found.reproducibility.sd == pytest.approx(math.sqrt(3.0))


def test_no_difference_between_testers_is_nought_not_negative():
    groups = [np.array([1.0, 3.0]), np.array([3.0, 1.0]), np.array([1.0, 3.0])]
    found = one_way_components("operator", groups)
    assert found.between[0].sd == 0.0
    assert found.between[0].interval.low == 0.0
    assert found.between[0].interval.high > 0.0


def test_intervals_cover_in_a_quick_look(rng):
    hits = np.zeros(3)
    for _ in range(300):
        groups = [rng.normal(rng.normal(0, 0.3), 0.2, size) for size in (4, 6, 5, 4)]
        found = one_way_components("operator", groups)
        hits += [
            found.repeatability.interval.holds(0.2),
            found.between[0].interval.holds(0.3),
            found.reproducibility.interval.holds(math.hypot(0.3, 0.2)),
        ]
    assert (hits / 300 > 0.91).all(), hits
    assert (hits / 300 < 0.99).all(), hits


def test_likelihood_and_mean_squares_agree_where_both_can(rng):
    groups = [rng.normal(shift, 0.2, 5) for shift in (0.0, 0.5, -0.4, 0.2)]
    labels = [name for name in "abcd" for _ in range(5)]
    by_squares = one_way_components("operator", groups)
    by_likelihood = crossed_components(np.concatenate(groups), {"operator": labels})
    assert by_likelihood.repeatability.sd == pytest.approx(by_squares.repeatability.sd, rel=2e-3)
    assert by_likelihood.between[0].sd == pytest.approx(by_squares.between[0].sd, rel=2e-3)


def test_two_mixed_factors_are_told_apart(rng):
    operators = [name for name in "abcd" for _ in range(12)]
    probes = [name for _ in range(16) for name in "xyz"]
    shift = {"a": 0.6, "b": -0.6, "c": 0.3, "d": -0.3, "x": 0.05, "y": -0.05, "z": 0.0}
    values = np.array([shift[o] + shift[p] for o, p in zip(operators, probes, strict=True)])
    found = crossed_components(values + rng.normal(0, 0.1, 48), {"operator": operators, "probe": probes})
    operator, probe = found.between
    assert operator.sd == pytest.approx(0.55, abs=0.1)
    assert probe.sd < 0.12
    assert operator.interval.low > probe.sd
    assert found.repeatability.interval.holds(0.1)
