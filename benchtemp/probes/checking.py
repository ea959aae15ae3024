"""A guided check: probes in one bath after another, reading by reading, until each has settled.

Whoever runs it (the window, a terminal, a test) tells what the bath is, feeds readings as reported, and looks
at the progress; the check finds by itself when the probes have settled and at what level. Nothing here writes
a file: what came of it is handed out as `Check` objects, and keeping them takes the user's yes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf, isfinite, nan

import msgspec

from benchtemp.errors import BadInput
from benchtemp.probes import boiling
from benchtemp.probes.bath import BathComparison, compare_in_bath
from benchtemp.probes.bath_progress import InBath, Progress, Watched, open_text, waiting_for
from benchtemp.probes.calibration import CheckPoint, point_from
from benchtemp.probes.check import DEFAULT_LIMIT_K, Check, make_check
from benchtemp.probes.reference import Reference, ReferenceKind
from benchtemp.probes.settle import DEFAULT_RULE, BathState, Level, NotSettled, Pick, SettleRule
from benchtemp.probes.tolerance import ToleranceClass, class_tolerance_k
from benchtemp.units import MINUS

_PICKS = {
    ReferenceKind.BOILING: Pick.HIGHEST,
    ReferenceKind.ICE: Pick.LOWEST,
    ReferenceKind.THERMOMETER: Pick.LAST,
}
_STILL = (BathState.STEADY, BathState.SETTLED)


class CheckRule(msgspec.Struct, frozen=True, kw_only=True):
    """How patient a check is.

    Attributes:
        settle: What counts as settled.
        hold_s: How long a settled stretch must be before its level is taken.
        open_s: How long a probe may give nothing before the check is given up.
        longest_s: How long a bath may take altogether.
    """

    settle: SettleRule = DEFAULT_RULE
    hold_s: float = 45.0
    open_s: float = 10.0
    longest_s: float = 1800.0


DEFAULT_CHECK_RULE = CheckRule()


class ProbeCheck:
    """A check of one or several probes; see the module.

    Attributes:
        names: The probes, in the order given.
        limit_k: How far a probe may be off.
        comparisons: Of the baths that held several probes, in order.
    """

    def __init__(
        self,
        probes: Mapping[int, str],
        *,
        limit_k: float = DEFAULT_LIMIT_K,
        rule: CheckRule = DEFAULT_CHECK_RULE,
    ) -> None:
        """Begin a check, with no bath yet.

        Args:
            probes: Names by channel, counted from 0.
            limit_k: How far a probe may be off, K.
            rule: How patient it is.

        Raises:
            BadInput: No probes, two of the same name, or a limit that is not above 0.
        """
        names = tuple(probes.values())
        if not names:
            raise BadInput("A check needs a probe; name one.")
        if len({name.casefold() for name in names}) < len(names):
            raise BadInput("Two channels were given the same probe; name each probe once.")
        if not (isfinite(limit_k) and limit_k > 0.0):
            raise BadInput(
                f"A limit of {limit_k:g} °C cannot be; give how far the probe may be off, such as 0.5."
            )
        self.names = names
        self.limit_k = limit_k
        self.comparisons: list[BathComparison] = []
        self._channels = tuple(probes)
        self._rule = rule
        self._points: dict[str, list[CheckPoint]] = {name: [] for name in names}
        self._references: list[Reference] = []
        self._earlier: dict[str, Check] = {}
        self._reference: Reference | None = None
        self._altitude_m: float | None = None
        self._pick = Pick.LAST
        self._bath: list[Watched] = []

    # -- a bath

    def begin_bath(self, reference: Reference | None, *, altitude_m: float | None = None) -> None:
        """Begin a bath; one under way is dropped.

        Args:
            reference: What its temperature is; None to hold probes against each other alone.
            altitude_m: The altitude the reference rests on alone, to tell when it looks to be in feet.
        """
        self._reference = reference
        self._altitude_m = altitude_m
        self._pick = Pick.LAST if reference is None else _PICKS[reference.kind]
        self._bath = [Watched(name, self._rule.settle, self._pick) for name in self.names]

    def step(self, t_s: float, reported_degc: Sequence[float]) -> None:
        """Take in one reading of all channels, as reported.

        Args:
            t_s: Its time, not before the one before it.
            reported_degc: °C by channel, NaN where one gave none; a channel that is missing gave none.
        """
        for channel, watched in zip(self._channels, self._bath, strict=True):
            watched.step(t_s, reported_degc[channel] if channel < len(reported_degc) else nan)

    def progress(self) -> Progress:
        """Return how the bath is doing.

        Raises:
            BadInput: No bath was begun.
        """
        if not self._bath:
            raise BadInput("There is no bath yet; begin one first.")
        times = self._bath[0].times
        elapsed_s = times[-1] - times[0] if times else 0.0
        probes = tuple(self._in_bath(watched) for watched in self._bath)
        levels = [probe.status.level for probe in probes]
        held = all(self._held(probe) for probe in probes)
        overlong = elapsed_s > self._rule.longest_s and not held
        trouble = next((probe.complaint for probe in probes if probe.complaint), "")
        if overlong and not trouble:
            slow = next((w for w, level in zip(self._bath, levels, strict=True) if level is None), None)
            slow = slow or self._bath[0]
            trouble = slow.why_not(self._rule.settle, self._pick)
        open_s = max(watched.open_for_s() for watched in self._bath)
        misplaced = any(probe.complaint and probe.status.level and self._held(probe) for probe in probes)
        return Progress(
            elapsed_s,
            probes,
            ready=held and not trouble,
            trouble=trouble,
            lost=bool(trouble) and (overlong or misplaced or open_s > self._rule.open_s),
            text=waiting_for(probes, held=held),
        )

    def _in_bath(self, watched: Watched) -> InBath:
        status = watched.watch.status()
        complaint, error_k = "", None
        if status.state is BathState.OPEN:
            complaint = open_text(watched.name)
        elif status.level is not None and self._reference is not None:
            error_k = status.level.mean.value - self._reference.temp_degc
            try:
                point_from(status.level, self._reference)
            except BadInput as error:
                complaint = f"{error}{self._meant_in_feet(status.level.mean.value)}"
                if status.state not in _STILL:
                    complaint = ""  # it is on its way to somewhere else
        return InBath(watched.name, watched.last_degc, status, error_k, complaint)

    def _held(self, probe: InBath) -> bool:
        """Tell whether a probe keeps still now, at the level that counts, and has for long enough."""
        level = probe.status.level
        return (
            level is not None
            and probe.status.state in _STILL
            and level.end_s - level.start_s >= self._rule.hold_s
            and level.end_s >= self._now_s() - self._rule.settle.window_s
        )

    def _now_s(self) -> float:
        times = self._bath[0].times
        return times[-1] if times else -inf

    def _meant_in_feet(self, reported_degc: float) -> str:
        """Return a question where the reading goes with the altitude's number in feet, not in metres."""
        if self._altitude_m is None or self._reference is None:
            return ""
        in_feet = boiling.boiling_reference(altitude_m=self._altitude_m * 0.3048)
        off_k = abs(reported_degc - self._reference.temp_degc)
        off_in_feet_k = abs(reported_degc - in_feet.temp_degc)
        if off_k < 1.0 or off_in_feet_k > 0.5 * off_k or off_in_feet_k > 1.5:
            return ""
        return (
            f" Was the altitude meant in feet? At {self._altitude_m:.0f} ft water boils at "
            f"{in_feet.temp_degc:.1f} °C."
        )

    def finish_bath(self) -> None:
        """End the bath and take its points.

        Raises:
            NotSettled: A probe has not settled; the sentence says why.
            BadInput: No bath was begun, or a level is so far off that the bath cannot be what it should be.
        """
        levels = self._levels()
        comparison = compare_in_bath(levels, self._reference) if len(levels) > 1 else None
        if self._reference is not None:
            points = {name: self._point(name, level) for name, level in levels.items()}
            for name, point in points.items():
                self._points[name].append(point)
            self._references.append(self._reference)
        if comparison is not None:
            self.comparisons.append(comparison)
        self._bath = []

    def _levels(self) -> dict[str, Level]:
        if not self._bath:
            raise BadInput("There is no bath yet; begin one first.")
        for watched in self._bath:
            if watched.watch.state is BathState.OPEN:
                raise NotSettled(open_text(watched.name))
        levels: dict[str, Level] = {}
        for watched in self._bath:
            level = watched.watch.level()
            if level is None:
                raise NotSettled(watched.why_not(self._rule.settle, self._pick))
            levels[watched.name] = level
        return levels

    def _point(self, name: str, level: Level) -> CheckPoint:
        assert self._reference is not None
        try:
            return point_from(level, self._reference)
        except BadInput as error:
            whose = f"{name}: " if len(self.names) > 1 else ""
            raise BadInput(f"{whose}{error}{self._meant_in_feet(level.mean.value)}") from error

    # -- what came of it

    def join(self, name: str, earlier: Check) -> None:
        """Let the points of an earlier check of a probe count together with those of this one."""
        self._points[name][:0] = earlier.points
        self._earlier[name] = earlier

    def points(self, name: str) -> tuple[CheckPoint, ...]:
        """Return the points of a probe so far."""
        return tuple(self._points[name])

    def checks(
        self, *, checked: str, operator: str = "", recording: str = "", note: str = ""
    ) -> dict[str, Check]:
        """Return what came of the check, by probe; nothing is saved.

        Args:
            checked: When, ISO 8601.
            operator: Who.
            recording: Name of the recording that holds the readings.
            note: Anything to add.

        Raises:
            BadInput: There are no points, or they lie too close together.
        """
        found: dict[str, Check] = {}
        for name in self.names:
            check = make_check(
                self._points[name],
                probe=name,
                checked=checked,
                operator=operator,
                limit_k=self.limit_k,
                references=self._references,
                recording=recording,
                note=note,
            )
            earlier = self._earlier.get(name)
            if earlier is not None:
                check = msgspec.structs.replace(check, conditions=_joined(earlier, check, self._references))
            found[name] = check
        return found

    def remarks(self, name: str, tolerance_class: ToleranceClass = ToleranceClass.IEC_2) -> tuple[str, ...]:
        """Return sentences to read before saving: errors that a probe is not likely to have."""
        found: list[str] = []
        for point in self._points[name]:
            if point.kind is ReferenceKind.BOILING and (asked := self._meant_in_feet(point.reported_degc)):
                found.append(asked.strip())
            try:
                usual_k = class_tolerance_k(point.reference_degc, tolerance_class)
            except BadInput:
                continue
            if abs(point.error_k) > usual_k:
                error = f"{point.error_k:+.1f}".replace("-", MINUS)
                found.append(
                    f"An error of {error} °C in the {point.kind} is more than the ± {usual_k:g} °C of the "
                    "probe's class: look at the bath, its pressure and the place of the tip first."
                )
        return tuple(dict.fromkeys(found))


def _joined(earlier: Check, check: Check, references: Sequence[Reference]) -> dict[str, str]:
    """Return the conditions of two checks in one, each named by its bath."""
    whose = str(references[0].kind) if len(references) == 1 else ""
    now = {
        f"{whose}: {name}" if whose and not name.startswith(f"{whose}: ") else name: text
        for name, text in check.conditions.items()
    }
    before = {
        name if ": " in name else f"{earlier.method}: {name}": text
        for name, text in earlier.conditions.items()
    }
    return {**before, f"{earlier.method}: checked": earlier.checked, **now}
