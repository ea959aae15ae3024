"""The demo streams: an afternoon in an invented workshop, made anew at any time, the same to the last bit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from benchtemp.readings.reading import Stream
from benchtemp.readings.virtual.catalogue import virtual_machines
from benchtemp.readings.virtual.parameters import Machine, Probe, Scale
from benchtemp.readings.virtual.script import (
    Enter,
    Flush,
    KnockOut,
    LockIn,
    Note,
    Script,
    Shot,
    Spike,
    Tare,
    Unplug,
    Wait,
    WaitForHeater,
    series,
    standing,
)
from benchtemp.readings.virtual.scripted import simulate

COMMAND = "benchtemp simulate --demo-streams DIR"
"""What makes all demo streams again."""

_SHOP = "Quillmarsh Coffee Workshop (invented)"
_COFFEE = "Ninth Lantern"
_DAY = "2031-03-04"
_YIELD_G = 36.0
_LONGEST_S = 34.0


class DemoStream(msgspec.Struct, frozen=True, kw_only=True):
    """How one demo stream is made.

    Attributes:
        machine: Short name of the virtual machine.
        at: Time of day at which it is said to begin.
        scenario: What happens, for a person.
        seed: Of noise and beds.
        script, before: What the operator does in and before the recording.
        rate_hz, probe, scale, marks: As for `simulate`.
        tags: More than machine and coffee.
    """

    machine: str
    at: str
    scenario: str
    seed: int
    script: Script
    before: Script = ()
    rate_hz: float = 10.0
    probe: Probe | None = None
    scale: Scale | None = None
    marks: bool = True
    tags: dict[str, str] = {}

    def make(self) -> Stream:
        """Run it."""
        machine = virtual_machines()[self.machine]
        return simulate(
            machine,
            self.script,
            seed=self.seed,
            rate_hz=self.rate_hz,
            probe=self.probe,
            scale=self.scale,
            marks=self.marks,
            before=self.before,
            started=f"{_DAY}T{self.at}+00:00",
            meta=self._meta(machine),
        )

    def _meta(self, machine: Machine) -> dict[str, Any]:
        setpoint_degc = machine.boiler.control.setpoint_degc
        return {
            "shop": _SHOP,
            "scenario": self.scenario,
            "command": COMMAND,
            "recipe": {"dose_g": 18.0, "brew_ratio": 2.0, "time_low_s": 22.0, "time_high_s": 28.0},
            "tags": {
                "machine": machine.name,
                "coffee": _COFFEE,
                "setpoint_degc": f"{setpoint_degc:g}",
                **self.tags,
            },
        }


def _single_shot(**changes: Any) -> Script:
    return series(1, **{"seconds": _LONGEST_S, "yield_g": _YIELD_G, "tail_s": 30.0, **changes})


def _at_thermostat(*, after_off_s: float) -> Script:
    """Return a shot at a certain time after the heater has gone off."""
    return (
        Enter(text="dose_g=18"),
        WaitForHeater(on=False),
        Note(text="heater goes off"),
        Wait(seconds=after_off_s - 22.0),
        KnockOut(),
        Wait(seconds=10.0),
        LockIn(dose_g=18.0),
        Wait(seconds=12.0),
        Shot(seconds=_LONGEST_S, yield_g=_YIELD_G),
        Wait(seconds=30.0),
    )


def _with_trouble() -> Script:
    """Return two shots: a value far off before and in the first, the cable out in the second."""
    first = series(
        1,
        seconds=_LONGEST_S,
        yield_g=_YIELD_G,
        tail_s=15.0,
        typed_yields=True,
        during=(
            Spike(delta_k=412.0, into_shot_s=5.3),
            Spike(delta_k=-260.0, into_shot_s=14.2),
            Spike(delta_k=655.5, into_shot_s=19.0),
        ),
    )
    return (
        Wait(seconds=8.0),
        Spike(delta_k=388.0),
        *first,
        KnockOut(),
        Wait(seconds=20.0),
        Flush(seconds=4.0),
        Wait(seconds=8.0),
        LockIn(dose_g=18.0),
        Wait(seconds=15.0),
        Unplug(seconds=3.6, into_shot_s=15.0),
        Spike(delta_k=530.0, into_shot_s=20.4),
        Shot(seconds=_LONGEST_S, yield_g=_YIELD_G),
        Wait(seconds=12.0),
        Unplug(seconds=6.0),
        Wait(seconds=20.0),
    )


def _flush_in_basket() -> Script:
    """Return a flush through an empty basket in the group, then a shot."""
    return (
        Wait(seconds=15.0),
        Flush(seconds=4.0, basket_in=True),
        Wait(seconds=10.0),
        KnockOut(),
        Wait(seconds=10.0),
        LockIn(dose_g=18.0),
        Wait(seconds=10.0),
        Tare(),
        Shot(seconds=_LONGEST_S, yield_g=_YIELD_G),
        Wait(seconds=30.0),
    )


def _demo_streams() -> dict[str, DemoStream]:
    lead_s = 40.0
    return {
        "dual_boiler_steady": DemoStream(
            machine="dual-boiler",
            at="13:02:00",
            scenario="Steady dual boiler: one shot on a machine warm since the morning, scale under the cup.",
            seed=101,
            script=_single_shot(),
            scale=Scale(),
        ),
        "heat_exchanger_long_idle": DemoStream(
            machine="heat-exchanger",
            at="13:20:00",
            scenario="Heat exchanger after half an hour without use, no flush: a hump, then a fall.",
            seed=102,
            script=_single_shot(lead_s=lead_s, typed_yields=True),
            before=standing(1800.0, lead_s),
            tags={"idle_min": "30", "flush_s": "0"},
        ),
        "heat_exchanger_flushed": DemoStream(
            machine="heat-exchanger",
            at="13:58:00",
            scenario="Heat exchanger after half an hour without use; 6 s flushed through the group first.",
            seed=103,
            script=_single_shot(lead_s=lead_s, typed_yields=True, flush_s=6.0),
            before=standing(1800.0, lead_s),
            tags={"idle_min": "30", "flush_s": "6"},
        ),
        "single_boiler_heater_just_off": DemoStream(
            machine="single-boiler",
            at="14:10:00",
            scenario="Single boiler on a wide thermostat: pump on 25 s after the heater has gone off.",
            seed=104,
            script=_at_thermostat(after_off_s=25.0),
            tags={"cycle": "25 s after off"},
        ),
        "single_boiler_heater_due": DemoStream(
            machine="single-boiler",
            at="14:20:00",
            scenario="Single boiler on a wide thermostat: pump on 105 s after the heater has gone off.",
            seed=105,
            script=_at_thermostat(after_off_s=105.0),
            tags={"cycle": "105 s after off"},
        ),
        "thermoblock": DemoStream(
            machine="thermoblock",
            at="14:31:00",
            scenario="Thermoblock without a three-way valve: two shots, nobody pressed a key, no marks.",
            seed=106,
            script=series(2, interval_s=150.0, seconds=26.0, tail_s=40.0),
            marks=False,
            probe=Probe(noise_k=0.08, quantum_k=0.1),
        ),
        "slow_pump_preinfusion": DemoStream(
            machine="slow-pump",
            at="14:44:00",
            scenario="Vibratory pump that builds up slowly, pre-infusion with a pause, scale under the cup.",
            seed=107,
            script=_single_shot(),
            scale=Scale(),
        ),
        "series_three_minutes": DemoStream(
            machine="dual-boiler",
            at="15:00:00",
            scenario="Six shots, pump starts three minutes apart, at 4 readings a second.",
            seed=108,
            script=series(6, interval_s=180.0, seconds=_LONGEST_S, yield_g=_YIELD_G, tail_s=25.0),
            rate_hz=4.0,
            scale=Scale(),
        ),
        "unplugged_and_spikes": DemoStream(
            machine="dual-boiler",
            at="15:31:00",
            scenario="Two shots with single values hundreds of degrees off and the cable out for 3.6 s.",
            seed=109,
            script=_with_trouble(),
        ),
        "four_channels": DemoStream(
            machine="four-probes",
            at="15:45:00",
            scenario="Four probes: T1 basket, T2 group, T3 boiler, T4 inlet; two shots, scale under the cup.",
            seed=110,
            script=series(2, interval_s=120.0, seconds=_LONGEST_S, yield_g=_YIELD_G, tail_s=25.0),
            scale=Scale(),
        ),
        "coarse_unmarked": DemoStream(
            machine="dual-boiler",
            at="16:02:00",
            scenario="A slow, coarse interface: 2 readings a second in steps of 0.25 °C, no marks.",
            seed=111,
            script=series(2, interval_s=150.0, seconds=25.0, tail_s=40.0),
            marks=False,
            rate_hz=2.0,
            probe=Probe(wet_tau_s=0.8, noise_k=0.15, quantum_k=0.25),
        ),
        "flush_in_basket": DemoStream(
            machine="heat-exchanger",
            at="16:20:00",
            scenario="A flush with the empty basket in the group, then a shot; the pump key marks both.",
            seed=112,
            script=_flush_in_basket(),
            scale=Scale(),
        ),
    }


def demo_streams() -> dict[str, Callable[[], Stream]]:
    """Return what makes each demo stream, by its file name without `.ecsv`."""
    return {name: described.make for name, described in _demo_streams().items()}
