import numpy as np
import pytest

from benchtemp.studies.at_rest import period_of, unbroken_runs
from benchtemp.studies.evidence.channel import Channel
from benchtemp.studies.evidence.cycles import find_cycles

PERIOD_S = 60.0


def watched(rng, heating_s, cooling_s, noise_k=0.04):
    begins_s = np.concatenate(([0.0], np.cumsum(heating_s + cooling_s)))
    corners_s = np.stack((begins_s[:-1], begins_s[:-1] + heating_s), axis=1).ravel()
    t_s = np.arange(0.0, begins_s[-1], 0.5)
    degc = np.interp(t_s, corners_s, np.tile([100.0, 106.0], len(heating_s)))
    return Channel("T2", t_s, degc + rng.normal(0, noise_k, len(t_s)), noise_k)


def period(channel):
    return period_of(unbroken_runs({"r": find_cycles(channel)}, 0.0), 0.95)


@pytest.mark.parametrize("irregular", ["heating", "cooling"])
def test_a_cycle_is_irregular_for_itself_wherever_it_is(rng, irregular):
    """Counted from where an edge begins, one long cycle does not lengthen its neighbours."""
    heating_s, cooling_s = np.full(12, 9.0), np.full(12, 51.0)
    (heating_s if irregular == "heating" else cooling_s)[6] += 4.0
    channel = watched(rng, heating_s, cooling_s, noise_k=0.005)
    (run,) = unbroken_runs({"r": find_cycles(channel)}, 0.0)
    begins_s = [cycle.rising.passes(100.0)[0] for cycle in run.cycles]
    longer_s = np.diff(begins_s) - PERIOD_S
    *others_s, longest_s = sorted(longer_s)
    assert longest_s == pytest.approx(4.0, abs=0.2)
    assert others_s[-1] == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize("irregular", ["heating", "cooling", "both"])
def test_the_interval_covers_wherever_cycles_are_irregular(rng, irregular):
    hits = 0
    for _ in range(40):
        off_s = rng.normal(0, 1.0, 9)
        share = {"heating": 1.0, "cooling": 0.0, "both": 0.15}[irregular]
        found = period(watched(rng, 9.0 + share * off_s, 51.0 + (1.0 - share) * off_s))
        hits += found.interval.holds(PERIOD_S)
    assert hits / 40 >= 0.85
