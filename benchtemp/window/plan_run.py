"""A test plan run on the bench: what is next and when, and the tags its shots carry. Knows no widgets."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.shots.stages import Stage
from benchtemp.studies.evidence.typed import PLAN_SHOT_TAG, PLAN_TAG
from benchtemp.window.panels.recipe import changes_to
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.shots.recipe import Recipe
    from benchtemp.shots.shot import Shot
    from benchtemp.studies.evidence.shot_record import ShotRecord
    from benchtemp.studies.plans.plan import Plan
    from benchtemp.studies.plans.status import PlanStatus

BEEPS_S = (10.0, 2.0, 1.0, 0.0)
"""A sound is given when so much time is left (our choice)."""
AFTER_S = 1.0
"""The next shot gets its tags so long after pump off at the earliest: until then they are the last one's."""
LOOK_AGAIN_S = 5.0
"""A pause begins by time passing alone: how often that is looked for."""


class PlanRun(QObject):
    """Holds the plan under way, if any.

    Signals:
        changed: Another plan, or it stands elsewhere.
        entered: Text of a `set` mark for the next shot.
        due: It is time for a sound.
        failed: A sentence on why the plan's earlier shots cannot be read.
    """

    changed = Signal()
    entered = Signal(str)
    due = Signal()
    failed = Signal(str)

    def __init__(self, logbook: Logbook, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._logbook = logbook
        self.plan: Plan | None = None
        self.status: PlanStatus | None = None
        self._earlier: tuple[ShotRecord, ...] | None = None
        self._snapshot: Snapshot | None = None
        self._began: dt.datetime | None = None
        self._shots: tuple[Shot, ...] = ()
        self._notes = 0
        self._looked: dt.datetime | None = None
        self._left_s: float | None = None
        self._told: tuple[str, ...] = ()
        self._own_recipe: Recipe | None = None
        self._returned: tuple[Recipe, Recipe] | None = None
        self._reading = Background(self, name="shots of the plan")
        self._reading.done.connect(self._take_earlier)
        self._reading.failed.connect(self.failed)

    # -- what the user wants -------------------------------------------------------------------------------

    def begin(self, plan: Plan) -> None:
        """Take up a plan, where its shots have left it."""
        self.leave()
        self.plan = plan
        self._earlier = None
        self._reading.start(partial(shots_of, self._logbook, plan.name))
        self.changed.emit()

    def leave(self) -> None:
        """Let the plan be; it can be taken up again at any time."""
        if self.plan is None:
            return
        if self._snapshot is not None and self._told:
            for text in self.plan.leaving():
                self.entered.emit(text)
            self._give_recipe_back(self._snapshot)
        self._forget()
        self.changed.emit()

    def _forget(self) -> None:
        self._reading.forget()
        self.plan = self.status = self._earlier = self._left_s = None
        self._told = ()
        self._own_recipe = None

    def own_tags(self, tags: dict[str, str]) -> dict[str, str]:
        """Return tags without those that come from a plan, which no later sitting shall carry."""
        leaving = () if self.plan is None else self.plan.leaving()
        mine = {PLAN_TAG, PLAN_SHOT_TAG, *(text.removeprefix("tag.").rstrip("=") for text in leaving)}
        return {name: value for name, value in tags.items() if name not in mine}

    def own_recipe(self, recipe: Recipe) -> Recipe:
        """Return the user's own recipe where the plan's is in force, for later sittings."""
        own = self._own_recipe
        return recipe if own is None else self._with_dose(own, recipe)

    def _with_dose(self, wanted: Recipe, now: Recipe) -> Recipe:
        """Return a recipe with the dose that is set now, unless the plan has one of its own."""
        plan = self.plan
        planned = plan is not None and plan.recipe is not None and plan.recipe.dose_g is not None
        return wanted if planned else msgspec.structs.replace(wanted, dose_g=now.dose_g)

    def _take_recipe(self, snapshot: Snapshot) -> None:
        """Put the plan's recipe in force, if it has one, and remember the user's."""
        if self.plan is None or self.plan.recipe is None:
            return
        now = snapshot.recipe
        if self._returned is not None and now == self._returned[0]:
            # What was given back a moment ago has been entered, and is only not to be seen yet.
            now = self._returned[1]
        if self._own_recipe is None:
            self._own_recipe = now
        for text in changes_to(now, self._with_dose(self.plan.recipe, now)):
            self.entered.emit(text)

    def _give_recipe_back(self, snapshot: Snapshot) -> None:
        """Put the user's own recipe in force again."""
        if self._own_recipe is None:
            return
        own = self.own_recipe(snapshot.recipe)
        for text in changes_to(snapshot.recipe, own):
            self.entered.emit(text)
        self._own_recipe, self._returned = None, (snapshot.recipe, own)

    # -- looking -------------------------------------------------------------------------------------------

    @Slot(object)
    def show_snapshot(self, snapshot: Snapshot | None) -> None:
        """Follow the bench."""
        before, self._snapshot = self._snapshot, snapshot
        if snapshot is None:
            if before is not None and self.plan is not None:
                # What was pulled in the sitting that ended is read from its files from now on.
                self._earlier = None
                self._reading.start(partial(shots_of, self._logbook, self.plan.name))
                self.status = None
                self.changed.emit()
            self._began, self._shots, self._told, self._notes = None, (), (), 0
            # The next sitting begins with the user's own.
            self._own_recipe = self._returned = None
            return
        if self._began is None:
            self._began = dt.datetime.now().astimezone() - dt.timedelta(seconds=snapshot.now_s)
        if self.plan is None or self._earlier is None:
            return
        now = self.now
        changed = snapshot.shots != self._shots or len(snapshot.marks) != self._notes
        stale = self._looked is None or abs((now - self._looked).total_seconds()) >= LOOK_AGAIN_S
        if changed or stale or self.status is None:
            self._work_out()
        else:
            self._enter()
        self._sound()

    @property
    def now(self) -> dt.datetime:
        """Return the moment on the source's clock."""
        if self._snapshot is None or self._began is None:
            return dt.datetime.now().astimezone()
        return self._began + dt.timedelta(seconds=self._snapshot.now_s)

    @property
    def wait_s(self) -> float | None:
        """Return seconds until the pump is to be started, negative once it is late; None for no time set."""
        return None if self.status is None else self.status.wait_s(self.now)

    @property
    def pulling(self) -> bool:
        """Tell whether a shot is under way."""
        snapshot = self._snapshot
        return snapshot is not None and (
            snapshot.pump_running
            or snapshot.stage is Stage.PLATEAU
            # A climb that nobody marked may be a portafilter warming up.
            or (snapshot.stage is Stage.RISING and snapshot.pump_marked)
        )

    @property
    def sitting(self) -> bool:
        """Tell whether a bench is there to run it on."""
        return self._snapshot is not None

    @Slot(object)
    def _take_earlier(self, shots: tuple[ShotRecord, ...]) -> None:
        self._earlier = shots
        self._work_out()

    def _work_out(self) -> None:
        from benchtemp.studies.plans.status import where_it_stands  # noqa: PLC0415 - not needed to paint

        if self.plan is None or self._earlier is None:
            return
        snapshot = self._snapshot
        here: list[ShotRecord] = []
        recording = ""
        withdrawn = False
        if snapshot is not None:
            withdrawn = len(snapshot.shots) < len(self._shots)
            self._shots, self._notes = snapshot.shots, len(snapshot.marks)
            recording = snapshot.recording.name if snapshot.recording is not None else ""
            here = self._records(snapshot)
        earlier = [shot for shot in self._earlier if not recording or shot.recording != recording]
        self._looked = self.now
        before = self.status
        self.status = where_it_stands(
            self.plan, [*earlier, *here], self.now, switched_on=self._switched_on(snapshot)
        )
        if snapshot is not None:
            self._enter(anyway=withdrawn)
        if self.status != before:
            self._left_s = self.wait_s
            self.changed.emit()

    def _records(self, snapshot: Snapshot) -> list[ShotRecord]:
        from benchtemp.studies.evidence.shot_record import record_of  # noqa: PLC0415

        found = []
        for taken in snapshot.shots:
            # The ratio of a cup that still fills says nothing against a shot yet.
            shot = msgspec.structs.replace(taken, yield_g=None) if taken.filling else taken
            record = record_of(shot, marks=snapshot.marks)
            moment = record.moment
            if moment is not None:
                # The recording's own beginning: what is due is counted on the same clock.
                self._began = moment - dt.timedelta(seconds=record.pump_on_s)
            if not shot.is_flush:
                found.append(record)
        return found

    def _switched_on(self, snapshot: Snapshot | None) -> dt.datetime | None:
        from benchtemp.studies.evidence.pump_times import SWITCHED_ON  # noqa: PLC0415

        if snapshot is None or self._began is None:
            return None
        noted = [mark.t_s for mark in snapshot.marks if SWITCHED_ON.search(mark.text)]
        return self._began + dt.timedelta(seconds=noted[-1]) if noted else None

    # -- entering ------------------------------------------------------------------------------------------

    def _enter(self, *, anyway: bool = False) -> None:
        """Give the next shot its tags.

        Not while one is under way, which has its own already, unless its end was taken back after the tags
        of the next one had been given.
        """
        status, snapshot = self.status, self._snapshot
        if status is None or snapshot is None or self.plan is None or (self.pulling and not anyway):
            return
        ended_s = snapshot.pump_off_s
        if ended_s is not None and snapshot.now_s - ended_s < AFTER_S and not anyway:
            return
        step = status.next_step
        texts = self.plan.leaving() if step is None else self.plan.entries(step)
        if texts == self._told:
            return
        self._told = texts
        for text in texts:
            name, _, value = text.removeprefix("tag.").partition("=")
            # The recipe goes by what is in force, so that it holds together after every single entry.
            if text.startswith("tag.") and snapshot.tags.get(name, "") != value:
                self.entered.emit(text)
        if step is None:
            self._give_recipe_back(snapshot)
        else:
            self._take_recipe(snapshot)

    def _sound(self) -> None:
        left_s, before_s = self.wait_s, self._left_s
        self._left_s = left_s
        if left_s is None or before_s is None or self.pulling:
            return
        if any(left_s <= at_s < before_s for at_s in BEEPS_S):
            self.due.emit()

    def close_down(self) -> None:
        """Wait for what is being read."""
        self._reading.join()


def shots_of(logbook: Logbook, plan_name: str) -> tuple[ShotRecord, ...]:
    """Return the shots pulled for a plan, those that do not count among them.

    Raises:
        StorageError: The folder cannot be read.
    """
    from benchtemp.studies.evidence.gathering import gather  # noqa: PLC0415 - not needed to paint
    from benchtemp.studies.evidence.shot_set import Selection  # noqa: PLC0415

    found = gather(logbook, Selection(plan=plan_name))
    return (*found.used, *(left.shot for left in found.left_out))
