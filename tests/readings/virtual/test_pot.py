from math import exp, inf, isnan

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.boiling import boiling_reference
from benchtemp.readings.reading import Notice, Reading
from benchtemp.readings.source import Pumped, Tared
from benchtemp.readings.virtual.pot import (
    POT_BOILS_DEGC,
    POT_DEPTH_CM,
    POT_PRESSURE_HPA,
    PROBES,
    ROOM_DEGC,
    Bath,
    BathProbe,
    VirtualPot,
    Water,
)

STILL = Water(name="still", start_degc=90.0, end_degc=90.0, wander_k=0.0)
EXACT = BathProbe(offset_k=0.0, slope_k_per_k=0.0, noise_k=0.0, quantum_k=0.0)


def run(pot, seconds):
    readings = [pot.next_reading()]
    while readings[-1].t_s < seconds:
        readings.append(pot.next_reading())
    return np.array([r.t_s for r in readings]), np.array([r.temps_degc for r in readings])


def test_it_boils_where_the_boiling_line_says():
    reference = boiling_reference(pressure_hpa=POT_PRESSURE_HPA, depth_cm=POT_DEPTH_CM)
    assert pytest.approx(reference.temp_degc, abs=1e-4) == POT_BOILS_DEGC


def test_a_probe_reports_the_boil_with_its_own_error():
    _, temps = run(VirtualPot(Bath.POT, PROBES, seed=3), 600.0)
    boiling = temps[-1600:].mean(axis=0)
    expected = [POT_BOILS_DEGC + probe.offset_k + probe.slope_k_per_k * POT_BOILS_DEGC for probe in PROBES]
    np.testing.assert_allclose(boiling, expected, atol=0.05)


def test_bubbles_come_with_the_boil():
    _, temps = run(VirtualPot(Bath.POT, (EXACT,)), 300.0)
    assert temps[-600:].std() > 0.1
    _, cold = run(VirtualPot(Water(name="cold", start_degc=20, end_degc=POT_BOILS_DEGC), (EXACT,)), 30.0)
    rising = np.diff(cold[:, 0])
    assert (rising > 0.0).all()


def test_ice_stays_at_zero():
    _, temps = run(VirtualPot(Bath.ICE, (EXACT,)), 120.0)
    assert abs(temps.mean()) < 0.01
    assert temps.std() < 0.05


def test_water_is_heated_steadily_and_never_beyond_its_end():
    pot = VirtualPot(Water(name="slow", start_degc=50.0, end_degc=60.0, rate_k_per_min=6.0))
    seen = []
    for _ in range(4 * 300):
        pot.next_reading()
        seen.append(pot.water_degc)
    assert seen[4 * 60] == pytest.approx(56.0, abs=0.01)
    assert max(seen) <= 60.0
    assert seen[-1] == pytest.approx(60.0, abs=1e-6)
    assert (np.diff(seen) >= 0.0).all()


@pytest.mark.parametrize("tau_s", [0.3, 1.2, 6.0])
def test_a_plunge_is_a_response_of_first_order(tau_s):
    probe = BathProbe(offset_k=0, slope_k_per_k=0, noise_k=0, quantum_k=0, tau_s=tau_s)
    pot = VirtualPot(STILL, (probe,), rate_hz=10.0, dips_s=((5.03, inf),))
    t_s, temps = run(pot, 5.0 + 8 * tau_s)
    before = t_s < 5.03
    np.testing.assert_allclose(temps[before, 0], ROOM_DEGC)
    expected = 90.0 - (90.0 - ROOM_DEGC) * np.exp(-(t_s[~before] - 5.03) / tau_s)
    np.testing.assert_allclose(temps[~before, 0], expected, atol=1e-5)


def test_out_of_the_water_it_cools_slowly():
    pot = VirtualPot(STILL, (EXACT,), dips_s=((0.0, 10.0),))
    t_s, temps = run(pot, 34.0)
    assert temps[t_s == 10.0, 0] == pytest.approx(90.0)
    assert temps[-1, 0] == pytest.approx(ROOM_DEGC + (90.0 - ROOM_DEGC) * exp(-24.0 / 24.0), abs=0.01)


def test_the_same_seed_gives_the_same_readings():
    first, second, other = (run(VirtualPot(seed=seed), 60.0)[1] for seed in (4, 4, 5))
    np.testing.assert_array_equal(first, second)
    assert (first != other).any()


def test_an_open_probe_gives_none_and_says_why():
    reading = VirtualPot(Bath.POT, (PROBES[0], BathProbe(is_open=True))).next_reading()
    assert not isnan(reading.temps_degc[0])
    assert isnan(reading.temps_degc[1])
    assert reading.reasons == ("", "open")


def test_it_is_a_source_that_obeys_nothing():
    now_s = [100.0]
    pot = VirtualPot(Bath.ICE, PROBES[:2], speed=4.0, clock=lambda: now_s[0])
    assert not isinstance(pot, Pumped | Tared)
    assert (pot.channels, pot.has_weight) == (("T1", "T2"), False)
    assert pot.read() == ()
    pot.open()
    notice, first = pot.read()
    assert isinstance(notice, Notice)
    assert isinstance(first, Reading)
    now_s[0] = 101.0
    assert pot.now_s() == 4.0
    assert [item.t_s for item in pot.read()] == [0.25 * n for n in range(1, 17)]
    pot.interrupt()
    pot.close()
    pot.close()
    assert pot.read() == ()
    assert pot.details["bath_degc"] == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"rate_hz": 0.0}, {"speed": 2e3}, {"probes": ()}, {"probes": PROBES * 3}, {"dips_s": ((5.0, 1.0),)},
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(wrong):
    with pytest.raises(BadInput):
        VirtualPot(**wrong)


@pytest.mark.parametrize("wrong", [{"tau_s": 0.0}, {"noise_k": -1.0}, {"quantum_k": 9.0}])
def test_probes_that_cannot_be_are_refused(wrong):
    with pytest.raises(BadInput):
        BathProbe(**wrong)
    with pytest.raises(BadInput):
        Water(name="x", start_degc=1.0, end_degc=2.0, rate_k_per_min=0.0)
