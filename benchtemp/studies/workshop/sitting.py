"""One sitting of the workshop's week: a script on a virtual machine, kept as a recording and shot files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import msgspec
import numpy as np

from benchtemp import __version__
from benchtemp.logbook.ecsv import write_stream
from benchtemp.logbook.folder import SUFFIX, Logbook, make_folder
from benchtemp.logbook.header import ChannelNote, Header, ShotNote, converted, parted
from benchtemp.logbook.names import recording_name
from benchtemp.probes.correction import UNCORRECTED
from benchtemp.probes.probe import Probe
from benchtemp.readings.reading import Stream
from benchtemp.readings.virtual import Machine, Place, Scale, simulate
from benchtemp.readings.virtual.script import AnyStep
from benchtemp.shots.budget import channel_note
from benchtemp.shots.marks import standing_pump_marks
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin
from benchtemp.shots.shot import Shot, analyse_stream

USUAL_RECIPE = Recipe()
RATE_HZ = 4.0
LEAD_S = 15.0
TAIL_S = 25.0
"""How much of the recording before pump on and after pump off goes into a shot's file."""


@dataclass(frozen=True, slots=True)
class Sitting:
    """What happens in one sitting.

    Attributes:
        machine: The virtual machine.
        started: ISO 8601 moment with UTC offset.
        script: What the operator does while recording.
        before: What is done before.
        warm: Switched on hours ago; otherwise cold.
        places: Where probes sit, T1 first.
        tags: In force from the beginning.
        recipe: Held to.
        probe: The basket's. It reads wrong by what its last check before that day found or, where it had none
            yet, by what its first one will find.
        purpose: For the recording's header.
    """

    machine: Machine
    started: str
    script: tuple[AnyStep, ...]
    before: tuple[AnyStep, ...] = ()
    warm: bool = True
    places: tuple[Place, ...] = (Place.BASKET,)
    tags: Mapping[str, str] | None = None
    recipe: Recipe = USUAL_RECIPE
    probe: Probe | None = None
    purpose: str = ""

    def header(self) -> Header:
        """Return the recording's header."""
        channels: list[dict[str, Any]] = [{"name": f"T{number}"} for number in range(1, len(self.places) + 1)]
        if self.probe is not None:
            channels[0] |= channel_note(self.probe, self.started)
        notes = [parted(ChannelNote, channel) for channel in channels]
        beyond = {number: more for number, (_, more) in enumerate(notes) if more}
        return Header(
            kind="recording",
            program=f"benchtemp {__version__}",
            started=self.started,
            source={"kind": "virtual machine", "name": "workshop interface (virtual)"},
            channels=tuple(converted(known, ChannelNote) for known, _ in notes),
            basket_channel="T1",
            machine=self.machine.name,
            recipe=self.recipe,
            tags=dict(self.tags or {}),
            extra={"scenario": self.purpose, "channels": beyond},
        )

    def record(self, seed: int) -> Stream:
        """Run the script and return the recording, as the basket's probe reports it."""
        header = self.header()
        stream = simulate(
            self.machine,
            self.script,
            seed=seed,
            rate_hz=RATE_HZ,
            places=self.places,
            scale=Scale(),
            warm=self.warm,
            before=self.before,
            started=self.started,
            meta={"seed": seed},
        )
        temps = stream.temps_degc
        if self.probe is not None:
            temps = temps.copy()
            check = self.probe.check_at(self.started) or next(iter(self.probe.checks), None)
            error = check.correction if check is not None else UNCORRECTED
            # Reported is what the correction would make right again, in the interface's own steps.
            temps[:, 0] = np.round(error.reported(temps[:, 0]), 2)
        told = {key: stream.meta[key] for key in ("truth", "flushes", "seed")}
        return replace(stream, temps_degc=temps, meta={**header.to_plain(), **told})


def keep_sitting(logbook: Logbook, sitting: Sitting, seed: int) -> list[Shot]:
    """Record a sitting into a logbook, and every pull in it as a file of its own; return its shots.

    Raises:
        StorageError: The disk does not take it.
    """
    stream = sitting.record(seed)
    make_folder(logbook.recordings_dir)
    path = logbook.recordings_dir / f"{recording_name(sitting.started, sitting.machine.name)}{SUFFIX}"
    write_stream(path, stream)
    found = analyse_stream(stream)
    marked = bool(standing_pump_marks(stream.marks))
    pulls = [
        shot
        for shot in (*found.shots, *found.flushes)
        if not marked or shot.result.pump_on_source is Origin.MARKED
    ]
    pulls.sort(key=lambda shot: shot.result.pump_on_s)
    started = dt.datetime.fromisoformat(sitting.started)
    kept: list[Shot] = []
    number = 0
    for shot in pulls:
        if not shot.is_flush:
            number += 1
        pulled = (started + dt.timedelta(seconds=shot.result.pump_on_s)).isoformat(timespec="milliseconds")
        named = msgspec.structs.replace(
            shot, number=0 if shot.is_flush else number, recording=path.name, started=pulled
        )
        saved = logbook.save_shot(_cut(stream, named, sitting.header()))
        kept.append(msgspec.structs.replace(named, path=str(saved)))
    return kept


def _cut(stream: Stream, shot: Shot, header: Header) -> Stream:
    """Return the part of a recording that belongs to a pull, with the pull's own header."""
    result = shot.result
    ends_s = result.pump_off_s if result.pump_off_s is not None else float(stream.t_s[-1])
    first, last = np.searchsorted(stream.t_s, (result.pump_on_s - LEAD_S, ends_s + TAIL_S))
    inside = [
        mark
        for mark in stream.marks
        if result.pump_on_s - LEAD_S <= mark.t_s <= ends_s + TAIL_S and mark.kind != "set"
    ]
    t_s = stream.t_s[first:last]
    note = ShotNote(
        number=shot.number,
        recording=shot.recording,
        pulled=shot.started,
        yield_g=shot.yield_g,
        verdict=shot.verdict,
        counts=shot.counts,
        reasons=shot.reasons,
        result=result,
    )
    own = msgspec.structs.replace(
        header,
        kind="shot",
        machine=shot.tags.get("machine", header.machine),
        recipe=msgspec.structs.replace(shot.recipe, dose_g=shot.dose_g),
        tags=dict(shot.tags),
        shot=note,
        extra={"channels": header.extra["channels"]},
    )
    meta: dict[str, Any] = own.to_plain()
    return Stream(
        channels=stream.channels,
        t_s=t_s,
        temps_degc=stream.temps_degc[first:last],
        weight_g=None if stream.weight_g is None else stream.weight_g[first:last],
        marks=tuple(inside),
        mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s, side="left")) for mark in inside),
        meta=meta,
    )
