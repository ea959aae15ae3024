"""What Findings is asked, what there is to ask about, and how it is answered. Knows no widgets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.studies.evidence.shot_set import Selection, chosen

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.logbook.folder import Logbook
    from benchtemp.studies.evidence.shot_record import ShotRecord
    from benchtemp.studies.evidence.shot_set import ShotSet
    from benchtemp.studies.outcome import Study
    from benchtemp.studies.plans.plan import Plan


class StudyKind(StrEnum):
    """The studies there are."""

    STEADINESS = "steadiness"
    SETPOINT = "setpoint"
    ROUTINE = "routine"
    WARM_UP = "warm-up"
    CYCLE = "cycle"
    COMPARISON = "comparison"
    TESTERS = "testers"

    @property
    def question(self) -> str:
        """Return what it answers."""
        return {
            StudyKind.STEADINESS: "How alike are shots, one after another and within each?",
            StudyKind.SETPOINT: "What does the machine brew at for what its display says?",
            StudyKind.ROUTINE: "What do idle time and flush do, and how much must be flushed?",
            StudyKind.WARM_UP: "From when on after switching on does it brew as it will all day?",
            StudyKind.CYCLE: "How does the thermostat swing, and when in it is best to start?",
            StudyKind.COMPARISON: "Do machines, settings or days differ, and by how much?",
            StudyKind.TESTERS: "How much of the scatter comes from who, or which probe, measured?",
        }[self]

    @property
    def heading(self) -> str:
        """Return its name for a choice."""
        return "Heating cycle" if self is StudyKind.CYCLE else self.value.capitalize()


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question to the logbook.

    Attributes:
        kind: The study.
        selection: Which shots.
        target_degc: Brew temperature wanted (setpoint, routine, heating cycle).
        idle_min: Idle time to answer for (routine).
        within_k: How close counts as settled (warm-up).
        channel: That watches boiler or group (heating cycle).
        factor: What tells groups apart (comparison).
        matters_k: Smallest difference that matters (comparison).
    """

    kind: StudyKind = StudyKind.STEADINESS
    selection: Selection = field(default_factory=Selection)
    target_degc: float = 93.0
    idle_min: float = 10.0
    within_k: float = 0.5
    channel: str = "T2"
    factor: str = "machine"
    matters_k: float = 0.5


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

    def suited(self, kind: StudyKind) -> Selection:
        """Return the shots a study is best asked about first: the latest pulled for such a question."""
        if kind is StudyKind.CYCLE:
            watched = [shot for shot in self.shots if len(self.channels.get(shot.recording, ())) > 1]
            return _of(watched[-1]) if watched else Selection()
        if kind is StudyKind.TESTERS:
            told = [shot for shot in self.shots if shot.operator]
            return _of(told[-1]) if told else Selection()
        for name, plan in reversed(self.plans.items()):
            if plan is not None and plan.kind.value != "own" and plan.kind.study == kind.value:
                # Idle and flush series belong together.
                whole = kind is StudyKind.ROUTINE and plan.machine
                return Selection(machines=(plan.machine,)) if whole else Selection(plan=name)
        last = next((shot.machine for shot in reversed(self.shots) if shot.machine), "")
        return Selection(machines=(last,)) if last and kind is not StudyKind.COMPARISON else Selection()

    def first_question(self) -> Question:
        """Return what to ask when nothing was asked yet: about the plan the latest shots were pulled for."""
        name, plan = next(reversed(self.plans.items()), ("", None))
        if plan is None:
            return Question(selection=self.suited(StudyKind.STEADINESS))
        return about_plan(plan, name)


def about_plan(plan: Plan, name: str = "") -> Question:
    """Return the question a plan is for."""
    kind = StudyKind(plan.kind.study)
    factor = "machine"
    if kind is StudyKind.COMPARISON:
        factors = [key for shot in plan.shots for key in shot.factors]
        factor = factors[0] if factors else "machine"
    selection = Selection(plan=name or plan.name)
    if kind is StudyKind.ROUTINE and plan.machine:
        selection = Selection(machines=(plan.machine,))
    return Question(kind=kind, selection=selection, factor=factor)


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


def answer(logbook: Logbook, scope: Scope, question: Question) -> Answer:
    """Answer a question; takes a second or so: do it in the background.

    Raises:
        BadInput: The shots do not allow the study, with what is missing.
    """
    shots = chosen(scope.shots, question.selection, complaints=scope.complaints)
    return Answer(question, _study(logbook, scope, shots, question), shots)


def _study(logbook: Logbook, scope: Scope, shots: ShotSet, question: Question) -> Study:
    match question.kind:
        case StudyKind.STEADINESS:
            from benchtemp.studies.steadiness import steadiness  # noqa: PLC0415 - brings scipy

            return steadiness(shots)
        case StudyKind.SETPOINT:
            from benchtemp.studies.setpoint import setpoint  # noqa: PLC0415

            return setpoint(shots, target_degc=question.target_degc)
        case StudyKind.ROUTINE:
            from benchtemp.studies.routine import routine  # noqa: PLC0415

            return routine(shots, idle_min=question.idle_min, target_degc=question.target_degc)
        case StudyKind.WARM_UP:
            from benchtemp.studies.warm_up import warm_up  # noqa: PLC0415

            return warm_up(shots, within_k=question.within_k)
        case StudyKind.CYCLE:
            return _cycle(logbook, scope, shots, question)
        case StudyKind.COMPARISON:
            from benchtemp.studies.comparison import comparison  # noqa: PLC0415
            from benchtemp.studies.evidence.traces import aligned_traces  # noqa: PLC0415

            return comparison(
                shots, question.factor, traces=aligned_traces(shots.used), matters_k=question.matters_k
            )
        case StudyKind.TESTERS:
            from benchtemp.studies.repeatability import repeatability  # noqa: PLC0415

            return repeatability(shots)


def _cycle(logbook: Logbook, scope: Scope, shots: ShotSet, question: Question) -> Study:
    from benchtemp.studies.cycle import heating_cycle  # noqa: PLC0415
    from benchtemp.studies.evidence.gathering import recordings_of  # noqa: PLC0415

    names = [shot.recording for shot in _all(shots)]
    watched = [name for name in names if question.channel in scope.channels.get(name, ())]
    recordings = recordings_of(logbook, watched)
    if not recordings:
        raise BadInput(
            f"None of the recordings meant has a channel {question.channel}; put a probe at the boiler or "
            "the group and record it beside the basket's, or choose other shots or another channel."
        )
    kept = shots.keeping(
        lambda shot: shot.recording in recordings, f"its recording has no channel {question.channel}"
    )
    return heating_cycle(recordings, question.channel, kept, target_degc=question.target_degc)


def _all(shots: ShotSet) -> Sequence[ShotRecord]:
    return (*shots.used, *(left.shot for left in shots.left_out))
