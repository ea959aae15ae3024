"""Uncertainty budgets: what may be wrong, by how much, and what comes of it.

Source: JCGM 100:2008 (Guide to the expression of uncertainty in measurement): propagation Eqs. (10) and (16),
effective degrees of freedom Eq. (G.2b), coverage factor Annex G, rounding 7.2.6.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from math import ceil, floor, inf, isfinite, log10, sqrt
from statistics import NormalDist

import msgspec

from benchtemp.errors import BadInput
from benchtemp.units import MINUS

TWO_SIGMA_LEVEL = 0.9544997361036416
"""Share of a normal distribution within two standard deviations; with it the coverage factor tends to 2."""


class Distribution(StrEnum):
    """How an input may be spread; decides the divisor of its bounds and what a Monte Carlo run draws."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    ARCSINE = "arcsine"
    """U-shaped, as from a temperature that swings to and fro."""

    @property
    def divisor(self) -> float:
        """Return what a half width is divided by to give the standard uncertainty (1 for a normal one)."""
        return {"normal": 1.0, "rectangular": sqrt(3.0), "triangular": sqrt(6.0), "arcsine": sqrt(2.0)}[
            self.value
        ]


class Kind(StrEnum):
    """How an uncertainty was found (JCGM 100, 4.2 and 4.3)."""

    A = "A"
    """From repeated readings."""
    B = "B"
    """From anything else: a certificate, a tolerance, experience."""


