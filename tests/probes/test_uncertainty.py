import json
from math import inf, nan, sqrt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.probes.uncertainty import (
    Budget,
    Contribution,
    Correlation,
    Distribution,
    Kind,
    bounded,
    combined_uncertainty,
    coverage_factor,
    effective_dof,
    rounded_uncertainty,
    with_uncertainty_text,
)

shares = st.lists(st.floats(0.0, 100.0), min_size=1, max_size=8)


def budget_of(*lines, correlations=()):
    return Budget(quantity="test", value=93.0, contributions=lines, correlations=correlations)


@given(shares)
def test_together_is_at_least_the_largest_and_at_most_the_sum(parts):
    together = combined_uncertainty(parts)
    assert max(parts) - 1e-9 <= together <= sum(parts) + 1e-9


@given(st.lists(st.tuples(st.floats(0.001, 10.0), st.floats(1.0, 100.0)), min_size=1, max_size=6))
def test_effective_degrees_lie_between_the_fewest_and_the_sum(parts):
    us, dofs = [u for u, _ in parts], [dof for _, dof in parts]
    dof = effective_dof(combined_uncertainty(us), us, dofs)
    assert min(dofs) - 1e-6 <= dof <= sum(dofs) * (1.0 + 1e-9)


def test_full_correlation_adds_and_cancels():
    assert combined_uncertainty([0.3, 0.4], [(0, 1, 1.0)]) == pytest.approx(0.7)
    assert combined_uncertainty([0.3, 0.4], [(0, 1, -1.0)]) == pytest.approx(0.1)
    assert combined_uncertainty([0.3, 0.4], [(0, 1, 1.0)], [1.0, -1.0]) == pytest.approx(0.1)
    assert combined_uncertainty([0.3, 0.4]) == pytest.approx(0.5)


def test_correlations_that_cannot_be_are_told():
    with pytest.raises(BadInput, match="from −1 to 1"):
        combined_uncertainty([1.0, 1.0], [(0, 1, 1.5)])
    with pytest.raises(BadInput, match="contradict"):
        combined_uncertainty([1.0, 1.0, 1.0], [(0, 1, -1.0), (1, 2, -1.0), (0, 2, -1.0)])


def test_coverage_tends_to_two():
    assert coverage_factor() == pytest.approx(2.0, abs=1e-12)
    assert coverage_factor(inf, 0.95) == pytest.approx(1.96, abs=5e-4)
    factors = [coverage_factor(dof) for dof in (1, 2, 5, 20, 1000, 1e5, 1e7)]
    assert factors == sorted(factors, reverse=True)
    assert coverage_factor(0.3) == coverage_factor(1)
    for level in (0.0, 1.0, -1.0, nan):
        with pytest.raises(BadInput):
            coverage_factor(9, level)


def test_budget_sums_up_its_lines():
    budget = budget_of(
        Contribution(name="noise", uncertainty=0.03, dof=10.0, kind=Kind.A),
        bounded("junction", 0.2, sensitivity=0.98),
        bounded("place", 0.5, distribution=Distribution.TRIANGULAR),
    )
    assert budget.uncertainty_k == pytest.approx(sqrt(0.03**2 + (0.98 * 0.2) ** 2 / 3.0 + 0.25 / 6.0))
    assert budget.dof == pytest.approx(budget.uncertainty_k**4 / (0.03**4 / 10.0))
    assert budget.expanded_k() == pytest.approx(budget.coverage_factor() * budget.uncertainty_k)
    assert [line.name for line, _ in budget.ranked()] == ["place", "junction", "noise"]
    assert sum(part for _, part in budget.ranked()) == pytest.approx(1.0)
    assert budget.without("place").uncertainty_k < budget.uncertainty_k
    assert budget.without("place", "noise").uncertainty_k == pytest.approx(0.98 * 0.2 / sqrt(3.0))


def test_sign_of_a_sensitivity_counts_with_a_correlation():
    pair = (Correlation(first="a", second="b", coefficient=1.0),)
    a, b = Contribution(name="a", uncertainty=0.3), Contribution(name="b", uncertainty=0.4)
    minus = Contribution(name="b", uncertainty=0.4, sensitivity=-1.0)
    assert budget_of(a, b, correlations=pair).uncertainty_k == pytest.approx(0.7)
    assert budget_of(a, minus, correlations=pair).uncertainty_k == pytest.approx(0.1)
    assert budget_of(a, b, correlations=pair).without("a").correlations == ()


def test_nothing_wrong_is_no_uncertainty():
    budget = budget_of(Contribution(name="none", uncertainty=0.0))
    assert budget.uncertainty_k == 0.0
    assert budget.dof == inf
    assert budget.expanded_k() == 0.0
    assert budget.ranked()[0][1] == 0.0


@pytest.mark.parametrize(
    "make",
    [
        lambda: Contribution(name="a", uncertainty=-0.1),
        lambda: Contribution(name="a", uncertainty=nan),
        lambda: Contribution(name="a", uncertainty=0.1, sensitivity=inf),
        lambda: Contribution(name="a", uncertainty=0.1, dof=0.0),
        lambda: bounded("a", 0.1, distribution=Distribution.NORMAL),
        lambda: budget_of(Contribution(name="a", uncertainty=0.1), Contribution(name="a", uncertainty=0.2)),
        lambda: budget_of(
            Contribution(name="a", uncertainty=0.1),
            correlations=(Correlation(first="a", second="b", coefficient=0.1),),
        ),
    ],
)
def test_budgets_that_cannot_be_are_told(make):
    with pytest.raises(BadInput):
        make()


def test_budget_there_and_back_through_json():
    budget = budget_of(
        Contribution(name="a", uncertainty=0.1, dof=3.0, kind=Kind.A, note="n"),
        bounded("b", 0.2, shared_as="probe a", estimate=True),
        correlations=(Correlation(first="a", second="b", coefficient=0.2),),
    )
    assert msgspec.convert(json.loads(json.dumps(msgspec.to_builtins(budget))), Budget) == budget


@given(st.floats(1e-6, 1e6), st.integers(1, 3))
def test_rounding_never_hides_much(u, digits):
    shown, decimals = rounded_uncertainty(u, digits)
    assert shown >= 0.979 * u
    assert shown == pytest.approx(u, rel=1.01 * 10.0 ** (1 - digits))
    assert shown == pytest.approx(round(shown, max(decimals, 0)), rel=1e-9) or decimals < 0


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (93.2114, 0.349, "93.21 ± 0.35 °C"),
        (-0.019, 0.0309, "−0.019 ± 0.031 °C"),
        (93.2, 12.0, "93 ± 12 °C"),
        (93.2, 0.0996, "93.20 ± 0.10 °C"),
    ],
)
def test_results_for_reading(value, u, text):
    assert with_uncertainty_text(value, u) == text
