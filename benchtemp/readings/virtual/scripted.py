"""Recordings without an operator: a script run on a virtual machine, as fast as it goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf
from typing import Any

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.readings.virtual import script as steps
from benchtemp.readings.virtual.instrument import Instrument
from benchtemp.readings.virtual.machine import TracePoint, VirtualMachine
from benchtemp.readings.virtual.parameters import Machine, Place, Probe, Scale
from benchtemp.readings.virtual.truth import shot_truth

LONGEST_S = 24 * 3600.0
"""Longest recording that is made."""

_HEATER_WAIT_S = 2 * 3600.0
_WATCH_S = 0.1
"""How often a stop at a yield and the heater are looked at."""
_IN_TRANSIT_G = 2.4
"""What still drips after pump off and is allowed for when stopping at a yield."""


def simulate(
    machine: Machine,
    script: Sequence[steps.AnyStep],
    *,
    seed: int = 0,
    rate_hz: float = 10.0,
    places: Sequence[Place] | None = None,
    probe: Probe | None = None,
    scale: Scale | None = None,
    marks: bool = True,
    warm: bool = True,
    before: Sequence[steps.AnyStep] = (),
    started: str = "2031-03-04T08:00:00+00:00",
    meta: Mapping[str, Any] | None = None,
) -> Stream:
    """Run a script and return what an interface on the machine would have recorded.

    Args:
        machine: The machine.
        script: What the operator does while recording.
        seed: Of noise and beds.
        rate_hz: Readings a second.
        places: Where probes sit, T1 first; None for the machine's own places.
        probe: Time constants, noise, step and offset of the probes; None for the machine's own.
        scale: Under the cup; None for no weight column.
        marks: Whether the operator's marks are kept; gaps are marked in any case.
        warm: Switched on for hours before anything else; otherwise cold.
        before: What is done before the recording begins.
        started: ISO 8601 date and time with UTC offset at which the recording is said to begin.
        meta: More for the header, for instance scenario, recipe and tags.

    Returns: a stream whose `meta["truth"]` holds one `ShotTruth` per shot as a plain dict, free of the
        probe's offset.

    Raises:
        BadInput: The rate, a place or a step cannot be.
    """
    if not 0.1 <= rate_hz <= 1000.0:
        raise BadInput(f"{rate_hz:g} readings a second cannot be; choose 0.1 to 1000 Hz.")
    if probe is not None:
        machine = msgspec.structs.replace(machine, probe=probe)
    virtual = VirtualMachine(machine, seed=seed, places=places, warm=warm)
    if Place.BASKET not in virtual.places[:1]:
        raise BadInput("The first channel must sit in the basket; the others may sit anywhere.")
    run = _Run(virtual, Instrument(virtual, seed=seed, scale=scale), rate_hz, marks=marks)
    run.prepare(before)
    run.record(script)
    return run.stream(
        {
            "kind": "recording",
            "format_version": 1,
            "started": started,
            "machine": machine.name,
            "basket_channel": "T1",
            "seed": seed,
            "source": {
                "kind": "virtual machine",
                "name": machine.name,
                "build": machine.kind,
                "seed": seed,
                "rate_hz": rate_hz,
            },
            "channels": [
                {
                    "name": f"T{number}",
                    "place": str(place),
                    "unit": "degC",
                    "noise_k": machine.probe.noise_k,
                    "quantum_k": machine.probe.quantum_k,
                    "time_constant_s": machine.probe.wet_tau_s,
                    **({"offset_k": machine.probe.offset_k} if machine.probe.offset_k else {}),
                }
                for number, place in enumerate(virtual.places, start=1)
            ],
            **(meta or {}),
        },
        has_weight=scale is not None,
    )


class _Run:
    """A script under way: the machine's clock, the rows so far, and what is due within the next shot."""

    def __init__(
        self, machine: VirtualMachine, instrument: Instrument, rate_hz: float, *, marks: bool
    ) -> None:
        self._machine = machine
        self._instrument = instrument
        self._rate_hz = rate_hz
        self._keep_marks = marks
        self._recording = False
        self._begin_s = 0.0
        self._next = 0
        self._times: list[float] = []
        self._temps: list[tuple[float, ...]] = []
        self._weights: list[float] = []
        self._marks: list[Mark] = []
        self._mark_rows: list[int] = []
        self._truth: list[dict[str, Any]] = []
        self._flushes: list[dict[str, float]] = []
        self._shot_at_s = 0.0
        self._unplugged_until_s = -inf
        self._within: list[steps.Unplug | steps.Spike] = []
        self._due: list[tuple[float, steps.Unplug | steps.Spike]] = []

    def prepare(self, script: Sequence[steps.AnyStep]) -> None:
        """Do what goes before the recording."""
        for step in script:
            self._do(step)

    def record(self, script: Sequence[steps.AnyStep]) -> None:
        """Begin to record and do the script."""
        self._begin_s = self._machine.t_s
        self._recording = True
        self._shot_at_s = 0.0
        for step in script:
            self._do(step)

    @property
    def _now_s(self) -> float:
        return self._machine.t_s - self._begin_s

    def _mark(self, kind: MarkKind, text: str = "", *, always: bool = False) -> None:
        if self._recording and (self._keep_marks or always):
            self._marks.append(Mark(round(self._now_s, 4), kind, text))
            self._mark_rows.append(len(self._times))

    # -- time

    def _wait(self, seconds: float) -> None:
        """Let time pass, reading at every whole multiple of the period."""
        if not 0.0 <= seconds <= LONGEST_S:
            raise BadInput(f"Nothing can take {seconds:g} s here; give 0 to {LONGEST_S:g} s.")
        until_s = self._now_s + seconds
        if not self._recording:
            self._machine.advance(self._begin_s + until_s)
            return
        if until_s > LONGEST_S:
            raise BadInput(f"A recording of {until_s / 3600:.1f} h is too long; make it at most 24 h.")
        while True:
            reading_s = self._next / self._rate_hz
            event_s = self._due[0][0] if self._due else inf
            at_s = min(reading_s, event_s, until_s)
            self._machine.advance(self._begin_s + at_s)
            if event_s <= at_s:
                self._happen(self._due.pop(0)[1])
            elif reading_s <= until_s:
                self._read(reading_s)
                self._next += 1
            else:
                return

    def _read(self, at_s: float) -> None:
        reading = self._instrument.reading(round(at_s, 4))
        if at_s >= self._unplugged_until_s:
            self._times.append(reading.t_s)
            self._temps.append(reading.temps_degc)
            self._weights.append(reading.weight_g)

    def _happen(self, step: steps.Unplug | steps.Spike) -> None:
        if isinstance(step, steps.Unplug):
            self._mark(MarkKind.GAP, "unplugged", always=True)
            self._unplugged_until_s = self._now_s + step.seconds
        else:
            self._instrument.spike(step.delta_k, step.channel - 1)

    # -- steps

    def _do(self, step: steps.AnyStep) -> None:
        machine = self._machine
        match step:
            case steps.Wait(seconds=seconds):
                self._wait(seconds)
            case steps.WaitSinceShot(seconds=seconds):
                self._wait(max(0.0, self._shot_at_s + seconds - self._now_s))
            case steps.WaitForHeater(on=on):
                self._wait_for_heater(on=on)
            case steps.KnockOut():
                machine.knock_out()
            case steps.LockIn(dose_g=dose_g):
                machine.lock_in(dose_g)
                self._instrument.renew_cup()
            case steps.Shot():
                self._shoot(step)
            case steps.Flush():
                self._flush(step)
            case steps.Steam(seconds=seconds):
                machine.steam(on=True)
                self._wait(seconds)
                machine.steam(on=False)
            case steps.Setpoint(degc=degc):
                machine.set_setpoint(degc)
            case steps.Grind(percent=percent):
                machine.set_grind(percent / 100.0)
            case steps.Note(text=text):
                self._mark(MarkKind.NOTE, text)
            case steps.Enter(text=text):
                self._mark(MarkKind.SET, text)
            case steps.EnterYield():
                if self._truth:
                    last = self._truth[-1]
                    self._mark(MarkKind.SET, f"shot {last['number']} yield_g={last['yield_g']:.1f}")
            case steps.Tare():
                self._instrument.tare()
                self._mark(MarkKind.TARE)
            case steps.Unplug() | steps.Spike():
                self._plan(step)

    def _plan(self, step: steps.Unplug | steps.Spike) -> None:
        if isinstance(step, steps.Spike) and not 1 <= step.channel <= len(self._machine.places):
            raise BadInput(f"There is no channel T{step.channel} to spike.")
        if step.into_shot_s is None:
            self._happen(step)
        else:
            self._within.append(step)

    def _wait_for_heater(self, *, on: bool) -> None:
        """Wait for the heater's next change to on (or off)."""
        waited_s = 0.0
        before = self._machine.heater_on
        while waited_s < _HEATER_WAIT_S:
            self._wait(_WATCH_S)
            waited_s += _WATCH_S
            now = self._machine.heater_on
            if now == on != before:
                return
            before = now
        raise BadInput(
            f"The heater of {self._machine.parameters.name} does not go on and off by itself within 2 h; "
            "wait a fixed time instead."
        )

    def _shoot(self, step: steps.Shot) -> None:
        machine = self._machine
        if not machine.basket.locked:
            raise BadInput("A shot needs a portafilter in the group; put a lock-in step before it.")
        pump_on_s = self._shot_at_s = self._now_s
        for within in self._within:
            self._due.append((pump_on_s + (within.into_shot_s or 0.0), within))
        self._within.clear()
        self._due.sort(key=lambda event: event[0])
        dose_g = machine.basket.dose_kg * 1000.0
        trace: list[TracePoint] = []
        machine.trace = trace
        self._mark(MarkKind.PUMP_ON)
        machine.pump(on=True)
        if step.yield_g is None:
            self._wait(step.seconds)
        else:
            while (
                self._now_s - pump_on_s < step.seconds - 1e-9 and machine.cup_g < step.yield_g - _IN_TRANSIT_G
            ):
                self._wait(min(_WATCH_S, step.seconds - (self._now_s - pump_on_s)))
        machine.pump(on=False)
        machine.trace = None
        pump_off_s = self._now_s
        self._mark(MarkKind.PUMP_OFF)
        if not self._recording:
            return
        moved = [point._replace(t_s=point.t_s - self._begin_s) for point in trace]
        self._wait(steps.WEIGHED_AFTER_S)
        truth = shot_truth(
            moved,
            number=len(self._truth) + 1,
            pump_on_s=pump_on_s,
            pump_off_s=pump_off_s,
            dose_g=dose_g,
            yield_g=machine.cup_g,
        )
        self._truth.append(msgspec.structs.asdict(truth))

    def _flush(self, step: steps.Flush) -> None:
        machine = self._machine
        if step.basket_in:
            self._mark(MarkKind.PUMP_ON)
        else:
            machine.knock_out()
            self._mark(MarkKind.NOTE, f"flush {step.seconds:g} s, portafilter out")
        began_s = self._now_s
        machine.pump(on=True)
        self._wait(step.seconds)
        machine.pump(on=False)
        if step.basket_in:
            self._mark(MarkKind.PUMP_OFF)
        if self._recording:
            self._flushes.append({"pump_on_s": round(began_s, 3), "pump_off_s": round(self._now_s, 3)})

    # -- result

    def stream(self, meta: dict[str, Any], *, has_weight: bool) -> Stream:
        """Return what was recorded."""
        count = len(self._instrument.channels)
        temps = np.array(self._temps, dtype=np.float64).reshape(len(self._temps), count)
        return Stream(
            channels=self._instrument.channels,
            t_s=np.array(self._times, dtype=np.float64),
            temps_degc=temps,
            weight_g=np.array(self._weights, dtype=np.float64) if has_weight else None,
            marks=tuple(self._marks),
            mark_rows=tuple(self._mark_rows),
            meta={**meta, "truth": self._truth, "flushes": self._flushes},
        )
