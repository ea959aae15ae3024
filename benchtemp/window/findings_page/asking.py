"""What Findings is asked, what there is to ask about, and how it is answered. Knows no widgets."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

from benchtemp.errors import BenchtempError
from benchtemp.reports.answering import Asked, Wanted, answer
from benchtemp.studies.evidence.shot_set import Selection, chosen

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.reading import Stream
    from benchtemp.studies.evidence.shot_record import ShotRecord
    from benchtemp.studies.evidence.shot_set import ShotSet
    from benchtemp.studies.outcome import Study
    from benchtemp.studies.plans.plan import Plan


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question to the logbook.

    Attributes:
        asked: The study.
        selection: Which shots.
        wanted: What it is about.
    """

    asked: Asked = Asked.STEADINESS
    selection: Selection = field(default_factory=Selection)
    wanted: Wanted = field(default_factory=Wanted)


@dataclass(frozen=True)
class Answer:
    """What came of a question.

    Attributes:
        question: As it was asked.
        study: Its outcome.
        shots: All that were meant, also those the study did not use.
    """

    question: Question
    study: Study
    shots: ShotSet


@dataclass(frozen=True)
class Scope:
    """What is in a logbook to ask about.

    Attributes:
        shots: All of them, in order of time, those that do not count among them.
        complaints: Files that could not be read.
        plans: The test plans that shots were pulled for, the latest last; None where the file is gone.
        channels: Of each recording, by its file name.
    """

    shots: tuple[ShotRecord, ...] = ()
    complaints: tuple[str, ...] = ()
    plans: dict[str, Plan | None] = field(default_factory=dict)
    channels: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def machines(self) -> tuple[str, ...]:
        """Return the machines, by name."""
        return tuple(sorted({shot.machine for shot in self.shots if shot.machine}, key=str.casefold))

    @property
    def further_channels(self) -> tuple[str, ...]:
        """Return channels other than the first of a recording."""
        return tuple(sorted({name for names in self.channels.values() for name in names[1:]}))

    @property
    def days(self) -> tuple[str, ...]:
        """Return the days on which shots were pulled."""
        return tuple(sorted({shot.date for shot in self.shots if shot.date}))

    @property
    def tag_names(self) -> tuple[str, ...]:
        """Return the tags that take more than one value."""
        values: dict[str, set[str]] = {}
        for shot in self.shots:
            for name, value in shot.tags.items():
                values.setdefault(name, set()).add(value)
        own = {"machine", "plan", "plan shot"}
        return tuple(sorted(name for name in values if name not in own))

    def tag_values(self, name: str) -> tuple[str, ...]:
        """Return the values of a tag."""
        return tuple(sorted({shot.label(name) for shot in self.shots if shot.label(name)}))

    def suited(self, kind: Asked) -> Selection:
        """Return the shots a study is best asked about first: the latest pulled for such a question."""
        if kind is Asked.CYCLE:
            watched = [shot for shot in self.shots if len(self.channels.get(shot.recording, ())) > 1]
            return _of(watched[-1]) if watched else Selection()
        if kind is Asked.TESTERS:
            told = [shot for shot in self.shots if shot.operator]
            return _of(told[-1]) if told else Selection()
        for name, plan in reversed(self.plans.items()):
            if plan is not None and plan.study == kind.value:
                # Idle and flush series belong together.
                whole = kind is Asked.ROUTINE and plan.machine
                return Selection(machines=(plan.machine,)) if whole else Selection(plan=name)
        last = next((shot.machine for shot in reversed(self.shots) if shot.machine), "")
        return Selection(machines=(last,)) if last and kind is not Asked.COMPARISON else Selection()

    def first_question(self) -> Question:
        """Return what to ask when nothing was asked yet: about the plan the latest shots were pulled for."""
        name, plan = next(reversed(self.plans.items()), ("", None))
        if plan is None:
            return Question(selection=self.suited(Asked.STEADINESS))
        return about_plan(plan, name)


def about_plan(plan: Plan, name: str = "") -> Question:
    """Return the question a plan is for."""
    asked = Asked(plan.study)
    factor = next(iter(plan.varied), "machine") if asked is Asked.COMPARISON else "machine"
    selection = Selection(plan=name or plan.name)
    if asked is Asked.ROUTINE and plan.machine:
        selection = Selection(machines=(plan.machine,))
    return Question(asked=asked, selection=selection, wanted=Wanted(by=factor))


def _of(shot: ShotRecord) -> Selection:
    plan = shot.label("plan")
    return Selection(plan=plan) if plan else Selection(machines=(shot.machine,) if shot.machine else ())


def read_scope(logbook: Logbook) -> Scope:
    """Return what is in a logbook; reads every shot's header: do it in the background.

    Raises:
        StorageError: The folder cannot be read.
    """
    from benchtemp.studies.evidence.gathering import gather  # noqa: PLC0415 - not needed to paint
    from benchtemp.studies.plans.plan_file import plans_in  # noqa: PLC0415

    found = gather(logbook)
    shots = sorted(
        (*found.used, *(left.shot for left in found.left_out)),
        key=lambda shot: (shot.pulled, shot.pump_on_s),
    )
    written, _ = plans_in(logbook)
    by_name = {plan.name.casefold(): plan for plan in written.values()}
    names = [shot.label("plan") for shot in shots if shot.label("plan")]
    latest = list(dict.fromkeys(reversed(names)))[::-1]
    return Scope(
        shots=tuple(shots),
        complaints=found.complaints,
        plans={name: by_name.get(name.casefold()) for name in latest},
        channels=_channels(logbook.recordings_dir, {shot.recording for shot in shots if shot.recording}),
    )


def _channels(folder: Path, names: set[str]) -> dict[str, tuple[str, ...]]:
    from benchtemp.logbook.ecsv import read_meta  # noqa: PLC0415

    found: dict[str, tuple[str, ...]] = {}
    for name in sorted(names):
        try:
            written = read_meta(folder / name).get("channels")
        except (BenchtempError, OSError):
            continue
        if isinstance(written, list):
            found[name] = tuple(str(one.get("name", "")) for one in written if isinstance(one, dict))
    return found


def answered(logbook: Logbook, scope: Scope, question: Question) -> Answer:
    """Answer a question; takes a second or so: do it in the background.

    Raises:
        BadInput: The shots do not allow the study, with what is missing.
    """
    from benchtemp.logbook.preferences import load_preferences  # noqa: PLC0415

    check_days = load_preferences()[0].check_days
    shots = chosen(scope.shots, question.selection, complaints=scope.complaints, check_days=check_days)
    recordings = partial(_watching, logbook, scope, shots, question)
    return Answer(question, answer(question.asked, shots, question.wanted, recordings=recordings), shots)


def _watching(logbook: Logbook, scope: Scope, shots: ShotSet, question: Question) -> dict[str, Stream]:
    """Read the recordings of these shots that have the channel asked about: no others are needed."""
    from benchtemp.studies.evidence.gathering import recordings_of  # noqa: PLC0415 - not needed to paint

    wanted = question.wanted
    channel = wanted.settling_channel if question.asked is Asked.WARM_UP else wanted.channel
    names = [shot.recording for shot in (*shots.used, *(left.shot for left in shots.left_out))]
    return recordings_of(logbook, [name for name in names if channel in scope.channels.get(name, ())])
