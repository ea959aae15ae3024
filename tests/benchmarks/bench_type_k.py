"""How quickly emf becomes temperature, a million values at once and one at a time, beside a reference.

The reference package (thermocouple-its90 on PyPI) takes one value at a time; it is timed on fewer and scaled.
Run: python tests/benchmarks/bench_type_k.py
"""

import time
from collections.abc import Callable

import numpy as np
import thermocouple_its90

from benchtemp.probes import type_k

VALUES = 1_000_000
REFERENCE_VALUES = 20_000


def best_s(work: Callable[[], object], rounds: int = 5) -> float:
    """Return the shortest of several runs in s."""
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def main() -> None:
    rng = np.random.default_rng(1)
    emf = rng.uniform(type_k.LOWEST_MV, type_k.HIGHEST_MV, VALUES)
    some = emf[:REFERENCE_VALUES].tolist()
    reference = thermocouple_its90.TypeK

    ours_s = best_s(lambda: type_k.temp_degc(emf))
    theirs_s = best_s(lambda: [reference.temperature(value) for value in some], 3) * VALUES / REFERENCE_VALUES
    print(
        f"{VALUES} emf values to °C: {ours_s:.3f} s; reference package {theirs_s:.2f} s: "
        f"{theirs_s / ours_s:.0f} times as fast"
    )

    temps = type_k.temp_degc(emf)
    ours_s = best_s(lambda: type_k.emf_mv(temps))
    degrees = temps[:REFERENCE_VALUES].tolist()
    theirs_s = best_s(lambda: [reference.emf(value) for value in degrees], 3) * VALUES / REFERENCE_VALUES
    print(
        f"{VALUES} temperatures to mV: {ours_s:.3f} s; reference package {theirs_s:.2f} s: "
        f"{theirs_s / ours_s:.0f} times as fast"
    )

    off_uv = np.abs(type_k.emf_mv(temps) - emf)
    others = np.array([reference.temperature(value) for value in some])
    print(
        f"worst disagreement with the direct function: {1e3 * off_uv.max():.1e} µV (ours); "
        f"worst difference between the two inverses: {np.abs(others - temps[:REFERENCE_VALUES]).max():.1e} K"
    )

    one_s = best_s(lambda: [type_k.measured_degc(2.8, 25.0) for _ in range(2000)]) / 2000
    print(f"one reading with its reference junction: {1e6 * one_s:.1f} µs")


if __name__ == "__main__":
    main()
