"""A test plan: settings, how often and in which order they are pulled, and how far apart."""

from __future__ import annotations

from enum import StrEnum
from math import isfinite

import msgspec

from benchtemp.errors import BadInput
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.evidence.typed import PLAN_SHOT_TAG, PLAN_TAG
from benchtemp.studies.plans.order import Order, order_sentence, sequence
from benchtemp.studies.wording import listed, number, temp
from benchtemp.units import TempUnit

MOST_SHOTS = 500
NAME_LENGTH = 80


class PlanKind(StrEnum):
    """What a plan is for; each answers to a study."""

    STEADY = "steady series"
    IDLE = "idle series"
    FLUSH = "flush series"
    SETPOINT = "setpoint series"
    WARM_UP = "warm-up"
    BEFORE_AFTER = "before and after"
    MACHINES = "machine against machine"
    OWN = "own"

    @property
    def study(self) -> str:
        """Return the study that reads such shots."""
        return {
            PlanKind.STEADY: "steadiness",
            PlanKind.IDLE: "routine",
            PlanKind.FLUSH: "routine",
            PlanKind.SETPOINT: "setpoint",
            PlanKind.WARM_UP: "warm-up",
            PlanKind.BEFORE_AFTER: "comparison",
            PlanKind.MACHINES: "comparison",
            PlanKind.OWN: "steadiness",
        }[self]


_STUDY_OF_VARIED = (
    (frozenset({"operator", "probe"}), "testers"),
    (frozenset({"setpoint"}), "setpoint"),
    (frozenset({"idle time", "flush"}), "routine"),
    (frozenset({"minutes since switch-on"}), "warm-up"),
)


def _between(name: str, value: float | None, low: float, high: float, unit: str) -> None:
    if value is not None and not (isfinite(value) and low <= value <= high):
        raise BadInput(f"{name} of {value:g} {unit} cannot be; give {low:g} to {high:g} {unit}.")


