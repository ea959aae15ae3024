from math import sqrt

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes import type_k
from benchtemp.probes.monte_carlo import agreement, draws, monte_carlo, propagate
from benchtemp.probes.uncertainty import Budget, Contribution, Correlation, Distribution, Kind, bounded

TRIALS = 100_000


def budget_of(*lines, correlations=()):
    return Budget(quantity="test", value=93.0, contributions=lines, correlations=correlations)


@pytest.mark.parametrize("kind", list(Distribution))
def test_draws_have_the_width_they_say(kind):
    line = Contribution(name="a", uncertainty=0.3, distribution=kind)
    found = draws(line, TRIALS, np.random.default_rng(1))
    assert found.std() == pytest.approx(0.3, rel=0.01)
    assert found.mean() == pytest.approx(0.0, abs=0.01)
    if kind is not Distribution.NORMAL:
        assert np.abs(found).max() <= 0.3 * kind.divisor * (1.0 + 1e-12)


def test_few_readings_draw_from_student():
    line = Contribution(name="a", uncertainty=0.3, kind=Kind.A, dof=5.0)
    # Variance of Student's distribution: dof / (dof - 2).
    assert draws(line, 400_000, np.random.default_rng(2)).std() == pytest.approx(
        0.3 * sqrt(5.0 / 3.0), rel=0.03
    )


def test_four_rectangles():
    """JCGM 101:2008, 9.2.3: four rectangles of unit standard uncertainty, 95 %.

    The supplement gives ±3.92 for the propagated interval and ±3.88 for the drawn one (from memory; the exact
    quantile of the sum is worked out below).
    """
    budget = budget_of(*(bounded(name, sqrt(3.0)) for name in "abcd"))
    run = monte_carlo(budget, trials=400_000, level=0.95)
    assert budget.expanded_k(0.95) == pytest.approx(3.92, abs=0.005)
    assert run.high - 93.0 == pytest.approx(3.88, abs=0.02)
    assert 93.0 - run.low == pytest.approx(3.88, abs=0.02)
    # Irwin-Hall: P(sum of 4 on [0, 1] > x) = (4 - x)^4 / 24 for x >= 3; here 0.025.
    exact = ((4.0 - (24.0 * 0.025) ** 0.25) - 2.0) * 2.0 * sqrt(3.0)
    assert exact == pytest.approx(3.88, abs=0.005)


def test_normal_budget_agrees_to_two_digits():
    budget = budget_of(
        Contribution(name="a", uncertainty=0.31), Contribution(name="b", uncertainty=0.24, sensitivity=-2)
    )
    found = agreement(budget, monte_carlo(budget, trials=400_000))
    assert found.agrees
    assert found.tolerance == pytest.approx(0.005)


def test_one_wide_rectangle_is_told_not_to_agree():
    budget = budget_of(bounded("a", 2.5), Contribution(name="b", uncertainty=0.05))
    found = agreement(budget, monte_carlo(budget))
    assert not found.agrees
    assert found.low_difference > found.tolerance


@pytest.mark.parametrize("coefficient", [-0.9, 0.0, 0.7, 1.0])
def test_correlated_lines(coefficient):
    budget = budget_of(
        Contribution(name="a", uncertainty=0.3),
        Contribution(name="b", uncertainty=0.4, sensitivity=0.5),
        bounded("c", 0.1),
        correlations=(Correlation(first="a", second="b", coefficient=coefficient),),
    )
    run = monte_carlo(budget, trials=TRIALS)
    assert run.uncertainty == pytest.approx(budget.uncertainty_k, rel=0.01)


def test_correlation_of_rectangles_is_refused():
    budget = budget_of(
        bounded("a", 0.3),
        bounded("b", 0.4),
        correlations=(Correlation(first="a", second="b", coefficient=0.5),),
    )
    with pytest.raises(BadInput, match="normally distributed"):
        monte_carlo(budget)


def test_through_the_thermocouple_itself():
    """The junction's share of a brew temperature by the real, bent function and by its sensitivity."""
    emf = type_k.emf_mv(93.0) - type_k.emf_mv(25.0)
    lines = (
        Contribution(
            name="emf", uncertainty=0.002, unit="mV", sensitivity=1.0 / type_k.seebeck_mv_per_k(93.0)
        ),
        bounded("junction", 1.0, sensitivity=type_k.seebeck_mv_per_k(25.0) / type_k.seebeck_mv_per_k(93.0)),
    )
    run = propagate(
        lambda drawn: type_k.temp_degc(drawn["emf"] + type_k.emf_mv(drawn["junction"])),
        {"emf": emf, "junction": 25.0},
        lines,
        trials=TRIALS,
    )
    budget = budget_of(*lines)
    assert run.mean == pytest.approx(93.0, abs=0.01)
    assert run.uncertainty == pytest.approx(budget.uncertainty_k, rel=0.01)
    assert budget.uncertainty_k == pytest.approx(0.567, abs=0.002)


def test_same_seed_same_draws():
    budget = budget_of(bounded("a", 0.3), Contribution(name="b", uncertainty=0.1))
    assert monte_carlo(budget, trials=5000, seed=3) == monte_carlo(budget, trials=5000, seed=3)
    assert monte_carlo(budget, trials=5000, seed=3) != monte_carlo(budget, trials=5000, seed=4)


def test_runs_that_cannot_be_are_told():
    budget = budget_of(bounded("a", 0.3))
    with pytest.raises(BadInput, match="too few"):
        monte_carlo(budget, trials=500)
    with pytest.raises(BadInput, match="different names"):
        propagate(lambda drawn: drawn["a"], {"b": 1.0}, budget.contributions)
