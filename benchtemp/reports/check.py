"""What came of checking a probe, as text for a terminal and as plain values."""

from __future__ import annotations

from typing import Any

import msgspec

from benchtemp.probes.bath import BathComparison
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import Check
from benchtemp.probes.correction import Correction
from benchtemp.probes.probe import Probe
from benchtemp.probes.response import TimeConstant
from benchtemp.probes.uncertainty import coverage_factor
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

AT_DEGC = 93.0
"""About where a probe is used: corrections are told for this temperature too."""


def _signed(delta_k: float, unit: TempUnit, decimals: int = 2) -> str:
    return f"{delta_to(delta_k, unit):+.{decimals}f}".replace("-", MINUS)


def _plain(delta_k: float, unit: TempUnit, decimals: int = 2) -> str:
    return f"{delta_to(delta_k, unit):.{decimals}f}"


def _temp(temp_degc: float, unit: TempUnit) -> str:
    return f"{degc_to(temp_degc, unit):.2f}".replace("-", MINUS)


def correction_at(correction: Correction, temp_degc: float = AT_DEGC) -> tuple[float, float | None]:
    """Return a correction at a reported temperature and its expanded uncertainty, both in K."""
    uncertainty_k = correction.uncertainty_at(temp_degc)
    expanded_k = None
    if uncertainty_k is not None:
        factor = coverage_factor() if correction.dof is None else coverage_factor(correction.dof)
        expanded_k = factor * uncertainty_k
    return correction.apply(temp_degc) - temp_degc, expanded_k


