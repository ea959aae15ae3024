import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Stream
from benchtemp.studies.evidence.channel import Channel, channel_of
from benchtemp.studies.evidence.cycles import find_cycles


def sawtooth(rng, *, period_s=120.0, rise=0.1, height_k=6.0, cycles=8, noise_k=0.04):
    t_s = np.arange(0.0, cycles * period_s, 0.5)
    corners_s = np.concatenate([[k * period_s, (k + rise) * period_s] for k in range(cycles + 1)])
    degc = np.interp(t_s, corners_s, np.tile([100.0, 100.0 + height_k], cycles + 1))
    return Channel("T2", t_s, degc + rng.normal(0, noise_k, len(t_s)), noise_k)


def test_cycles_are_found_where_they_are(rng):
    found = find_cycles(sawtooth(rng))
    assert len(found) == 6
    for number, cycle in enumerate(found, start=1):
        assert cycle.peak_s == pytest.approx((number + 0.1) * 120.0, abs=1.5)
        assert cycle.height_k == pytest.approx(6.0, abs=0.3)
        assert cycle.rise_s / cycle.long_s == pytest.approx(0.1, abs=0.03)
        assert cycle.rising.at_s == pytest.approx((number + 0.05) * 120.0, abs=0.2)
        assert cycle.rising.passes(100.0)[0] == pytest.approx(number * 120.0, abs=0.3)
        assert cycle.falling.passes(106.0)[0] == pytest.approx((number + 0.1) * 120.0, abs=3.0)
        assert cycle.rest_s == np.inf


def test_noise_alone_is_no_cycle(rng):
    t_s = np.arange(0.0, 900.0, 0.5)
    assert find_cycles(Channel("T2", t_s, 100 + rng.normal(0, 0.1, len(t_s)), 0.1)) == []


def test_water_is_remembered(rng):
    found = find_cycles(sawtooth(rng), [(400.0, 425.0)])
    during = [cycle for cycle in found if cycle.valley_s < 425 < cycle.next_valley_s]
    assert all(cycle.rest_s < 0 for cycle in during)
    assert [cycle.rest_s for cycle in found if cycle.valley_s > 425] == pytest.approx(
        [cycle.valley_s - 425 for cycle in found if cycle.valley_s > 425]
    )


def test_a_channel_must_be_there():
    stream = Stream(channels=("T1",), t_s=np.arange(3.0), temps_degc=np.full((3, 1), 90.0))
    with pytest.raises(BadInput, match="no channel T2"):
        channel_of(stream, "T2")
    empty = Stream(channels=("T1",), t_s=np.arange(3.0), temps_degc=np.full((3, 1), np.nan))
    with pytest.raises(BadInput, match="holds no readings"):
        channel_of(empty, "T1")
