"""A practice round as a plain state: replay time and presses go in, what to show comes out.

It knows no clock, no window and no file. One shot after another is watched, answered and shown:

    WATCHING --submit, skip--> SHOWN --go_on--> WATCHING … or OVER after the last
    SHOWN --watch_again--> WATCHING (for practice: only a shot's first answer is scored)
    any but OVER --abort--> OVER (what was handed in stays; the rest is not scored)

While watching, a shot may be replayed as often as one likes; presses stay until pressed anew or taken back.
Skipping scores 0 and shows the reference. A round that was aborted is kept, and left out of the progress.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from math import isfinite

import msgspec

from benchtemp.errors import BadInput
from benchtemp.teaching.exercise import Item, TeacherNote
from benchtemp.teaching.marking import Answer, Marking, Part, mark_answer
from benchtemp.units import TempUnit

TIMED = (Part.PUMP_ON, Part.PLATEAU_START)
"""Parts that are answered by a press at a moment, in their order."""


class RoundStage(StrEnum):
    """Where a round stands."""

    WATCHING = "watching"
    SHOWN = "shown"
    OVER = "over"


class RoundView(msgspec.Struct, frozen=True, kw_only=True):
    """All there is to show of a round at one moment.

    Attributes:
        stage: Where it stands.
        number, count: Which shot, from 1, of how many.
        title: Of the shot.
        t_s: How far the replay is.
        answer: What was pressed and said so far.
        notes: The teacher's notes reached so far, oldest first.
        next_part: What the next press of the one key would time; None where both are timed.
        ready: Everything was answered (it may be handed in before, too).
        marking: What became of the answer; only while `SHOWN`.
        tries: How often this shot was handed in.
        scores: Points of the shots scored so far, 0 to 100 each.
    """

    stage: RoundStage
    number: int
    count: int
    title: str = ""
    t_s: float = 0.0
    answer: Answer = Answer()
    notes: tuple[TeacherNote, ...] = ()
    next_part: Part | None = None
    ready: bool = False
    marking: Marking | None = None
    tries: int = 0
    scores: tuple[float, ...] = ()


class ItemResult(msgspec.Struct, frozen=True, kw_only=True):
    """What became of one shot of a round.

    Attributes:
        title: Of the shot.
        answer: The first one handed in.
        skipped: Passed over.
        tries: How often it was handed in.
        points: By part.
        differences: By part, s or K; parts without one are left out.
    """

    title: str
    answer: Answer = Answer()
    skipped: bool = False
    tries: int = 1
    points: dict[str, float] = {}
    differences: dict[str, float] = {}

    @property
    def score(self) -> float:
        """Return the points of all parts together, 0 to 100."""
        return sum(self.points.values())


class RoundResult(msgspec.Struct, frozen=True, kw_only=True):
    """What became of a round.

    Attributes:
        title: Of the exercise or the level.
        exercise: What tells the exercise from others: its file's digest, or level and seed.
        count: Shots in the round.
        items: The shots handed in or skipped, in order.
        aborted: It was left before its end.
    """

    title: str
    exercise: str = ""
    count: int = 0
    items: tuple[ItemResult, ...] = ()
    aborted: bool = False

    @property
    def score(self) -> float | None:
        """Return the mean points of the shots in it, 0 to 100; None where none was handed in."""
        return sum(item.score for item in self.items) / len(self.items) if self.items else None


class Round:
    """A round under way."""

    def __init__(
        self, items: Sequence[Item], *, title: str = "", exercise: str = "", unit: TempUnit = TempUnit.DEGC
    ) -> None:
        """Begin with the first shot.

        Args:
            items: In order.
            title: Of the exercise or the level.
            exercise: What tells it from others, for the scores.
            unit: Of the temperatures in sentences; may be changed later by `use_unit`.

        Raises:
            BadInput: There is no item.
        """
        if not items:
            raise BadInput("A round needs at least one shot; choose an exercise that has some.")
        self._items = tuple(items)
        self._title = title
        self._exercise = exercise
        self._unit = unit
        self._stage = RoundStage.WATCHING
        self._index = 0
        self._results: list[ItemResult] = []
        self._aborted = False
        self._begin_item()
        self._tries = 0

    def _begin_item(self) -> None:
        self._t_s = 0.0
        self._presses: list[tuple[Part, float]] = []
        self._brew_temp_degc: float | None = None
        self._counts: bool | None = None
        self._marking: Marking | None = None

    @property
    def item(self) -> Item:
        """Return the shot being watched or shown (the last one once the round is over)."""
        return self._items[self._index]

    @property
    def view(self) -> RoundView:
        """Return what to show now."""
        answer = self._answer()
        timed = {part for part, _ in self._presses}
        next_part = next((part for part in TIMED if part not in timed), None)
        watching = self._stage is RoundStage.WATCHING
        return RoundView(
            stage=self._stage,
            number=self._index + 1,
            count=len(self._items),
            title=self.item.title,
            t_s=self._t_s,
            answer=answer,
            notes=self.item.notes_until(self._t_s),
            next_part=next_part if watching else None,
            ready=next_part is None and answer.brew_temp_degc is not None and answer.counts is not None,
            marking=self._marking,
            tries=self._tries,
            scores=tuple(result.score for result in self._results),
        )

    def _answer(self) -> Answer:
        # Of several presses of one part the last counts.
        times = dict(self._presses)
        return Answer(
            pump_on_s=times.get(Part.PUMP_ON),
            plateau_start_s=times.get(Part.PLATEAU_START),
            brew_temp_degc=self._brew_temp_degc,
            counts=self._counts,
        )

    def _must_watch(self) -> None:
        if self._stage is RoundStage.OVER:
            raise BadInput("The round is over; begin a new one.")
        if self._stage is RoundStage.SHOWN:
            raise BadInput("This shot was handed in; go on to the next, or watch it again.")

    # -- while watching

    def replay_at(self, t_s: float) -> RoundView:
        """Tell how far the replay is; notes come up to there, and go again when it is set back."""
        if isfinite(t_s):
            self._t_s = min(max(t_s, 0.0), self.item.length_s)
        return self.view

    def press(self, part: Part | None = None, t_s: float | None = None) -> RoundView:
        """Time pump on or plateau start.

        Args:
            part: Which; None for the one key: pump on first, plateau start next, then nothing.
            t_s: When on the item's clock; None for where the replay is. A later press of the same part
                replaces the earlier.

        Raises:
            BadInput: The part is not one that is timed, or the round is not watching.
        """
        self._must_watch()
        part = self.view.next_part if part is None else part
        if part is None:
            return self.view
        if part not in TIMED:
            raise BadInput(f"The {part} is not timed by a press; say it instead.")
        at_s = self._t_s if t_s is None else t_s
        if not 0.0 <= at_s <= self.item.length_s + 1.0:
            raise BadInput(f"{at_s:g} s lies outside the shot, which is {self.item.length_s:.1f} s long.")
        self._presses.append((part, round(at_s, 3)))
        return self.view

    def take_back(self) -> RoundView:
        """Take the last press back; nothing happens without one."""
        self._must_watch()
        if self._presses:
            self._presses.pop()
        return self.view

    def say_brew_temp(self, temp_degc: float | None) -> RoundView:
        """Name the brew temperature, °C; None takes it back."""
        self._must_watch()
        self._brew_temp_degc = Answer(brew_temp_degc=temp_degc).brew_temp_degc
        return self.view

    def say_counts(self, counts: bool | None) -> RoundView:  # noqa: FBT001  one value is the whole call
        """Say whether the shot counts; None takes it back."""
        self._must_watch()
        self._counts = counts
        return self.view

    # -- from shot to shot

    def submit(self) -> Marking:
        """Hand the answer in and show its marking; parts not answered get no points."""
        return self._hand_in(skipped=False)

    def skip(self) -> Marking:
        """Pass the shot over: no points, and the reference is shown."""
        return self._hand_in(skipped=True)

    def _hand_in(self, *, skipped: bool) -> Marking:
        self._must_watch()
        marking = mark_answer(self.item, self._answer(), unit=self._unit, skipped=skipped)
        self._marking = marking
        self._stage = RoundStage.SHOWN
        if self._tries == 0:
            self._results.append(_result(self.item, marking))
        elif not skipped:
            last = self._results[-1]
            self._results[-1] = msgspec.structs.replace(last, tries=last.tries + 1)
        self._tries += 1
        return marking

    def watch_again(self) -> RoundView:
        """Watch the shot shown once more, for practice; only the first answer is scored."""
        if self._stage is RoundStage.WATCHING:
            return self.replay_at(0.0)
        if self._stage is RoundStage.OVER:
            raise BadInput("The round is over; begin a new one.")
        self._stage = RoundStage.WATCHING
        self._begin_item()
        return self.view

    def go_on(self) -> RoundView:
        """Go to the next shot, or end the round after the last.

        Raises:
            BadInput: The shot was neither handed in nor passed over.
        """
        if self._stage is RoundStage.OVER:
            return self.view
        if self._tries == 0:
            raise BadInput("This shot was not handed in yet; hand it in, or pass it over.")
        if self._index + 1 == len(self._items):
            self._stage = RoundStage.OVER
            return self.view
        self._index += 1
        self._tries = 0
        self._begin_item()
        self._stage = RoundStage.WATCHING
        return self.view

    def abort(self) -> RoundView:
        """Leave the round; what was handed in stays. After the last shot was handed in it just ends."""
        if self._stage is not RoundStage.OVER:
            self._aborted = len(self._results) < len(self._items)
            self._stage = RoundStage.OVER
        return self.view

    def use_unit(self, unit: TempUnit) -> RoundView:
        """Tell sentences in another unit from now on, the one on show included."""
        self._unit = unit
        if self._marking is not None:
            self._marking = mark_answer(
                self.item, self._marking.answer, unit=unit, skipped=self._marking.skipped
            )
        return self.view

    @property
    def result(self) -> RoundResult:
        """Return what became of the round so far; whole once it is over."""
        return RoundResult(
            title=self._title,
            exercise=self._exercise,
            count=len(self._items),
            items=tuple(self._results),
            aborted=self._aborted,
        )


def _result(item: Item, marking: Marking) -> ItemResult:
    return ItemResult(
        title=item.title,
        answer=marking.answer,
        skipped=marking.skipped,
        points={str(part.part): part.points for part in marking.parts},
        differences={
            str(part.part): round(part.difference, 4) for part in marking.parts if part.difference is not None
        },
    )