def point_lines(point: CheckPoint, unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return one bath of a check as lines."""
    symbol = unit.symbol
    length = (
        f" ({point.end_s - point.start_s:.0f} s, {point.readings} readings, sd {_plain(point.sd_k, unit)})"
        if point.start_s is not None and point.end_s is not None
        else ""
    )
    reference_k = coverage_factor() * point.reference_uncertainty_k
    return [
        f"{point.kind}:",
        f"  settled at  {_temp(point.reported_degc, unit)} {symbol}{length}",
        f"  reference   {_temp(point.reference_degc, unit)} ± {_plain(reference_k, unit)} {symbol}",
        f"  error       {_signed(point.error_k, unit)} ± {_plain(point.expanded_k, unit)} {symbol}",
    ]


def verdict_text(check: Check, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return whether the probe keeps to its limit, in one sentence."""
    verdict = check.verdict
    limit = f"the limit of {_plain(verdict.limit_k, unit)} {unit.symbol}"
    told = f"{'Passed: within' if verdict.passed else 'Failed: outside'} {limit}"
    if verdict.certain:
        return f"{told}."
    return f"{told}, but the uncertainty reaches across it, so it may be the other way round."


def check_lines(name: str, check: Check, unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return what came of a check as lines."""
    symbol = unit.symbol
    lines = [name]
    for point in check.points:
        lines += [f"  {line}" for line in point_lines(point, unit)]
    lines.append(f"  {verdict_text(check, unit)}")
    added_k, expanded_k = correction_at(check.correction)
    sure = "" if expanded_k is None else f" ± {_plain(expanded_k, unit)}"
    at = f"{degc_to(AT_DEGC, unit):.0f} {symbol}"
    lines.append(f"  Correction at {at}: {_signed(added_k, unit)}{sure} {symbol}.")
    if len(check.points) == 1:
        lines.append(
            "  One bath gives an offset; that the error may change with temperature is in the uncertainty."
        )
    else:
        per_k = f"{1000.0 * check.correction.slope_k_per_k:+.2f}".replace("-", MINUS)
        lines.append(f"  {len(check.points)} baths give offset and slope: {per_k} mK per K.")
    return lines


def comparison_lines(comparison: BathComparison, unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return how probes in one bath compare, as the lines of a table."""
    width = max(len("probe"), *(len(probe.name) for probe in comparison.probes))
    symbol = unit.symbol
    head = f"{'probe'.ljust(width)}  {'settled':>9}  {'from mean':>15}"
    against = comparison.reference_degc is not None
    lines = [head + (f"  {'from reference':>15}" if against else "") + f"  {symbol}"]
    for probe in comparison.probes:
        mean = f"{_signed(probe.from_mean_k, unit)} ± {_plain(probe.from_mean_expanded_k, unit)}"
        line = f"{probe.name.ljust(width)}  {_temp(probe.reported_degc, unit):>9}  {mean:>15}"
        if probe.from_reference_k is not None and probe.from_reference_expanded_k is not None:
            known = f"{_signed(probe.from_reference_k, unit)} ± "
            line += f"  {known + _plain(probe.from_reference_expanded_k, unit):>15}"
        lines.append(line)
    lines.append(f"Spread {_plain(comparison.spread_k, unit)} {symbol}. {comparison.remark}")
    return lines


def time_constant_lines(measured: TimeConstant, unit: TempUnit = TempUnit.DEGC) -> list[str]:
    """Return what a plunge told, as lines."""
    expanded_s = coverage_factor() * measured.uncertainty_s
    step = f"{_temp(measured.start_degc, unit)} to {_temp(measured.end_degc, unit)} {unit.symbol}"
    scatter = f"{_plain(measured.scatter_k, unit)} {unit.symbol}"
    lines = [
        f"plunge from {step}",
        f"  63.2 % of the step after  {measured.crossing_s:.2f} s",
        f"  fitted exponential        {measured.tau_s:.2f} ± {max(expanded_s, 0.01):.2f} s",
        f"  readings about it         {scatter} (standard deviation)",
        f"  Recommended time constant: {measured.tau_s:.2f} s (95 % takes {3 * measured.tau_s:.1f} s).",
    ]
    lines.append("  The uncertainty is that of this one plunge; a few more tell how far they differ.")
    if not measured.first_order:
        lines.append(
            "  The trace does not follow one exponential: take this as a rough figure, or plunge it again."
        )
    return lines


def probe_line(probe: Probe, now: str, longest_days: float, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return one probe in one line: its last check, its correction, its drift, its time constant."""
    check = probe.check_at(now)
    parts = [probe.name]
    if check is None:
        parts.append(f"never checked ({probe.tolerance_class})")
    else:
        added_k, expanded_k = correction_at(check.correction)
        days = probe.days_since_check(now) or 0.0
        old = " (old)" if days > longest_days else ""
        sure = "" if expanded_k is None else f" ± {_plain(expanded_k, unit)}"
        parts.append(f"checked {check.checked[:10]}, {days:.0f} days ago{old}")
        parts.append(f"{_signed(added_k, unit)}{sure} {unit.symbol} at {degc_to(AT_DEGC, unit):.0f}")
        parts.append("passed" if check.passed else "failed")
    drift = probe.drift()
    if drift is not None:
        sure = _plain(2.0 * drift.uncertainty_k_per_month, unit)
        parts.append(f"drift {_signed(drift.k_per_month, unit)} ± {sure} {unit.symbol} a month")
    if probe.time_constant is not None:
        parts.append(f"time constant {probe.time_constant.tau_s:.2f} s")
    return "; ".join(parts)


def check_json(name: str, channel: str, check: Check, remarks: tuple[str, ...] = ()) -> dict[str, Any]:
    """Return what came of a check as plain values."""
    verdict = check.verdict
    added_k, expanded_k = correction_at(check.correction)
    return {
        "probe": name,
        "channel": channel,
        "checked": check.checked,
        "operator": check.operator,
        "method": str(check.method),
        "conditions": dict(check.conditions),
        "points": [
            {
                "bath": str(point.kind),
                "reported_degc": point.reported_degc,
                "reported_uncertainty_k": point.reported_uncertainty_k,
                "reference_degc": point.reference_degc,
                "reference_uncertainty_k": point.reference_uncertainty_k,
                "error_k": point.error_k,
                "expanded_uncertainty_k": point.expanded_k,
                "readings": point.readings,
                "sd_k": point.sd_k,
                "start_s": point.start_s,
                "end_s": point.end_s,
            }
            for point in check.points
        ],
        "error_k": verdict.error_k,
        "expanded_uncertainty_k": verdict.expanded_k,
        "limit_k": verdict.limit_k,
        "passed": verdict.passed,
        "certain": verdict.certain,
        "correction": msgspec.to_builtins(check.correction),
        "correction_at_93_degc_k": added_k,
        "correction_expanded_uncertainty_k": expanded_k,
        "remarks": list(remarks),
    }


def comparison_json(comparison: BathComparison) -> dict[str, Any]:
    """Return how probes in one bath compare as plain values."""
    plain = msgspec.to_builtins(comparison)
    assert isinstance(plain, dict)
    return plain
