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

import msgspec

from benchtemp.teaching.exercise import Item, TeacherNote
from benchtemp.teaching.marking import Answer, Marking, Part
from benchtemp.units import TempUnit


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
        raise NotImplementedError

    @property
    def item(self) -> Item:
        """Return the shot being watched or shown (the last one once the round is over)."""
        raise NotImplementedError

    @property
    def view(self) -> RoundView:
        """Return what to show now."""
        raise NotImplementedError

    def replay_at(self, t_s: float) -> RoundView:
        """Tell how far the replay is; notes come up to there, and go again when it is set back."""
        raise NotImplementedError

    def press(self, part: Part | None = None, t_s: float | None = None) -> RoundView:
        """Time pump on or plateau start.

        Args:
            part: Which; None for the one key: pump on first, plateau start next, then nothing.
            t_s: When on the item's clock; None for where the replay is. A later press of the same part
                replaces the earlier.

        Raises:
            BadInput: The part is not one that is timed, or the round is not watching.
        """
        raise NotImplementedError

    def take_back(self) -> RoundView:
        """Take the last press back; nothing happens without one."""
        raise NotImplementedError

    def say_brew_temp(self, temp_degc: float | None) -> RoundView:
        """Name the brew temperature, °C; None takes it back."""
        raise NotImplementedError

    def say_counts(self, counts: bool | None) -> RoundView:  # noqa: FBT001  one value is the whole call
        """Say whether the shot counts; None takes it back."""
        raise NotImplementedError

    def submit(self) -> Marking:
        """Hand the answer in and show its marking; parts not answered get no points."""
        raise NotImplementedError

    def skip(self) -> Marking:
        """Pass the shot over: no points, and the reference is shown."""
        raise NotImplementedError

    def watch_again(self) -> RoundView:
        """Watch the shot shown once more, for practice; only the first answer is scored."""
        raise NotImplementedError

    def go_on(self) -> RoundView:
        """Go to the next shot, or end the round after the last."""
        raise NotImplementedError

    def abort(self) -> RoundView:
        """Leave the round; what was handed in stays."""
        raise NotImplementedError

    def use_unit(self, unit: TempUnit) -> RoundView:
        """Tell sentences in another unit from now on, the one on show included."""
        raise NotImplementedError

    @property
    def result(self) -> RoundResult:
        """Return what became of the round so far; whole once it is over."""
        raise NotImplementedError
