"""The pulls of a sitting: read when they end, again when the cup is full, revised when values are entered."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import msgspec
import numpy as np

from benchtemp.bench.keeping import Keeper
from benchtemp.bench.snapshot import (
    Event,
    PullDismissed,
    ShotEnded,
    ShotRevised,
    ShotSettled,
    ShotWithdrawn,
)
from benchtemp.bench.trace import TraceBuffer
from benchtemp.probes.correction import UNCORRECTED, Correction
from benchtemp.readings.reading import Mark, MarkKind, Stream, moment_text
from benchtemp.shots.budget import Grounds
from benchtemp.shots.entries import Entries, entries_until
from benchtemp.shots.plateau import find_pulls
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import PullKind, Result
from benchtemp.shots.shot import YIELD_SETTLES_S, Shot, make_shot, scale_yield_g
from benchtemp.shots.stages import StageChange

LEAD_S = 15.0
"""How much of the trace before a pull goes into its file: where it came from belongs to the evidence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What holds for a whole sitting.

    Attributes:
        channels: Names of the source's channels.
        basket: Index of the channel whose probe sits in the basket.
        entries: Recipe and tags at the beginning.
        corrections: One for each channel; none where no probe was named.
        grounds: What uncertainties rest on besides.
        has_weight: Whether weights come from a scale.
        started: When the source's clock stood at 0.
        first_number: Number of the first shot.
    """

    channels: tuple[str, ...]
    basket: int
    entries: Entries
    corrections: tuple[Correction, ...]
    grounds: Grounds
    has_weight: bool
    started: dt.datetime | None
    first_number: int

    @property
    def correction(self) -> Correction:
        """Return the correction of the basket's channel."""
        return self.corrections[self.basket] if self.basket < len(self.corrections) else UNCORRECTED


@dataclass
class _Last:
    """The pull that ended last, while what drips, settles or is taken back can still change it."""

    shot: Shot
    first_row: int
    marks: tuple[Mark, ...]
    settled: bool = False


