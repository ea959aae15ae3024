"""A budget checked by drawing lots: the distributions themselves instead of their widths.

Source: JCGM 101:2008 (Supplement 1 to the Guide, propagation of distributions by a Monte Carlo method).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import floor, isfinite, log10
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from benchtemp.errors import BadInput
from benchtemp.probes.uncertainty import TWO_SIGMA_LEVEL, Budget, Contribution, Distribution, Kind

FloatArray = npt.NDArray[np.float64]


class MonteCarlo(NamedTuple):
    """What came of a run.

    Attributes:
        mean: Mean of the drawn results.
        uncertainty: Their standard deviation.
        low, high: The interval that leaves equal shares out on both sides.
        level: Share of the draws inside it.
        trials: How many draws.
    """

    mean: float
    uncertainty: float
    low: float
    high: float
    level: float
    trials: int


class Agreement(NamedTuple):
    """Whether the propagated interval and the drawn one say the same (JCGM 101, clause 8).

    Attributes:
        agrees: Both ends differ by no more than the tolerance.
        low_difference, high_difference: How far the ends are apart.
        tolerance: Half of the last significant digit of the standard uncertainty.
    """

    agrees: bool
    low_difference: float
    high_difference: float
    tolerance: float


def draws(contribution: Contribution, trials: int, generator: np.random.Generator) -> FloatArray:
    """Return deviations of an input from its value, shape (trials,), in the input's unit.

    A type A input with few degrees of freedom follows a t distribution (JCGM 101, 6.4.9); bounds follow
    theirs.
    """
    u = contribution.uncertainty
    if contribution.kind is Kind.A and contribution.dof is not None and isfinite(contribution.dof):
        return u * generator.standard_t(contribution.dof, trials)
    half_width = u * contribution.distribution.divisor
    match contribution.distribution:
        case Distribution.NORMAL:
            return generator.normal(0.0, u, trials)
        case Distribution.RECTANGULAR:
            return generator.uniform(-half_width, half_width, trials)
        case Distribution.TRIANGULAR:
            return half_width * (generator.random(trials) - generator.random(trials))
        case Distribution.ARCSINE:
            return half_width * np.sin(2.0 * np.pi * generator.random(trials))


def propagate(
    model: Callable[[Mapping[str, FloatArray]], FloatArray],
    estimates: Mapping[str, float],
    contributions: Sequence[Contribution],
    *,
    trials: int = 200_000,
    seed: int = 1,
    level: float = TWO_SIGMA_LEVEL,
) -> MonteCarlo:
    """Draw the inputs of a model and sum up its results.

    Args:
        model: Takes the drawn inputs by name, arrays of shape (trials,), and returns results of that shape.
        estimates: Value of each input.
        contributions: How each input is spread, matched by name; sensitivities are not used, the model has
            them.
        trials: Number of draws.
        seed: The same seed gives the same draws.
        level: Share of the draws the interval covers.

    Raises:
        BadInput: Names do not match, or there are too few draws for the level.
    """
    if {line.name for line in contributions} != set(estimates):
        raise BadInput(
            "The inputs of a Monte Carlo run and their spreads bear different names; name them alike."
        )
    if trials * (1.0 - level) < 100:
        raise BadInput(
            f"{trials} draws are too few to cover {level:.4g}; take at least {100 / (1.0 - level):.0f}."
        )
    generator = np.random.default_rng(seed)
    drawn = {line.name: estimates[line.name] + draws(line, trials, generator) for line in contributions}
    results = np.asarray(model(drawn), dtype=np.float64)
    low, high = np.quantile(results, [(1.0 - level) / 2.0, (1.0 + level) / 2.0])
    return MonteCarlo(
        float(results.mean()), float(results.std(ddof=1)), float(low), float(high), level, trials
    )


def monte_carlo(
    budget: Budget, *, trials: int = 200_000, seed: int = 1, level: float = TWO_SIGMA_LEVEL
) -> MonteCarlo:
    """Draw the lines of a budget and sum up its result, with the budget's own sensitivities.

    Raises:
        BadInput: The budget correlates lines that are not normal, or there are too few draws.
    """
    if budget.correlations:
        return _correlated(budget, trials, seed, level)
    sensitivities = {line.name: line.sensitivity for line in budget.contributions}

    def model(inputs: Mapping[str, FloatArray]) -> FloatArray:
        result = np.full(trials, budget.value)
        for name, drawn in inputs.items():
            result += sensitivities[name] * drawn
        return result

    zeros = dict.fromkeys(sensitivities, 0.0)
    return propagate(model, zeros, budget.contributions, trials=trials, seed=seed, level=level)


def _correlated(budget: Budget, trials: int, seed: int, level: float) -> MonteCarlo:
    """Draw correlated normal lines together and the others one by one."""
    names = [line.name for line in budget.contributions]
    tied = sorted(
        {name for pair in budget.correlations for name in (pair.first, pair.second)}, key=names.index
    )
    by_name = {line.name: line for line in budget.contributions}
    if any(by_name[name].distribution is not Distribution.NORMAL for name in tied):
        raise BadInput(
            "Only normally distributed lines of a budget can be drawn together; drop the correlation."
        )
    matrix = np.eye(len(tied))
    for pair in budget.correlations:
        first, second = tied.index(pair.first), tied.index(pair.second)
        matrix[first, second] = matrix[second, first] = pair.coefficient
    generator = np.random.default_rng(seed)
    together = generator.multivariate_normal(np.zeros(len(tied)), matrix, trials, method="eigh")
    results = np.full(trials, budget.value)
    for line in budget.contributions:
        drawn = (
            together[:, tied.index(line.name)] * line.uncertainty
            if line.name in tied
            else draws(line, trials, generator)
        )
        results += line.sensitivity * drawn
    low, high = np.quantile(results, [(1.0 - level) / 2.0, (1.0 + level) / 2.0])
    return MonteCarlo(
        float(results.mean()), float(results.std(ddof=1)), float(low), float(high), level, trials
    )


def agreement(budget: Budget, run: MonteCarlo, digits: int = 2) -> Agreement:
    """Hold a budget's interval against a Monte Carlo run at the same level.

    Args:
        budget: The propagated result.
        run: The drawn one.
        digits: Significant digits of the standard uncertainty that are to be trusted; decides the tolerance.
    Source: JCGM 101:2008, 7.9.2 and 8.1.3.
    """
    u = budget.uncertainty_k
    tolerance = 0.5 * 10.0 ** (floor(log10(u)) - (digits - 1)) if u > 0.0 else 0.0
    expanded = budget.expanded_k(run.level)
    low = abs(budget.value - expanded - run.low)
    high = abs(budget.value + expanded - run.high)
    return Agreement(low <= tolerance and high <= tolerance, low, high, tolerance)
