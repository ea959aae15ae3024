"""Where a plan stands, worked out from the plan and the shots pulled for it, and nothing else."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

import msgspec

from benchtemp.studies.evidence.shot_record import Known, ShotRecord
from benchtemp.studies.evidence.typed import PLAN_SHOT_TAG
from benchtemp.studies.outcome import plural
from benchtemp.studies.plans.plan import Plan, Step
from benchtemp.studies.wording import number
from benchtemp.units import TempUnit

AFTER_FLUSH_S = 30.0
"""From the end of a flush to pump on: time to dry, dose and lock in (our choice)."""
PAUSE_LEAST_MIN = 20.0
PAUSE_INTERVALS = 3.0
"""A series is paused when nothing came for so many times its interval, and `PAUSE_LEAST_MIN` more."""
ON_TIME_S = 10.0
"""A start within this of when it was due is on time."""


class Done(msgspec.Struct, frozen=True, kw_only=True):
    """A shot that was pulled for the plan.

    Attributes:
        step: What it was pulled for.
        shot: The shot as it was.
        late_s: How much later than due it started, negative for earlier; None where nothing said when.
        resumed: Whether it was the first after a pause.
        put_back: Whether it did not count, so that the step waits again.
        remarks: What was not as planned, as phrases.
    """

    step: Step
    shot: ShotRecord
    late_s: float | None = None
    resumed: bool = False
    put_back: bool = False
    remarks: tuple[str, ...] = ()


class PlanStatus(msgspec.Struct, frozen=True, kw_only=True):
    """Where a plan stands.

    Attributes:
        plan: The plan.
        done: Shots pulled for it, in order of time.
        queue: Steps still to do, the next one first.
        due: When the next pump start is due; None for whenever the operator is ready.
        paused: Whether the series was interrupted: the next shot resumes it.
        another_day: Whether the next step needs the machine to be switched on from cold again.
    """

    plan: Plan
    done: tuple[Done, ...] = ()
    queue: tuple[Step, ...] = ()
    due: dt.datetime | None = None
    paused: bool = False
    another_day: bool = False

    @property
    def next_step(self) -> Step | None:
        """Return what to pull next, None at the end."""
        return self.queue[0] if self.queue else None

    @property
    def counted(self) -> int:
        """Return how many steps have a shot that counts."""
        return self.plan.count - len(self.queue)

    @property
    def finished(self) -> bool:
        """Tell whether all steps have a shot that counts."""
        return not self.queue

    def wait_s(self, now: dt.datetime) -> float | None:
        """Return seconds until the next pump start is due, negative once it is late; None without a time."""
        return None if self.due is None else (self.due - now).total_seconds()

    def to_plain(self, now: dt.datetime) -> dict[str, Any]:
        """Return it as plain values for JSON, seen from a moment."""
        return {
            "plan": self.plan.name,
            "shots": self.plan.count,
            "counted": self.counted,
            "finished": self.finished,
            "paused": self.paused,
            "another_day": self.another_day,
            "due": None if self.due is None else self.due.isoformat(timespec="seconds"),
            "wait_s": self.wait_s(now),
            "next": None if self.next_step is None else msgspec.to_builtins(self.next_step),
            "sentence": self.sentence(),
            "done": [
                {
                    "number": done.step.number,
                    "path": done.shot.path,
                    "pulled": done.shot.pulled,
                    "late_s": done.late_s,
                    "resumed": done.resumed,
                    "put_back": done.put_back,
                    "remarks": list(done.remarks),
                }
                for done in self.done
            ],
        }

    def sentence(self, unit: TempUnit = TempUnit.DEGC) -> str:
        """Return what to do next, in one sentence."""
        step = self.next_step
        if step is None:
            return f"All {plural(self.plan.count, 'shot')} are done: look at the {self.plan.study} study."
        said = step.shot.said(unit)
        settings = f" ({said})" if said else ""
        again = " again" if any(done.step.number == step.number for done in self.done) else ""
        head = f"shot {step.number} of {self.plan.count}{again}{settings}"
        if self.another_day:
            return f"Switch the cold machine on, and note 'switched on': next is {head}."
        if self.paused:
            return f"Resume when the machine has settled: next is {head}."
        if not self.done:
            return f"Begin with {head}; start the pump when you are ready."
        return f"Next is {head}; {self._when(step)}."

    def _when(self, step: Step) -> str:
        if self.due is None:
            return "start the pump when you are ready"
        at = self.due.strftime("%H:%M:%S")
        if step.shot.since_on_min is not None:
            return f"start the pump at {at}"
        if step.shot.idle_min is not None:
            flush = step.shot.flush_s or step.shot.flush_g
            first = "flush so that you can start" if flush else "leave the machine alone and start"
            return f"{first} the pump at {at}"
        return f"start the pump at {at}"


def where_it_stands(
    plan: Plan,
    shots: Iterable[ShotRecord],
    now: dt.datetime | None = None,
    *,
    switched_on: dt.datetime | None = None,
) -> PlanStatus:
    """Return where a plan stands.

    A shot belongs to the plan by its `plan` tag, and to a step by its `plan shot` tag or, without one,
    because that step was next. A shot that does not count leaves its step open: it goes back to the end of
    its repeat (so that order stays mixed and a rhythm is kept), or, where it depends on the time since
    switch-on, to the end of everything, for another day.

    Args:
        plan: The plan.
        shots: Any shots; those of other plans are passed over.
        now: Decides whether the series is paused; None to take it as going on.
        switched_on: When the machine was last switched on, for steps that count from there; otherwise taken
            from the last shot that knows.
    """
    own = [shot for shot in shots if shot.label("plan").casefold() == plan.name.casefold()]
    own.sort(key=lambda shot: (shot.moment is None, _stamp(shot), shot.pump_on_s))
    queue = list(plan.sequence())
    done: list[Done] = []
    for shot in own:
        if not queue:
            break
        step = _step_of(shot, queue)
        before = done[-1] if done else None
        due, resumed = _due(plan, step, before, shot.moment, _switched_on(shot))
        late_s = None
        if due is not None and shot.moment is not None and not resumed:
            late_s = (shot.moment - due).total_seconds()
        counts = shot.counts and not shot.set_aside
        done.append(
            Done(
                step=step,
                shot=shot,
                late_s=late_s,
                resumed=resumed,
                put_back=not counts,
                remarks=_remarks(step, shot, late_s),
            )
        )
        queue.remove(step)
        if not counts:
            _put_back(queue, step)
    if not queue:
        return PlanStatus(plan=plan, done=tuple(done))
    last = done[-1] if done else None
    on = switched_on or (_switched_on(last.shot) if last else None)
    due, paused = _due(plan, queue[0], last, now, on)
    since = queue[0].shot.since_on_min
    missed = (
        since is not None
        and on is not None
        and (last is not None and last.shot.moment is not None)
        and on + dt.timedelta(minutes=since) < last.shot.moment
    )
    cold = since is not None and (missed or on is None or paused)
    return PlanStatus(
        plan=plan,
        done=tuple(done),
        queue=tuple(queue),
        due=None if paused or cold else due,
        paused=paused and not cold,
        another_day=cold,
    )


def _stamp(shot: ShotRecord) -> float:
    moment = shot.moment
    return moment.timestamp() if moment else 0.0


def _step_of(shot: ShotRecord, queue: list[Step]) -> Step:
    named = shot.label(PLAN_SHOT_TAG)
    return next((step for step in queue if str(step.number) == named), queue[0])


def _put_back(queue: list[Step], step: Step) -> None:
    if step.shot.since_on_min is not None:
        queue.append(step)
        return
    same = [index for index, other in enumerate(queue) if other.repeat == step.repeat]
    alike = all(other.shot == step.shot for other in queue)
    place = len(queue) if alike else same[-1] + 1 if same else 0
    queue.insert(place, step)


def _switched_on(shot: ShotRecord) -> dt.datetime | None:
    since, moment = shot.since_on_min, shot.moment
    if since.value is None or since.known is not Known.MEASURED or moment is None:
        return None
    return moment - dt.timedelta(minutes=since.value)


def _due(
    plan: Plan, step: Step, last: Done | None, now: dt.datetime | None, switched_on: dt.datetime | None
) -> tuple[dt.datetime | None, bool]:
    """Return when a step's pump start is due, and whether the series was paused before it."""
    if step.shot.since_on_min is not None:
        due = None if switched_on is None else switched_on + dt.timedelta(minutes=step.shot.since_on_min)
        last_moment = last.shot.moment if last else None
        fresh = switched_on is not None and last_moment is not None and switched_on > last_moment
        return due, bool(last_moment and now and not fresh and _is_pause(now - last_moment, 60.0))
    moment = last.shot.moment if last else None
    if last is None or moment is None:
        return None, False
    ends = moment + dt.timedelta(seconds=last.shot.shot_time_s or 0.0)
    waits: list[dt.datetime] = []
    if step.shot.idle_min is not None:
        flush_s = (step.shot.flush_s or 0.0) + (
            AFTER_FLUSH_S if step.shot.flush_s or step.shot.flush_g else 0.0
        )
        waits.append(ends + dt.timedelta(minutes=step.shot.idle_min, seconds=flush_s))
    if plan.interval_min is not None:
        waits.append(moment + dt.timedelta(minutes=plan.interval_min))
    if step.repeat != last.step.repeat and plan.rest_min:
        waits.append(ends + dt.timedelta(minutes=plan.rest_min))
    due = max(waits, default=None)
    wanted_min = ((due or ends) - moment).total_seconds() / 60.0
    paused = now is not None and _is_pause(now - moment, wanted_min)
    return due, paused


