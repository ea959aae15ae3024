"""What the page says about probes, checks and baths: words with a sign, never colour alone. No widgets."""

from __future__ import annotations

from datetime import datetime
from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

from benchtemp.probes.probe import judged_at
from benchtemp.probes.settle import BathState, BathStatus
from benchtemp.probes.uncertainty import coverage_factor, rounded_uncertainty
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

if TYPE_CHECKING:
    from collections.abc import Iterable

    from benchtemp.probes.calibration import Verdict
    from benchtemp.probes.correction import Correction
    from benchtemp.probes.probe import Drift, Probe
    from benchtemp.probes.response import TimeConstant

BREW_DEGC = 93.0
"""Where corrections and histories are shown: about the middle of brew temperatures."""


class Said(NamedTuple):
    """A text and the look it has: `good`, `bad`, `caution` or `quiet`."""

    text: str
    look: str


def now_text() -> str:
    """Return this moment as checks are dated: ISO 8601 with UTC offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def looked_at(probes: Iterable[Probe]) -> str:
    """Return the moment at which these probes are judged: now, or a newest check ahead of this clock."""
    return judged_at(probes, now_text())


def signed(delta_k: float, unit: TempUnit, decimals: int = 2) -> str:
    """Return a difference with its sign, such as `+0.31 °C`."""
    value = round(delta_to(delta_k, unit), decimals)
    sign = MINUS if value < 0 else "+" if value > 0 else ""
    return f"{sign}{abs(value):.{decimals}f} {unit.symbol}"


def plus_minus(delta_k: float | None, unit: TempUnit) -> str:
    """Return an uncertainty to two digits or decimals, such as `± 0.35 °C`; `± ?` where it is not known."""
    if delta_k is None or not isfinite(delta_k):
        return f"± ? {unit.symbol}"
    delta = delta_to(delta_k, unit)
    shown, decimals = rounded_uncertainty(delta)
    # From 1 on, two decimals as everywhere else: a digit rounded away must not come back as a nought.
    return f"± {shown if decimals >= 2 else delta:.{min(max(decimals, 2), 4)}f} {unit.symbol}"


def temp_with(temp_degc: float, expanded_k: float, unit: TempUnit) -> str:
    """Return a temperature with its expanded uncertainty, both in the unit shown."""
    _, decimals = rounded_uncertainty(delta_to(expanded_k, unit))
    places = min(max(decimals, 2), 4)
    value = f"{degc_to(temp_degc, unit):.{places}f}".replace("-", MINUS)
    return f"{value} {plus_minus(expanded_k, unit)}"


def error_with(error_k: float, expanded_k: float | None, unit: TempUnit) -> str:
    """Return an error or a correction with its sign and expanded uncertainty, both to the same digit."""
    decimals = 2
    if expanded_k is not None and isfinite(expanded_k):
        decimals = min(max(rounded_uncertainty(delta_to(expanded_k, unit))[1], 2), 4)
    return f"{signed(error_k, unit, decimals).rsplit(' ', 1)[0]} {plus_minus(expanded_k, unit)}"


def correction_expanded_k(correction: Correction, reported_degc: float = BREW_DEGC) -> float | None:
    """Return the expanded uncertainty of a correction at a temperature, K; None if unknown."""
    u = correction.uncertainty_at(reported_degc)
    if u is None:
        return None
    return coverage_factor() * u if correction.dof is None else coverage_factor(correction.dof) * u


def correction_text(correction: Correction, unit: TempUnit, reported_degc: float = BREW_DEGC) -> str:
    """Return what is added at a temperature, with its uncertainty."""
    added_k = correction.apply(reported_degc) - reported_degc
    return error_with(added_k, correction_expanded_k(correction, reported_degc), unit)


def age_text(probe: Probe, now: str) -> str:
    """Return when a probe was last checked, counted in days."""
    days = probe.days_since_check(now)
    if days is None:
        return "dated in the future" if probe.checks else "never checked"
    whole = int(days)
    if whole < 1:
        return "checked within a day"
    return "checked 1 day ago" if whole == 1 else f"checked {whole} days ago"


def standing(probe: Probe, now: str, check_days: float) -> Said:
    """Return whether a probe's check can be relied on, in one sentence with a sign."""
    warning = probe.check_warning(now, check_days)
    if warning is None:
        return Said(f"✓ {age_text(probe, now)}, within {check_days:g} days", "good")
    return Said(f"! {warning}", "caution")


def list_detail(probe: Probe, now: str, check_days: float, unit: TempUnit) -> str:
    """Return the second line of a probe in the list."""
    days = probe.days_since_check(now)
    if days is None:
        return f"! {age_text(probe, now)}, {probe.tolerance_class}"
    age = "today" if days < 1 else f"{days:.0f} days ago" if days <= check_days else f"{days:.0f} days, old"
    sign = "✓" if probe.check_warning(now, check_days) is None else "!"
    return f"{sign} {age}: {correction_text(probe.correction(), unit)}"


def drift_text(drift: Drift | None, unit: TempUnit) -> str:
    """Return how a probe drifts, in a sentence."""
    if drift is None:
        return "Drift: needs two checks on different days."
    # A correction that grows means readings that fall: the error drifts the other way.
    error = error_with(-drift.k_per_month, 2.0 * drift.uncertainty_k_per_month, unit)
    judged = "stands out of its uncertainty" if drift.significant else "cannot be told from none"
    return f"Drift of the error: {error} a month (k = 2) over {drift.days:.0f} days; it {judged}."


def verdict_text(verdict: Verdict, unit: TempUnit) -> Said:
    """Return pass or fail against the limit, in words with a sign."""
    limit = f"limit ± {delta_to(verdict.limit_k, unit):.2f} {unit.symbol}"
    error = error_with(verdict.error_k, verdict.expanded_k, unit)
    sure = "" if verdict.certain else "; its uncertainty reaches across the limit, so this is not certain"
    if verdict.passed:
        return Said(f"✓ passes: error {error}, {limit}{sure}", "good" if verdict.certain else "caution")
    return Said(f"✕ fails: error {error}, {limit}{sure}", "bad")


_STATES = {
    BathState.FILLING: "… too few readings",
    BathState.OPEN: "✕ open: no temperature",
    BathState.RESTLESS: "~ restless, jumps about",
    BathState.STEADY: "≈ steady, give it time",
    BathState.SETTLED: "✓ settled",
}


def state_text(status: BathStatus, unit: TempUnit) -> Said:
    """Return how a bath is doing, in words with a sign."""
    state = status.state
    if state in {BathState.CLIMBING, BathState.FALLING}:
        rate = f"{abs(delta_to(status.rate_k_per_min, unit)):.1f} {unit.symbol}/min"
        return Said(f"▲ climbing {rate}" if state is BathState.CLIMBING else f"▼ falling {rate}", "quiet")
    looks = {BathState.OPEN: "bad", BathState.RESTLESS: "caution", BathState.SETTLED: "good"}
    return Said(_STATES[state], looks.get(state, "quiet"))


def lag_text(lag: TimeConstant) -> str:
    """Return a time constant with its expanded uncertainty (k = 2)."""
    shown, decimals = rounded_uncertainty(2.0 * lag.uncertainty_s, 1)
    places = min(max(decimals, 1), 2)
    return f"{lag.tau_s:.{places}f} ± {shown:.{places}f} s"


def date_text(checked: str) -> str:
    """Return the date and time of a check for reading."""
    return checked[:16].replace("T", " ")
