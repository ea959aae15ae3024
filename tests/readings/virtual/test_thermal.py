"""The network of lumps: exact for a pair, conserving, stable at any step."""

from __future__ import annotations

from math import exp

import pytest

from benchtemp.readings.virtual.thermal import WATER_J_PER_KG_K, Network, saturation_degc


def pair(one_degc: float = 90.0, other_degc: float = 30.0, w_per_k: float = 5.0) -> Network:
    network = Network(20.0)
    network.join(network.add(400.0, one_degc), network.add(100.0, other_degc), w_per_k)
    return network


@pytest.mark.parametrize("step_s", [0.01, 0.1, 1.0, 60.0, 1e6])
def test_pair_follows_the_exact_exponential_at_any_step(step_s):
    network = pair()
    network.relax(step_s, flowing=False)
    # Two lumps: the difference decays with C1 C2 / (C1 + C2) / G = 16 s about the mixed 78 °C.
    difference = 60.0 * exp(-step_s / 16.0)
    assert network.temps_degc[0] == pytest.approx(78.0 + difference * 0.2, abs=1e-9)
    assert network.temps_degc[1] == pytest.approx(78.0 - difference * 0.8, abs=1e-9)


def test_exchange_between_changing_lumps_is_the_same_as_a_fixed_link():
    fixed, loose = pair(), Network(20.0)
    loose.add(400.0, 90.0)
    loose.add(100.0, 30.0)
    fixed.relax(0.7, flowing=False)
    loose.exchange(0, 1, 5.0, 0.7)
    assert loose.temps_degc == pytest.approx(fixed.temps_degc, abs=1e-12)


def test_an_empty_lump_takes_no_part():
    network = Network(20.0)
    network.add(400.0, 90.0)
    network.add(0.0, 30.0)
    network.exchange(0, 1, 5.0, 10.0)
    assert network.cool(1, 5.0, 10.0) == 0.0
    assert network.temps_degc == [90.0, 30.0]


def test_loss_to_the_room_is_booked():
    network = Network(20.0)
    network.lose(network.add(1000.0, 80.0), 2.0)
    for _ in range(50):
        network.relax(10.0, flowing=False)
    assert network.temps_degc[0] == pytest.approx(20.0 + 60.0 * exp(-1.0), abs=1e-9)
    assert network.lost_j == pytest.approx(1000.0 * (80.0 - network.temps_degc[0]), rel=1e-12)


def test_flowing_water_couples_more_strongly_where_told():
    still, flowing = Network(20.0), Network(20.0)
    for network in (still, flowing):
        network.join(network.add(400.0, 90.0), network.add(100.0, 30.0), 1.0, 50.0)
    still.relax(1.0, flowing=False)
    flowing.relax(1.0, flowing=True)
    assert flowing.temps_degc[1] > still.temps_degc[1] + 5.0


def test_warm_water_below_cold_rises_and_warm_above_cold_stays():
    upset, settled = Network(20.0), Network(20.0)
    for network, lower_degc, upper_degc in ((upset, 90.0, 30.0), (settled, 30.0, 90.0)):
        network.stack(network.add(400.0, lower_degc), network.add(400.0, upper_degc), 0.1, 40.0)
        network.relax(5.0, flowing=False)
    assert abs(upset.temps_degc[0] - upset.temps_degc[1]) < 30.0
    assert settled.temps_degc[1] - settled.temps_degc[0] > 59.0


@pytest.mark.parametrize("water_kg", [0.001, 0.05, 5.0])
def test_pushed_water_changes_a_mixed_lump_exponentially_and_loses_no_heat(water_kg):
    network = Network(20.0)
    lump = network.add(0.1 * WATER_J_PER_KG_K, 95.0)
    before_j = network.stored_j
    out_degc = network.push([lump], water_kg, 15.0)
    assert network.temps_degc[lump] == pytest.approx(15.0 + 80.0 * exp(-water_kg / 0.1), abs=1e-9)
    brought_j = water_kg * WATER_J_PER_KG_K * (15.0 - out_degc)
    assert network.stored_j - before_j == pytest.approx(brought_j, rel=1e-9)
    assert 15.0 <= out_degc <= 95.0


def test_pouring_and_draining_keep_the_books():
    network = Network(20.0)
    lump = network.add(0.0, 50.0)
    network.pour(lump, 30.0, 22.0)
    network.pour(lump, 10.0, 90.0)
    assert network.temps_degc[lump] == pytest.approx(39.0)
    assert network.drain(lump, 40.0) == pytest.approx(40.0 * 39.0)
    assert network.stored_j == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("pressure_kpa", "boiling_degc"),
    # IAPWS R7-97(2012), region 4, worked out with two independent libraries (iapws 1.5.5, CoolProp 8.0.0).
    [(60.0, 85.9258), (70.0, 89.9315), (80.0, 93.4854), (90.0, 96.6870), (101.325, 99.9743)],
)
def test_flash_temperature_is_close_to_the_published_one(pressure_kpa, boiling_degc):
    assert saturation_degc(pressure_kpa * 1000.0) == pytest.approx(boiling_degc, abs=0.1)