def _is_pause(gap: dt.timedelta, wanted_min: float) -> bool:
    return gap.total_seconds() / 60.0 > max(PAUSE_INTERVALS * wanted_min, wanted_min + PAUSE_LEAST_MIN)


def _remarks(step: Step, shot: ShotRecord, late_s: float | None) -> tuple[str, ...]:
    found: list[str] = []
    if not shot.counts or shot.set_aside:
        found.append("does not count: " + "; ".join(shot.reasons or ("set aside",)))
    if late_s is not None and abs(late_s) > ON_TIME_S:
        found.append(f"started {number(abs(late_s), 0)} s {'late' if late_s > 0 else 'early'}")
    idle = shot.idle_min.value
    if step.shot.idle_min is not None and idle is not None and abs(idle - step.shot.idle_min) > 0.5:
        found.append(f"{number(idle, 1)} min idle instead of {number(step.shot.idle_min, 1)}")
    flush = shot.flush_s.value
    if step.shot.flush_s is not None and flush is not None and abs(flush - step.shot.flush_s) > 1.0:
        found.append(f"flush {number(flush, 1)} s instead of {number(step.shot.flush_s, 1)}")
    planned = step.shot.setpoint_degc
    if planned is not None and shot.setpoint_degc is not None and abs(shot.setpoint_degc - planned) > 0.05:
        found.append("setpoint other than planned")
    return tuple(found)
