from math import inf, nan

import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.plunge import PlungeState, PlungeWatch
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, BathProbe, VirtualPot, Water

HOT = Water(name="hot", start_degc=POT_BOILS_DEGC, end_degc=POT_BOILS_DEGC, wander_k=0.1)


def plunge(tau_s, seed=0, *, at_s=8.03, rate_hz=10.0, longest_s=300.0, water=HOT):
    pot = VirtualPot(water, (BathProbe(tau_s=tau_s),), seed=seed, rate_hz=rate_hz, dips_s=((at_s, inf),))
    watch = PlungeWatch(measured="2031-03-04T10:00:00+01:00", longest_s=longest_s)
    states = []
    while watch.result is None:
        reading = pot.next_reading()
        states.append(watch.step(reading.t_s, reading.temps_degc[0]))
    return watch, states, reading.t_s


@pytest.mark.parametrize("tau_s", [0.5, 1.2, 4.0, 9.0])
@pytest.mark.parametrize("seed", range(3))
def test_it_finds_by_itself_when_the_plunge_is_over(tau_s, seed):
    watch, states, t_s = plunge(tau_s, seed)
    assert watch.result.tau_s == pytest.approx(tau_s, rel=0.04)
    assert watch.result.crossing_s == pytest.approx(tau_s, rel=0.06)
    assert watch.result.plunge_s == pytest.approx(8.03, abs=0.15)
    assert watch.result.first_order
    assert watch.result.measured == "2031-03-04T10:00:00+01:00"
    assert t_s < 8.03 + 12.0 * tau_s + 8.0
    seen = list(dict.fromkeys(states))
    assert seen == [PlungeState.RESTING, PlungeState.READY, PlungeState.MOVING, PlungeState.DONE]
    assert watch.step(1e3, 20.0) is PlungeState.DONE


def test_no_plunge_is_given_up_with_a_sentence():
    with pytest.raises(BadInput, match="never moved by more than 10 °C"):
        plunge(1.2, at_s=1e6, longest_s=30.0)


def test_a_plunge_into_tepid_water_is_none():
    tepid = Water(name="tepid", start_degc=28.0, end_degc=28.0)
    with pytest.raises(BadInput, match="room temperature into hot water"):
        plunge(1.2, longest_s=40.0, water=tepid)


def test_readings_too_seldom_are_told():
    with pytest.raises(BadInput, match=r"too seldom|too few"):
        plunge(0.3, rate_hz=1.0, longest_s=60.0)


def test_an_open_probe_is_told():
    watch = PlungeWatch()
    for step in range(100):
        watch.step(0.1 * step, nan)
    with pytest.raises(BadInput, match="open"):
        watch.step(10.1, nan)


def test_a_reading_missed_on_the_way_does_no_harm():
    pot = VirtualPot(HOT, (BathProbe(),), rate_hz=10.0, dips_s=((8.03, inf),))
    watch = PlungeWatch()
    count = 0
    while watch.result is None:
        reading = pot.next_reading()
        count += 1
        watch.step(reading.t_s, nan if count % 7 == 0 else reading.temps_degc[0])
    assert watch.result.tau_s == pytest.approx(1.2, rel=0.05)
    t_s, temps = watch.trace()
    assert len(t_s) == len(temps)
