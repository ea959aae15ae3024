"""Draw twelve difficult traces with the boundaries found in them, to be looked at.

    python tests/benchmarks/draw_difficult.py [FILE.png]

Green: the truth. Red: found without marks, with the stated uncertainty (k = 2) shaded. Needs matplotlib.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np

mpl.use("Agg")
import matplotlib.pyplot as plt

sys.path.insert(0, str(Path(__file__).parent))

from traces import FINE_HZ, Pull, TraceCase, pull_curve, sample

from benchtemp.shots.plateau import find_pulls

DIFFICULT: tuple[tuple[str, str, str, float, float, float, tuple[float, float]], ...] = (
    ("one reading a second, 0.2 °C of noise", "flat", "lag", 1.0, 0.2, 0.01, (0.4, 0.8)),
    ("steps of 0.25 °C, hardly any noise", "climb", "two lags", 4.0, 0.02, 0.25, (0.3, 0.6)),
    ("hump after a long idle", "hump", "lag", 4.0, 0.1, 0.1, (0.3, 0.6)),
    ("hump, one reading a second", "hump", "error function", 1.0, 0.05, 0.0625, (0.3, 0.6)),
    ("sag of a small boiler, slow fall", "sag", "logistic", 2.0, 0.1, 0.0625, (0.15, 0.2)),
    ("pre-infusion pause", "pause", "lag", 4.0, 0.05, 0.1, (0.4, 0.8)),
    ("dip in the pressure, 0.2 °C of noise", "dip", "lag", 10.0, 0.2, 0.01, (0.4, 0.8)),
    ("dip, one reading a second", "dip", "two lags", 1.0, 0.05, 0.0625, (0.4, 0.8)),
    ("creep, steps of 0.25 °C and noise", "creep", "ramp", 2.0, 0.1, 0.25, (0.5, 1.0)),
    ("rounded rise, noise 0.2 °C", "flat", "error function", 10.0, 0.2, 0.1, (0.4, 0.8)),
    ("fall of 0.1 °C a second only", "flat", "slowing lag", 10.0, 0.05, 0.0625, (0.09, 0.12)),
    ("ramp of a slow pump, spikes and a gap", "climb", "ramp", 4.0, 0.05, 0.1, (0.5, 1.0)),
)


def _shows(shape: str, fine: np.ndarray, pull: Pull) -> bool:
    """Tell whether what the panel is about can be seen in it."""
    on, start, off = (int(time_s * FINE_HZ) for time_s in (pull.pump_on_s, pull.start_s, pull.pump_off_s))
    if shape == "hump":
        return bool(fine[start:off].max() - fine[off] > 2.0)
    if shape == "pause":
        climb = fine[on : start + 1]
        held = np.abs(np.gradient(climb, 1.0 / FINE_HZ)) < 0.5
        return bool(held[climb > climb[-1] - 8.0][: -int(2 * FINE_HZ)].sum() > 2 * FINE_HZ)
    return True


def draw_case(number: int) -> tuple[str, TraceCase]:
    """Draw the trace of one panel."""
    title, shape, rise, rate_hz, noise_k, quantum_k, decay = DIFFICULT[number]
    rng = np.random.default_rng([number, 23])
    while True:
        drawn = pull_curve(rng, shape, rise, decay=decay, lead_s=10.0, tail_s=25.0)
        if drawn is not None and _shows(shape, drawn[1], drawn[2]):
            break
    fine_s, fine, pull = drawn
    t_s, temp, _, _ = sample(
        rng, fine_s, fine, rate_hz=rate_hz, noise_k=noise_k, quantum_k=quantum_k, hurt=False
    )
    if "spikes" in title:
        temp[[40, 90, 130]] += [300.0, -60.0, 25.0]
        temp[110:116] = np.nan
    return title, TraceCase(
        t_s, temp, [pull], rate_hz, noise_k, quantum_k, shape, rise, fine_t_s=fine_s, fine_degc=fine
    )


def main(path: str) -> None:
    """Draw all panels into one picture."""
    figure, axes = plt.subplots(4, 3, figsize=(20, 20))
    for number, axis in enumerate(axes.ravel()):
        title, case = draw_case(number)
        pull = case.pulls[0]
        axis.plot(case.fine_t_s, case.fine_degc, color="0.6", linewidth=1)
        axis.plot(case.t_s, case.temp_degc, ".", color="black", markersize=4)
        for time_s in (pull.start_s, pull.pump_off_s):
            axis.axvline(time_s, color="#117733", linewidth=2)
        found = find_pulls(case.t_s, case.temp_degc).pulls
        told = "nothing found"
        for result in found:
            if result.brew_temp_degc is None:
                told = f"{result.kind}: {result.reasons[0]}"
                continue
            for time_s, doubt_s in (
                (result.plateau_start_s, result.plateau_start_uncertainty_s),
                (result.plateau_end_s, result.plateau_end_uncertainty_s),
            ):
                axis.axvline(time_s, color="#CC3311", linestyle="--")
                axis.axvspan(time_s - 2 * doubt_s, time_s + 2 * doubt_s, color="#CC3311", alpha=0.15)
            axis.plot(
                [result.plateau_start_s, result.plateau_end_s], [result.brew_temp_degc] * 2, color="#CC3311"
            )
            told = (
                f"{result.kind}: {result.brew_temp_degc:.3f} ± {2 * result.brew_temp_uncertainty_k:.3f} °C, "
                f"truly {pull.mean_degc:.3f}"
            )
        axis.set_title(f"{title}\n{told}", fontsize=11)
        inside = (case.fine_t_s > pull.start_s - 4.0) & (case.fine_t_s < pull.pump_off_s + 12.0)
        axis.set_ylim(case.fine_degc[inside].min() - 0.7, case.fine_degc[inside].max() + 0.7)
        axis.set_xlim(pull.start_s - 10.0, pull.pump_off_s + 20.0)
        axis.set_xlabel("time, s")
        axis.set_ylabel("temperature, °C")
    figure.tight_layout()
    figure.savefig(path, dpi=70)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("file", nargs="?", default="difficult_traces.png", help="where to draw to")
    main(parser.parse_args().file)
