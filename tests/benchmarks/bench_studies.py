"""Do the studies' intervals cover the truth as often as they say?

Run: python tests/benchmarks/bench_studies.py [--machines 2000] [--seed 1]

Each row simulates so many machines with known truth, gives their shots to the study itself, and counts how
often its 95 % interval holds that truth. Goal: 93 to 97 %.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator

import numpy as np
from covering import Row, Simulate, asked_for, covered
from scipy.stats import norm

from benchtemp.readings.reading import Stream
from benchtemp.studies.comparison import comparison
from benchtemp.studies.cycle import heating_cycle
from benchtemp.studies.evidence.shot_record import Known, Setting, ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.repeatability import repeatability
from benchtemp.studies.routine import routine
from benchtemp.studies.setpoint import setpoint
from benchtemp.studies.steadiness import steadiness
from benchtemp.studies.warm_up import warm_up

LOW, HIGH = 93.0, 97.0


def record(index: int, degc: float, **known: object) -> ShotRecord:
    return ShotRecord(
        path=f"shot {index}",
        recording="r",
        number=index + 1,
        machine=str(known.pop("machine", "simulated")),
        pulled=f"2031-03-04T{8 + index // 20:02d}:{3 * (index % 20):02d}:00+00:00",
        pump_on_s=180.0 * index,
        brew_temp_degc=float(degc),
        sd_k=0.1,
        drift_k_per_s=0.0,
        counts=True,
        probe="K-01",
        checked="2031-03-01",
        **known,
    )


def measured(value: float) -> Setting:
    return Setting(value=float(value), known=Known.MEASURED)


def steady_machine(rng: np.random.Generator) -> Row:
    count = int(rng.integers(5, 21))
    mean, sd = rng.uniform(91, 95), rng.uniform(0.05, 0.6)
    drift = rng.choice([0.0, rng.normal(0, 0.05)])
    degc = mean + drift * np.arange(count) + rng.normal(0, sd, count)
    low, high = mean - rng.uniform(0.3, 2) * sd, mean + rng.uniform(0.3, 2) * sd
    shots = [record(index, value, band_low_degc=low, band_high_degc=high) for index, value in enumerate(degc)]
    found = steadiness(ShotSet(used=tuple(shots)))
    row = {"drift per shot": found.drift_interval.holds(drift)}
    if drift:
        return row
    share = norm.cdf(high, mean, sd) - norm.cdf(low, mean, sd)
    held = norm.cdf(found.tolerance_interval.high, mean, sd) - norm.cdf(
        found.tolerance_interval.low, mean, sd
    )
    return row | {
        "mean": found.mean_interval.holds(mean),
        "standard deviation": found.sd_interval.holds(sd),
        "tolerance interval holds 95 %": held >= 0.95,
        "share inside the band": found.in_band_interval.holds(share),
    }


def set_machine(rng: np.random.Generator) -> Row:
    slope, offset, sd = rng.uniform(0.8, 1.1), rng.uniform(-4, 1), rng.uniform(0.05, 0.4)
    places = np.repeat(np.arange(90.0, 90.0 + 2.0 * rng.integers(3, 6), 2.0), rng.integers(2, 4))
    rng.shuffle(places)
    middle = float(places.mean())
    degc = middle + offset + slope * (places - middle) + rng.normal(0, sd, len(places))
    target = middle + offset + slope * rng.uniform(-3, 3)
    shots = [record(i, y, setpoint_degc=float(x)) for i, (x, y) in enumerate(zip(places, degc, strict=True))]
    found = setpoint(ShotSet(used=tuple(shots)), target_degc=target)
    at = rng.uniform(90, places.max())
    another = middle + offset + slope * (at - middle) + rng.normal(0, sd)
    return {
        "brew per displayed degree": found.slope_interval.holds(slope),
        "offset": found.mean_offset_interval.holds(offset),
        "setpoint for a target": found.reach.interval.holds(middle + (target - middle - offset) / slope),
        "one more shot": found.line.shot_interval(at).holds(another),
    }


def idle_machine(rng: np.random.Generator) -> Row:
    base, rise = rng.uniform(90, 92), rng.uniform(2.5, 5)
    scale_min, wash_s, sd = rng.uniform(3, 10), rng.uniform(3, 8), rng.uniform(0.08, 0.25)
    idle = np.repeat([3.0, 8.0, 15.0, 25.0], 5)
    flush = np.tile([0.0, 2.0, 4.0, 7.0, 10.0], 4)
    order = rng.permutation(len(idle))
    idle, flush = idle[order], flush[order]

    def truth(t: np.ndarray | float, f: np.ndarray | float) -> np.ndarray:
        return base - rise * np.expm1(-np.asarray(t) / scale_min) * np.exp(-np.asarray(f) / wash_s)

    need = rng.uniform(1.5, 8.5)
    target = float(truth(10.0, need))
    degc = truth(idle, flush) + rng.normal(0, sd, len(idle))
    shots = [
        record(i, y, idle_min=measured(t), flush_s=measured(f))
        for i, (t, f, y) in enumerate(zip(idle, flush, degc, strict=True))
    ]
    found = routine(ShotSet(used=tuple(shots)), idle_min=10.0, target_degc=target)
    row = {"flush for a target": found.answer.flush is not None and found.answer.interval.holds(need)}
    if found.answer.flush is not None:
        another = float(truth(10.0, found.answer.flush)) + rng.normal(0, sd)
        row["one shot so flushed"] = found.answer.shot_interval.holds(another)
    return row


def cold_machine(rng: np.random.Generator) -> Row:
    settled, scale, sd = rng.uniform(91, 94), rng.uniform(3, 7), rng.uniform(0.04, 0.15)
    minutes = np.array([5, 9, 13, 17, 21, 25, 30, 36, 42, 50, 58, 66], dtype=float)
    away = rng.uniform(6, 12)
    degc = settled - away * np.exp(-(minutes - 5) / scale) + rng.normal(0, sd, len(minutes))
    truth = 5 + scale * np.log(away / 0.5)
    shots = [
        record(i, y, since_on_min=measured(t)) for i, (t, y) in enumerate(zip(minutes, degc, strict=True))
    ]
    found = warm_up(ShotSet(used=tuple(shots))).settling
    return {
        "settling time": found.settling_interval.holds(truth),
        "settled at": found.settled_interval.holds(settled),
    }


def cycling_machine(rng: np.random.Generator) -> Row:
    period, jitter = rng.uniform(60, 200), rng.uniform(0.4, 3.0)
    rise, height, noise = rng.uniform(0.1, 0.5), rng.uniform(2, 12), rng.uniform(0.02, 0.1)
    count = int(rng.integers(5, 16))
    off = rng.normal(0, jitter, count + 2)
    lengths = period + off
    edges = np.concatenate(([0.0], np.cumsum(lengths)))
    # Where in it a cycle is irregular: in its cooling (draughts), its heating (mains), or all over.
    where = ("cooling", "heating", "all over")[int(rng.integers(3))]
    heating = rise * period + {"cooling": 0.0, "heating": 1.0, "all over": rise}[where] * off
    tops = edges[:-1] + heating
    corners_s = np.stack((edges[:-1], tops), axis=1).ravel()
    corners_degc = np.tile([100.0, 100.0 + height], len(lengths))
    t_s = np.arange(0.0, edges[-1] - 1.0, 0.5)
    degc = np.interp(t_s, corners_s, corners_degc) + rng.normal(0, noise, len(t_s))
    stream = Stream(
        channels=("T1", "T2"), t_s=t_s, temps_degc=np.stack((np.full_like(t_s, 60.0), degc), axis=1)
    )
    found = heating_cycle({"r": stream}, "T2")
    return {f"period, irregular in {where}": found.period.interval.holds(period)}


def two_machines(rng: np.random.Generator) -> Row:
    sds = rng.uniform(0.08, 0.5, 2)
    counts = rng.integers(5, 13, 2)
    difference = rng.normal(0, 0.5)
    groups = [rng.normal(93 + difference, sds[0], counts[0]), rng.normal(93, sds[1], counts[1])]
    found = comparison(ShotSet(used=tuple(_mixed(groups))), "machine").pairs[0]
    return {
        "difference of two": found.interval.holds(difference),
        "ratio of standard deviations": found.sd_ratio_interval.holds(sds[0] / sds[1]),
    }


def four_machines(rng: np.random.Generator) -> Row:
    means, sds = rng.normal(93, 0.5, 4), rng.uniform(0.1, 0.4, 4)
    groups = [rng.normal(mean, sd, rng.integers(5, 11)) for mean, sd in zip(means, sds, strict=True)]
    found = comparison(ShotSet(used=tuple(_mixed(groups))), "machine")
    return {
        "all differences of four at once": all(
            pair.interval.holds(means[int(pair.first)] - means[int(pair.second)]) for pair in found.pairs
        )
    }


def _mixed(groups: list[np.ndarray]) -> Iterator[ShotRecord]:
    for index, group in enumerate(groups):
        for value in group:
            yield record(index, value, machine=str(index))


def several_testers(rng: np.random.Generator) -> Row:
    own, between = rng.uniform(0.1, 0.4), rng.uniform(0.05, 0.6)
    shots = []
    for tester in range(int(rng.integers(3, 8))):
        shift = rng.normal(0, between)
        shots += [
            record(len(shots) + i, rng.normal(93 + shift, own), operator=f"tester {tester}")
            for i in range(int(rng.integers(3, 7)))
        ]
    found = repeatability(ShotSet(used=tuple(shots))).components
    return {
        "shot to shot, same tester": found.repeatability.interval.holds(own),
        "between testers": found.between[0].interval.holds(between),
        "any shot by any tester": found.reproducibility.interval.holds(np.hypot(own, between)),
    }


SIMULATIONS: dict[str, Simulate] = {
    "steadiness": steady_machine,
    "setpoint": set_machine,
    "routine": idle_machine,
    "warm-up": cold_machine,
    "cycle": cycling_machine,
    "comparison": two_machines,
    "comparison of four": four_machines,
    "testers": several_testers,
}


def main() -> None:
    asked = asked_for(__doc__, machines=2000)
    warnings.simplefilter("error")
    print(f"{asked.machines} simulated machines per study, seed {asked.seed}; goal {LOW:g} to {HIGH:g} %")
    print(f"{'study':20} {'interval':34} {'covers':>8} {'of':>6}   ms each")
    for one in covered(SIMULATIONS, asked):
        share = 100.0 * one.held / one.count
        remark = "" if LOW <= share <= HIGH else "   OUTSIDE"
        figures = f"{share:7.1f}% {one.count:6}   {1000 * one.each_s:.1f}"
        print(f"{one.study:20} {one.interval:34} {figures}{remark}")


if __name__ == "__main__":
    main()