class Pulls:
    """Turns what was taken into shots and flushes, and has them kept.

    Attributes:
        shots: The sitting's pulls, oldest first, flushes among them.
    """

    def __init__(self, setup: Setup, trace: TraceBuffer, marks: list[Mark], keeper: Keeper | None) -> None:
        """Make the pulls of a sitting.

        Args:
            setup: What holds for all of it.
            trace: All readings, as they grow.
            marks: All marks, likewise.
            keeper: Keeps the files; none are kept where None.
        """
        self.shots: list[Shot] = []
        self._setup = setup
        self._trace = trace
        self._marks = marks
        self._keeper = keeper
        self._scale_g: dict[int, float | None] = {}
        self._last: _Last | None = None
        self._last_end_row = 0
        self._count = 0

    @property
    def can_change(self) -> bool:
        """Tell whether the last pull may still go on or be read anew."""
        return self._last is not None and not self._last.settled

    def has_settled(self, t_s: float) -> bool:
        """Tell whether the last pull need not wait any longer to be read anew: its cup is full by `t_s`."""
        if self._last is None or self._last.settled:
            return False
        off_s = self._last.shot.result.pump_off_s
        return off_s is None or t_s >= off_s + YIELD_SETTLES_S

    def end(self, change: StageChange, began_s: float, recipe: Recipe) -> list[Event]:
        """Read and keep the pull that has just ended.

        Args:
            change: What the stages said of its end.
            began_s: When it began.
            recipe: In force.
        """
        if change.kind is None:
            return [PullDismissed(change.t_s, change.reason)]
        first_row = max(self._trace.row_at(began_s - LEAD_S), self._last_end_row)
        result, marks = self._read(first_row, began_s, recipe)
        if result is None:
            return [PullDismissed(change.t_s, change.reason or "read afterwards, the trace holds no shot")]
        self._count += 1
        counted = sum(not shot.is_flush for shot in self.shots)
        number = 0 if result.kind is PullKind.FLUSH else self._setup.first_number + counted
        shot = self._shot_from(result, first_row, number=number, key=self._count)
        weighed = shot.yield_g is not None and shot.yield_g == self._scale_g[shot.key]
        shot = msgspec.structs.replace(shot, filling=weighed and not shot.is_flush)
        shot = self._keep(shot, first_row, marks)
        self._last = _Last(shot, first_row, marks)
        self.shots.append(shot)
        return [ShotEnded(shot)]

    def withdraw(self) -> list[Event]:
        """Take the last pull back: it goes on."""
        if self._last is None:
            return []
        shot = self._last.shot
        self.shots = [other for other in self.shots if other.key != shot.key]
        if self._keeper:
            self._keeper.withdraw(shot)
        self._last = None
        return [ShotWithdrawn(shot)]

    def settle(self, recipe: Recipe) -> list[Event]:
        """Read the last pull once more, now that the cup is full and the trace after it is known."""
        last = self._last
        if last is None or last.settled:
            return []
        last.settled = True
        off_s = last.shot.result.pump_off_s
        self._last_end_row = self._trace.rows_taken - 1 if off_s is None else self._trace.row_at(off_s)
        result, marks = self._read(last.first_row, last.shot.result.pump_on_s, recipe)
        if result is None or result.kind is not last.shot.result.kind:
            result = last.shot.result
        shot = self._shot_from(result, last.first_row, number=last.shot.number, key=last.shot.key)
        shot = self._keep(msgspec.structs.replace(shot, path=last.shot.path), last.first_row, marks)
        revised = self._replace(shot) if shot != last.shot else []
        return [*revised, ShotSettled(shot)]

    def revise(self, mark: Mark) -> list[Event]:
        """Bring a value entered for a certain shot into that shot and its file."""
        events: list[Event] = []
        for shot in list(self.shots):
            if shot.is_flush or not mark.text.startswith(f"shot {shot.number} "):
                continue
            entries, _ = entries_until(self._setup.entries, self._marks, shot.result.pump_off_s)
            entered = entries.for_shot(shot.number)
            revised = msgspec.structs.replace(
                shot,
                dose_g=entered.dose_g,
                yield_g=self._scale_g.get(shot.key) if entered.yield_g is None else entered.yield_g,
                tags=entered.tags,
                filling=shot.filling and entered.yield_g is None,
            )
            if self._keeper:
                revised = self._keeper.revise(revised)
            events += self._replace(revised)
        return events

    def _read(self, first_row: int, began_s: float, recipe: Recipe) -> tuple[Result | None, tuple[Mark, ...]]:
        """Read the trace from a row on, as whole files are read; return the pull that began then."""
        t_s, _, corrected, _ = self._trace.cut(first_row)
        marks = tuple(mark for mark in self._marks if not len(t_s) or mark.t_s >= t_s[0] - 1.0)
        with_probe = np.isfinite(corrected).any(axis=1) if self._setup.has_weight else slice(None)
        found = find_pulls(
            t_s[with_probe],
            corrected[with_probe, self._setup.basket],
            marks,
            band_degc=(recipe.band_low_degc, recipe.band_high_degc),
            plateau_min_s=recipe.plateau_min_s,
        )
        if not found.pulls:
            return None, marks
        return min(found.pulls, key=lambda pull: abs(pull.pump_on_s - began_s)), marks

    def _shot_from(self, result: Result, first_row: int, *, number: int, key: int) -> Shot:
        entries, _ = entries_until(self._setup.entries, self._marks, result.pump_off_s)
        scale_g = None
        if self._setup.has_weight:
            t_s, _, _, weight_g = self._trace.cut(first_row)
            scale_g = scale_yield_g(t_s, weight_g, self._marks, result.pump_on_s, result.pump_off_s)
        self._scale_g[key] = scale_g
        shot = make_shot(
            result,
            entries.for_shot(number),
            number=number,
            scale_g=scale_g,
            correction=self._setup.correction,
            grounds=self._setup.grounds,
        )
        return msgspec.structs.replace(
            shot,
            key=key,
            started=moment_text(self._setup.started, result.pump_on_s),
            recording=self._keeper.recording_name if self._keeper else "",
        )

    def _keep(self, shot: Shot, first_row: int, marks: tuple[Mark, ...]) -> Shot:
        if self._keeper is None:
            return shot
        t_s, reported, _, weight_g = self._trace.cut(first_row)
        channels = self._setup.channels
        inside = [mark for mark in marks if mark.kind is not MarkKind.SET]
        stream = Stream(
            channels=channels,
            t_s=t_s,
            temps_degc=reported,
            weight_g=weight_g if self._setup.has_weight else None,
            marks=tuple(inside),
            mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s, side="left")) for mark in inside),
            meta={"basket_channel": channels[self._setup.basket]},
        )
        return self._keeper.keep(shot, stream)

    def _replace(self, shot: Shot) -> list[Event]:
        self.shots = [shot if other.key == shot.key else other for other in self.shots]
        if self._last and self._last.shot.key == shot.key:
            self._last.shot = shot
        return [ShotRevised(shot)]
