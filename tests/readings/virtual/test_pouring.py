"""The cup by pump time: the same as from a whole machine, at a small part of the work."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from benchtemp.readings.virtual import simulate, virtual_machines
from benchtemp.readings.virtual.pouring import cup_curve
from benchtemp.readings.virtual.script import LockIn, Shot, Wait


@pytest.mark.parametrize("key", ["dual-boiler", "single-boiler"])
@pytest.mark.parametrize("share", [0.7, 1.0, 1.6])
@pytest.mark.parametrize("ran_s", [18.0, 25.0, 38.0])
def test_a_whole_machine_fills_the_same_cup(key, share, ran_s):
    machine = virtual_machines()[key]
    basket = replace(
        machine.basket,
        spread_share=0.0,
        resistance_pa_s_per_kg=machine.basket.resistance_pa_s_per_kg * share,
    )
    machine = replace(machine, basket=basket)
    script = (LockIn(dose_g=17.0), Wait(seconds=1.0), Shot(seconds=ran_s))
    whole_g = simulate(machine, script, warm=False, rate_hz=1.0).meta["truth"][0]["yield_g"]
    curve = cup_curve(machine, 17.0)
    assert np.interp(ran_s, curve.ran_s, curve.cup_g) == pytest.approx(whole_g, abs=0.3)
    assert (np.diff(curve.cup_g) >= -1e-9).all()