class PlannedShot(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """The settings a shot is pulled at; what is not given does not matter.

    Attributes:
        setpoint_degc: As displayed.
        idle_min: Time without water before the shot and its flush.
        flush_s, flush_g: Water let through before the shot, by time or by weight; 0 for none.
        since_on_min: Minutes since switch-on at pump start.
        factors: Free ones, by tag name: `coffee`, `operator`, `machine` …
    """

    setpoint_degc: float | None = None
    idle_min: float | None = None
    flush_s: float | None = None
    flush_g: float | None = None
    since_on_min: float | None = None
    factors: dict[str, str] = {}

    def __post_init__(self) -> None:
        _between("A setpoint", self.setpoint_degc, 20, 140, "°C")
        _between("An idle time", self.idle_min, 0, 24 * 60, "min")
        _between("A flush", self.flush_s, 0, 120, "s")
        _between("A flush", self.flush_g, 0, 1000, "g")
        _between("A time since switch-on", self.since_on_min, 0, 24 * 60, "min")
        if self.flush_s is not None and self.flush_g is not None:
            raise BadInput("A flush is given in seconds or in grams, not both; leave one out.")
        for name, value in self.factors.items():
            if not name.strip() or not value.strip() or len(name) > 60 or len(value) > 120:
                raise BadInput("A factor needs a name and a value, such as coffee = 'house blend'.")

    def said(self, unit: TempUnit = TempUnit.DEGC) -> str:
        """Return the settings in words; empty where none is given."""
        parts: list[str] = []
        parts += [f"{name} {value}" for name, value in self.factors.items()]
        if self.setpoint_degc is not None:
            parts.append(f"setpoint {temp(self.setpoint_degc, unit, 1).replace('.0 ', ' ')}")
        if self.since_on_min is not None:
            parts.append(f"{number(self.since_on_min, 0)} min after switching on")
        if self.idle_min is not None:
            parts.append(f"after {number(self.idle_min, 1).removesuffix('.0')} min idle")
        flush = self.flush_s if self.flush_s is not None else self.flush_g
        if flush is not None:
            amount = f"{number(flush, 1).removesuffix('.0')} {'s' if self.flush_s is not None else 'g'}"
            parts.append(f"flush {amount}" if flush else "no flush")
        return ", ".join(parts)

    def tags(self) -> dict[str, str]:
        """Return the tags a shot pulled at these settings carries."""
        found = dict(self.factors)
        if self.setpoint_degc is not None:
            found["setpoint"] = f"{self.setpoint_degc:g} °C"
        if self.idle_min is not None:
            found["idle time"] = f"{self.idle_min:g} min"
        if self.flush_s is not None:
            found["flush"] = f"{self.flush_s:g} s" if self.flush_s else "none"
        if self.flush_g is not None:
            found["flush"] = f"{self.flush_g:g} g" if self.flush_g else "none"
        if self.since_on_min is not None:
            found["minutes since switch-on"] = f"{self.since_on_min:g} min"
        return found


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """One shot to be pulled.

    Attributes:
        number: Its place in the plan's order, from 1.
        repeat: From 1.
        shot: Its settings.
    """

    number: int
    repeat: int
    shot: PlannedShot


class Plan(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A test plan.

    Attributes:
        name: Also the value of the shots' `plan` tag.
        machine: Under test; empty where the shots name it.
        purpose: In a sentence, for the report.
        kind: What it is for.
        shots: The different settings; one of them is pulled `repeats` times.
        repeats: How often each is pulled.
        order, seed: In which order; see `sequence`.
        interval_min: From pump start to pump start; None where idle times or the operator decide.
        rest_min: Pause between repeats.
        recipe: Held to; None for the operator's own.
    """

    name: str
    machine: str = ""
    purpose: str = ""
    kind: PlanKind = PlanKind.OWN
    shots: tuple[PlannedShot, ...] = (PlannedShot(),)
    repeats: int = 1
    order: Order = Order.AS_WRITTEN
    seed: int = 1
    interval_min: float | None = None
    rest_min: float = 0.0
    recipe: Recipe | None = None

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > NAME_LENGTH or not self.name.isprintable():
            raise BadInput(f"A plan needs a name of 1 to {NAME_LENGTH} characters.")
        if not self.shots:
            raise BadInput("A plan needs at least one shot.")
        if not 1 <= self.repeats <= MOST_SHOTS or self.repeats * len(self.shots) > MOST_SHOTS:
            raise BadInput(
                f"A plan holds 1 to {MOST_SHOTS} shots; this one has {self.repeats * len(self.shots)}."
            )
        _between("An interval", self.interval_min, 0.5, 24 * 60, "min")
        _between("A rest", self.rest_min, 0, 24 * 60, "min")
        for shot in self.shots:
            if (
                shot.idle_min is not None
                and self.interval_min is not None
                and shot.idle_min >= self.interval_min
            ):
                raise BadInput(
                    f"A shot after {shot.idle_min:g} min idle cannot start {self.interval_min:g} min after "
                    "the one before; lengthen the interval or leave it out."
                )
        since = [shot.since_on_min for shot in self.shots if shot.since_on_min is not None]
        if since != sorted(since) or (since and self.order is not Order.AS_WRITTEN):
            raise BadInput("Shots at minutes since switch-on must be written and pulled in order of time.")

    def sequence(self) -> tuple[Step, ...]:
        """Return all shots in the order in which they are pulled."""
        return tuple(
            Step(number=number, repeat=repeat + 1, shot=self.shots[place])
            for number, (repeat, place) in enumerate(
                sequence(len(self.shots), self.repeats, self.order, self.seed), start=1
            )
        )

    @property
    def count(self) -> int:
        """Return how many shots there are to pull."""
        return len(self.shots) * self.repeats

    @property
    def varied(self) -> tuple[str, ...]:
        """Return the tags in which the plan's shots differ."""
        tags = [shot.tags() for shot in self.shots]
        names = sorted({name for own in tags for name in own})
        return tuple(name for name in names if len({own.get(name) for own in tags}) > 1)

    @property
    def study(self) -> str:
        """Return the study that reads its shots: the kind's, or of an own plan the one for what it varies."""
        varied = set(self.varied)
        if self.kind is not PlanKind.OWN or not varied:
            return self.kind.study
        for names, study in _STUDY_OF_VARIED:
            if varied & names:
                return study
        return "comparison"

    def order_sentence(self) -> str:
        """Return what the order does against a drift."""
        if self.kind is PlanKind.BEFORE_AFTER:
            return (
                "Before comes first by nature: whatever else changed in between would look like the effect."
            )
        if self.kind is PlanKind.WARM_UP:
            return "Pulled as the minutes go by since switching on."
        return order_sentence(len(self.shots), self.repeats, self.order, self.seed)

    def summary(self, unit: TempUnit = TempUnit.DEGC) -> str:
        """Return the plan in a sentence."""
        varied = self.varied
        about = (
            f", varying {listed(varied)}"
            if varied
            else f" at {said}"
            if (said := self.shots[0].said(unit))
            else ""
        )
        apart = (
            ""
            if self.interval_min is None
            else f", {number(self.interval_min, 1).removesuffix('.0')} min apart"
        )
        on = f" on {self.machine}" if self.machine else ""
        return f"{self.count} shots{on}{about}{apart}."

    def entries(self, step: Step) -> tuple[str, ...]:
        """Return what to enter before a shot as texts of `set` marks, so that its file tells of the plan.

        Tags that another shot of the plan sets and this one does not are taken away.
        """
        every = {name: "" for shot in self.shots for name in shot.tags()}
        tags = {PLAN_TAG: self.name, PLAN_SHOT_TAG: str(step.number), **every, **step.shot.tags()}
        if self.machine:
            tags.setdefault("machine", self.machine)
        texts = [f"tag.{name}={value}" for name, value in tags.items()]
        if self.recipe is not None:
            texts += [
                f"recipe.{name}={value:g}"
                for name, value in msgspec.structs.asdict(self.recipe).items()
                if value is not None
            ]
        return tuple(texts)

    def leaving(self) -> tuple[str, ...]:
        """Return what to enter once the plan is left, so that later shots do not carry its tags."""
        own = (name for shot in self.shots for name in shot.tags())
        names = dict.fromkeys([PLAN_TAG, PLAN_SHOT_TAG, *own])
        return tuple(f"tag.{name}=" for name in names)
