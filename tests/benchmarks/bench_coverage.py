"""How often the stated uncertainty (k = 2) of a brew temperature covers the truth, by how alike neighbouring
readings' noise is.

    python tests/benchmarks/bench_coverage.py [--shots 2048] [--seed 1]

The shots are those of `traces`; their noise is drawn anew as a first-order autoregressive series of the same
standard deviation. An interface that averages, or a converter with a slow filter, makes such noise.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from traces import NOISES_K, QUANTA_K, RATES_HZ, TraceCase, shot_case

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.result import PullKind

ALIKE = (0.0, 0.3, 0.5, 0.7)


def noisy(case: TraceCase, seed: int, alike: float) -> np.ndarray:
    """Return the readings of a case with fresh noise whose neighbours correlate by `alike`."""
    rng = np.random.default_rng([seed, 11])
    fresh = rng.standard_normal(len(case.t_s))
    noise = fresh.copy()
    for i in range(1, len(noise)):
        noise[i] = alike * noise[i - 1] + (1.0 - alike**2) ** 0.5 * fresh[i]
    temp = np.interp(case.t_s, case.fine_t_s, case.fine_degc) + case.noise_k * noise
    temp = np.round(temp / case.quantum_k) * case.quantum_k
    temp[np.isnan(case.temp_degc)] = np.nan
    return temp


def errors(case: TraceCase, temp_degc: np.ndarray, *, marked: bool) -> tuple[float, float]:
    """Return error and standard uncertainty of the brew temperature in K; NaN where the shot was missed."""
    pull = case.pulls[0]
    marks = (
        (Mark(pull.pump_on_s, MarkKind.PUMP_ON), Mark(pull.pump_off_s, MarkKind.PUMP_OFF)) if marked else ()
    )
    for found in find_pulls(case.t_s, temp_degc, marks).pulls:
        near = abs(found.pump_on_s - pull.pump_on_s) < 8.0
        if near and found.kind is PullKind.SHOT and found.brew_temp_degc is not None:
            return found.brew_temp_degc - pull.mean_degc, found.brew_temp_uncertainty_k or 0.0
    return float("nan"), float("nan")


def share(error_k: np.ndarray, uncertainty_k: np.ndarray) -> str:
    """Return the share of errors within two standard uncertainties, in per cent."""
    known = np.isfinite(error_k)
    return (
        f"{100.0 * np.mean(np.abs(error_k[known]) <= 2.0 * uncertainty_k[known]):.1f}" if known.any() else "-"
    )


def main() -> None:
    """Run what the options ask for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--shots", type=int, default=2048)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    seeds = [options.seed * 1_000_000 + number for number in range(options.shots)]
    cases = [shot_case(seed) for seed in seeds]
    print(f"{'':28}" + "".join(f"{f'alike {alike:g}':>20}" for alike in ALIKE))
    for marked in (False, True):
        rows: dict[str, list[str]] = {}
        for alike in ALIKE:
            began = time.perf_counter()
            found = np.array(
                [errors(c, noisy(c, s, alike), marked=marked) for c, s in zip(cases, seeds, strict=True)]
            )
            took_s = time.perf_counter() - began
            error_k, uncertainty_k = found.T
            rows.setdefault("covered, %", []).append(share(error_k, uncertainty_k))
            rows.setdefault("median 2u, K", []).append(f"{2.0 * np.nanmedian(uncertainty_k):.4f}")
            rows.setdefault("95 % error, K", []).append(f"{np.nanquantile(np.abs(error_k), 0.95):.4f}")
            rows.setdefault("ms a shot", []).append(f"{1e3 * took_s / len(cases):.2f}")
            for name, values in (("rate_hz", RATES_HZ), ("noise_k", NOISES_K), ("quantum_k", QUANTA_K)):
                for value in values:
                    part = np.array([getattr(c, name) == value for c in cases])
                    rows.setdefault(f"  covered, {name} {value:g}", []).append(
                        share(error_k[part], uncertainty_k[part])
                    )
        print("pump marked" if marked else "without marks")
        for name, cells in rows.items():
            print(f"  {name:26}" + "".join(f"{cell:>20}" for cell in cells))


if __name__ == "__main__":
    main()