class Contribution(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One line of a budget.

    Attributes:
        name: What may be wrong.
        uncertainty: Standard uncertainty of the input (k = 1), in `unit`.
        unit: Unit of the input.
        sensitivity: Change of the result per change of the input, K per `unit`.
        distribution: How the input is spread.
        dof: Degrees of freedom; None for as good as known exactly.
        kind: Type A or B.
        shared_as: Lines of two budgets with the same name and the same text here are wrong by one and the
            same error, which cancels in a difference; empty for a line that is wrong anew each time.
        estimate: Rests on judgement, not on a measurement or a published figure.
        note: Where the figure comes from.
    """

    name: str
    uncertainty: float
    unit: str = "K"
    sensitivity: float = 1.0
    distribution: Distribution = Distribution.NORMAL
    dof: float | None = None
    kind: Kind = Kind.B
    shared_as: str = ""
    estimate: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        if not (isfinite(self.uncertainty) and self.uncertainty >= 0.0):
            raise BadInput(
                f"The uncertainty of '{self.name}' is {self.uncertainty}; give a number of 0 or more."
            )
        if not isfinite(self.sensitivity):
            raise BadInput(f"The sensitivity of '{self.name}' is {self.sensitivity}; give a number.")
        if self.dof is not None and not self.dof > 0.0:
            raise BadInput(
                f"'{self.name}' has {self.dof:g} degrees of freedom; give more than 0, or none for exactly "
                "known."
            )

    @property
    def share_k(self) -> float:
        """Return what this input alone would make of the result's standard uncertainty, K."""
        return abs(self.sensitivity) * self.uncertainty


def bounded(
    name: str,
    half_width: float,
    *,
    distribution: Distribution = Distribution.RECTANGULAR,
    unit: str = "K",
    sensitivity: float = 1.0,
    shared_as: str = "",
    estimate: bool = False,
    note: str = "",
) -> Contribution:
    """Return a type B contribution from bounds: the input lies within `half_width` of its value.

    Source: JCGM 100:2008, 4.3.7 (rectangular, divisor √3) and 4.3.9 (triangular, √6).
    """
    if distribution is Distribution.NORMAL:
        raise BadInput(
            f"A normal distribution has no bounds; give the standard uncertainty of '{name}' itself."
        )
    return Contribution(
        name=name,
        uncertainty=half_width / distribution.divisor,
        unit=unit,
        sensitivity=sensitivity,
        distribution=distribution,
        shared_as=shared_as,
        estimate=estimate,
        note=note,
    )


def resolution(
    name: str, step: float, *, unit: str = "K", shared_as: str = "", note: str = ""
) -> Contribution:
    """Return the contribution of reading in steps: a rectangle one step wide (JCGM 100, F.2.2.1)."""
    return bounded(name, step / 2.0, unit=unit, shared_as=shared_as, note=note)


def combined_uncertainty(
    shares: Sequence[float],
    correlations: Sequence[tuple[int, int, float]] = (),
    signs: Sequence[float] | None = None,
) -> float:
    """Return the standard uncertainty of a result from what its inputs contribute.

    Args:
        shares: |sensitivity| times standard uncertainty of each input, in the result's unit.
        correlations: (index, index, correlation coefficient) of correlated pairs.
        signs: Sign of each sensitivity; needed only with correlations, else taken as positive.

    Raises:
        BadInput: A correlation is outside -1 to 1, or together they cannot be.
    Source: JCGM 100:2008, Eq. (16); Eq. (10) without correlations.
    """
    variance = sum(share * share for share in shares)
    for first, second, coefficient in correlations:
        if not -1.0 <= coefficient <= 1.0:
            raise BadInput(f"A correlation of {coefficient:g} cannot be; give one from −1 to 1.")
        sign = 1.0 if signs is None else signs[first] * signs[second]
        variance += 2.0 * sign * coefficient * shares[first] * shares[second]
    if variance < -1e-12 * sum(share * share for share in shares):
        raise BadInput("The correlations contradict each other; check their signs.")
    return sqrt(max(variance, 0.0))


def effective_dof(combined: float, shares: Sequence[float], dofs: Sequence[float | None]) -> float:
    """Return the effective degrees of freedom of a combined uncertainty.

    Infinite where those of all inputs are (None stands for that).

    Source: Welch-Satterthwaite formula, JCGM 100:2008, Eq. (G.2b).
    """
    total = sum(
        share**4 / dof for share, dof in zip(shares, dofs, strict=True) if dof is not None and isfinite(dof)
    )
    return combined**4 / total if total > 0.0 else inf


def estimate_dof(relative_uncertainty: float) -> float:
    """Return the degrees of freedom of an estimate that may itself be off by a share (0.25 gives 8).

    Source: JCGM 100:2008, Eq. (G.3).
    """
    return 0.5 / relative_uncertainty**2


def coverage_factor(dof: float = inf, level: float = TWO_SIGMA_LEVEL) -> float:
    """Return the factor that turns a standard into an expanded uncertainty.

    Args:
        dof: Effective degrees of freedom; cut to the next lower whole number, at least 1 (JCGM 100, G.4.1).
        level: Share of the distribution to cover, 0 to 1 (exclusive).
    Source: Student's t distribution, JCGM 100:2008, Table G.2.

    >>> round(coverage_factor(9, 0.95), 2), round(coverage_factor(), 2)
    (2.26, 2.0)
    """
    if not 0.0 < level < 1.0:
        raise BadInput(f"A coverage of {level:g} cannot be; give a share between 0 and 1, such as 0.95.")
    upper = (1.0 + level) / 2.0
    if dof > 1e6:
        return NormalDist().inv_cdf(upper)
    from scipy.special import stdtrit  # noqa: PLC0415  late: keeps scipy out of the start-up time

    return float(stdtrit(max(1.0, floor(dof + 1e-9)), upper))


class Correlation(msgspec.Struct, frozen=True, kw_only=True):
    """Two lines of a budget that go together, by their names, with the correlation coefficient."""

    first: str
    second: str
    coefficient: float


class Budget(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A result with everything that may be wrong with it.

    Attributes:
        quantity: What the result is.
        value: The result.
        contributions: The lines; their names differ from each other.
        correlations: Pairs of lines that go together.
        unit: Unit of the result.
    """

    quantity: str
    value: float
    contributions: tuple[Contribution, ...]
    correlations: tuple[Correlation, ...] = ()
    unit: str = "°C"

    def __post_init__(self) -> None:
        names = [line.name for line in self.contributions]
        if len(set(names)) != len(names):
            raise BadInput(
                f"The budget of {self.quantity} names a contribution twice; give each its own name."
            )
        for pair in self.correlations:
            if pair.first not in names or pair.second not in names or pair.first == pair.second:
                raise BadInput(
                    f"The budget of {self.quantity} correlates lines it does not hold; name two of its lines."
                )

    @property
    def uncertainty_k(self) -> float:
        """Return the combined standard uncertainty (k = 1), K."""
        index = {line.name: at for at, line in enumerate(self.contributions)}
        return combined_uncertainty(
            [line.share_k for line in self.contributions],
            [(index[pair.first], index[pair.second], pair.coefficient) for pair in self.correlations],
            [1.0 if line.sensitivity >= 0.0 else -1.0 for line in self.contributions],
        )

    @property
    def dof(self) -> float:
        """Return the effective degrees of freedom, infinite where no line limits them."""
        return effective_dof(
            self.uncertainty_k,
            [line.share_k for line in self.contributions],
            [line.dof for line in self.contributions],
        )

    def coverage_factor(self, level: float = TWO_SIGMA_LEVEL) -> float:
        """Return the coverage factor for a level of confidence."""
        return coverage_factor(self.dof, level)

    def expanded_k(self, level: float = TWO_SIGMA_LEVEL) -> float:
        """Return the expanded uncertainty in K."""
        return self.coverage_factor(level) * self.uncertainty_k

    def ranked(self) -> tuple[tuple[Contribution, float], ...]:
        """Return the lines, largest first, each with its share of the sum of squares (0 to 1)."""
        total = sum(line.share_k**2 for line in self.contributions)
        lines = sorted(self.contributions, key=lambda line: -line.share_k)
        return tuple((line, line.share_k**2 / total if total else 0.0) for line in lines)

    def without(self, *names: str) -> Budget:
        """Return the budget as it would be if these lines were nothing: what would make the result better?"""
        kept = tuple(line for line in self.contributions if line.name not in names)
        pairs = tuple(
            pair for pair in self.correlations if pair.first not in names and pair.second not in names
        )
        return msgspec.structs.replace(self, contributions=kept, correlations=pairs)


def rounded_uncertainty(uncertainty: float, digits: int = 2) -> tuple[float, int]:
    """Return an uncertainty cut to a few significant digits, and the number of decimals that leaves.

    To the nearest, unless that would tell more than 2 % less than there is; then upwards (10.47 becomes 11,
    28.05 becomes 28).

    Source: JCGM 100:2008, 7.2.6 (the 2 % are ours).
    """
    if not (isfinite(uncertainty) and uncertainty > 0.0):
        return uncertainty, 0
    decimals = digits - 1 - floor(log10(uncertainty))
    scaled = uncertainty * 10.0**decimals
    nearest = round(scaled)
    whole = ceil(scaled) if nearest < 0.98 * scaled else nearest
    if whole >= 10**digits:
        whole, decimals = whole // 10, decimals - 1
    return whole / 10.0**decimals, decimals


def with_uncertainty_text(value: float, uncertainty: float, unit: str = "°C", digits: int = 2) -> str:
    """Return a result as people write it, such as `93.21 ± 0.35 °C`, rounded where its uncertainty ends.

    Args:
        value: The result.
        uncertainty: Its (expanded) uncertainty, in the same unit.
        unit: What stands behind.
        digits: Significant digits of the uncertainty.
    """
    shown, decimals = rounded_uncertainty(uncertainty, digits)
    places = min(max(decimals, 0), 6)
    return f"{value:.{places}f} ± {shown:.{places}f} {unit}".replace("-", MINUS)
