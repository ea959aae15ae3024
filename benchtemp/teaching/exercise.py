"""What a teacher hands over: shots with their reference kept apart, notes, and how strictly to mark."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from math import isfinite

import msgspec
import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import FloatArray, Mark, Stream
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.shot import stored_correction

ITEMS_LIMIT = 60
NOTES_LIMIT = 200
LINE_LIMIT = 200
"""Characters of a title or a name."""
NOTE_LIMIT = 300
"""Characters of one note."""
WORDS_LIMIT = 8000
"""Characters of the words to the trainee."""


def line_text(text: str, what: str, limit: int = LINE_LIMIT) -> str:
    """Return a text on one line, spaces tidied.

    Raises:
        BadInput: It is longer than `limit`, or holds what cannot be shown.
    """
    tidy = " ".join(text.split())
    if len(tidy) > limit:
        raise BadInput(f"The {what} is {len(tidy)} characters long; shorten it to {limit}.")
    if not tidy.isprintable():
        raise BadInput(f"The {what} holds characters that cannot be shown; type it again.")
    return tidy


class Basis(StrEnum):
    """What a reference rests on."""

    MARKED = "read from the trace with the pump marks"
    ESTIMATED = "read from the trace alone, nobody marked the pump"
    TEACHER = "read from the trace and corrected by the teacher"
    TRUTH = "the virtual machine's own truth"


class TeacherNote(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something the teacher says at a moment of the replay.

    Attributes:
        t_s: When, on the item's own clock.
        text: One line.

    Raises:
        BadInput: A time that is no number from 0 on, a text that is empty or too long.
    """

    t_s: float
    text: str

    def __post_init__(self) -> None:
        if not (isfinite(self.t_s) and 0.0 <= self.t_s < 1e6):
            raise BadInput("A note needs a time from 0 s on, on the clock of its shot.")
        if not self.text.strip():
            raise BadInput("A note needs words; write what the trainee should read then.")
        line_text(self.text, "note", NOTE_LIMIT)


class Tolerance(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How far an answer may be off for full points, where the reference itself is not less certain.

    The usual values are our own choice: what a practised person's hand and eye reach.

    Attributes:
        pump_on_s, plateau_start_s: Seconds either way.
        brew_temp_k: K either way.
    """

    pump_on_s: float = 0.5
    plateau_start_s: float = 1.0
    brew_temp_k: float = 0.2

    def __post_init__(self) -> None:
        for name, value, most in (
            ("pump on", self.pump_on_s, 20.0),
            ("plateau start", self.plateau_start_s, 20.0),
            ("brew temperature", self.brew_temp_k, 10.0),
        ):
            if not 0.0 < value <= most:
                raise BadInput(
                    f"A tolerance of {value:g} for the {name} cannot be; give more than 0, at most {most:g}."
                )


USUAL_TOLERANCE = Tolerance()
USUAL_RECIPE = Recipe()


class Reference(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What an answer is held against; times on the item's own clock.

    Attributes:
        basis: What it rests on.
        pump_on_s: When the pump went on.
        pump_on_uncertainty_s: Standard uncertainty; 0 for a mark or the truth.
        pump_off_s: None where the item ends before.
        plateau_start_s, plateau_end_s: None without a plateau.
        plateau_start_uncertainty_s, plateau_end_uncertainty_s: Standard uncertainties; for the truth of a
            virtual machine, how well its noisy trace can tell it.
        brew_temp_degc: Mean over the plateau, corrected; None without one.
        brew_temp_uncertainty_k: Standard uncertainty from noise, steps and the boundaries. The probe's own
            error is not in it: the trainee reads the same probe.
        counts: Whether the shot counts.
        reasons: Why not; empty where it counts.
    """

    basis: Basis
    pump_on_s: float
    pump_on_uncertainty_s: float = 0.0
    pump_off_s: float | None = None
    plateau_start_s: float | None = None
    plateau_end_s: float | None = None
    plateau_start_uncertainty_s: float = 0.0
    plateau_end_uncertainty_s: float = 0.0
    brew_temp_degc: float | None = None
    brew_temp_uncertainty_k: float = 0.0
    counts: bool = False
    reasons: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            value = getattr(self, name)
            if isinstance(value, float) and not (isfinite(value) and abs(value) < 1e6):
                raise BadInput(f"The reference's {name} is no number that can be meant.")
        if (self.plateau_start_s is None) != (self.brew_temp_degc is None):
            raise BadInput("A plateau and its brew temperature belong together; give both or neither.")
        start_s, end_s = self.plateau_start_s, self.plateau_end_s
        if start_s is not None and (end_s is None or not self.pump_on_s <= start_s < end_s):
            raise BadInput("A plateau starts after pump on and before its end; correct the reference.")


@dataclass(frozen=True, eq=False)
class Item:
    """One shot of an exercise.

    Attributes:
        title: What to call it before it is answered; says nothing of the answer.
        stream: What the trainee's replay plays: readings alone, no marks but gaps, times from 0, no result in
            the header. `ReplaySource(item.stream, item.title)` plays it.
        reference: What answers are held against.
        pump_marks: The operator's pump marks, on the item's clock; for the teacher and the answer view.
        notes: The teacher's, in order of time.
        shows_band: Whether the trainee sees the target band.
        tolerance: For full points.
        recipe: The shot is held to it.
        dose_g, yield_g: Told to the trainee before he says whether the shot counts; None where unknown.
    """

    title: str
    stream: Stream
    reference: Reference
    pump_marks: tuple[Mark, ...] = ()
    notes: tuple[TeacherNote, ...] = ()
    shows_band: bool = True
    tolerance: Tolerance = USUAL_TOLERANCE
    recipe: Recipe = USUAL_RECIPE
    dose_g: float | None = None
    yield_g: float | None = None

    @property
    def length_s(self) -> float:
        """Return the time of the last reading."""
        return float(self.stream.t_s[-1]) if len(self.stream.t_s) else 0.0

    @property
    def trace(self) -> tuple[FloatArray, FloatArray]:
        """Return times in s and corrected temperatures of the basket probe in °C, NaN = none; both (n,)."""
        return basket_trace(self.stream)

    def notes_until(self, t_s: float) -> tuple[TeacherNote, ...]:
        """Return the notes a replay that stands at `t_s` has reached."""
        return tuple(note for note in self.notes if note.t_s <= t_s)

    def with_note(self, note: TeacherNote) -> Item:
        """Return the item with one note more.

        Raises:
            BadInput: The note lies behind the shot's end, or there are too many.
        """
        if note.t_s > self.length_s:
            raise BadInput(f"The shot is {self.length_s:.1f} s long; put the note before its end.")
        if len(self.notes) >= NOTES_LIMIT:
            raise BadInput(f"A shot takes at most {NOTES_LIMIT} notes; take one out first.")
        tidy = TeacherNote(t_s=note.t_s, text=line_text(note.text, "note", NOTE_LIMIT))
        return replace(self, notes=tuple(sorted((*self.notes, tidy), key=lambda one: one.t_s)))

    def without_note(self, number: int) -> Item:
        """Return the item without its note of that number, counted from 1.

        Raises:
            BadInput: There is no such note.
        """
        if not 1 <= number <= len(self.notes):
            raise BadInput(f"There is no note {number}; the shot has {len(self.notes)}.")
        return replace(self, notes=self.notes[: number - 1] + self.notes[number:])


@dataclass(frozen=True, eq=False)
class Exercise:
    """What one file holds.

    Attributes:
        title: Of the exercise.
        teacher: Who made it.
        words: To the trainee; may have several lines.
        items: In the order to be answered, 1 to 60.
        digest: SHA-256 of the file it was read from, hexadecimal; empty for one not yet written.
    """

    title: str
    teacher: str
    items: tuple[Item, ...]
    words: str = ""
    digest: str = ""

    def __post_init__(self) -> None:
        if not line_text(self.title, "title"):
            raise BadInput("An exercise needs a title; give it one.")
        line_text(self.teacher, "teacher's name")
        if len(self.words) > WORDS_LIMIT:
            raise BadInput(f"The words to the trainee are too long; keep to {WORDS_LIMIT} characters.")
        if any(not (char.isprintable() or char in "\n\t") for char in self.words):
            raise BadInput("The words to the trainee hold characters that cannot be shown; type them again.")
        if not 1 <= len(self.items) <= ITEMS_LIMIT:
            raise BadInput(
                f"An exercise holds 1 to {ITEMS_LIMIT} shots; this one would hold {len(self.items)}."
            )

    def item(self, number: int) -> Item:
        """Return a shot by its number, counted from 1.

        Raises:
            BadInput: There is none of that number.
        """
        if not 1 <= number <= len(self.items):
            raise BadInput(f"There is no shot {number}; the exercise holds {len(self.items)}.")
        return self.items[number - 1]

    def with_item(self, number: int, item: Item) -> Exercise:
        """Return the exercise with a shot put in another's place."""
        self.item(number)
        return replace(self, items=(*self.items[: number - 1], item, *self.items[number:]), digest="")


def basket_index(stream: Stream) -> int:
    """Return which column of a stream is the basket's probe."""
    named = str(stream.meta.get("basket_channel", stream.channels[0]))
    return stream.channels.index(named) if named in stream.channels else 0


def basket_trace(stream: Stream) -> tuple[FloatArray, FloatArray]:
    """Return times in s and corrected temperatures of the basket probe in °C, shapes (n,)."""
    basket = basket_index(stream)
    t_s, temps = stream.t_s, stream.temps_degc
    if stream.weight_g is not None:
        # An instant that belongs to the scale alone is no reading missed by the probe.
        kept = ~(np.isfinite(stream.weight_g) & ~np.isfinite(temps).any(axis=1))
        t_s, temps = t_s[kept], temps[kept]
    return t_s, stored_correction(stream.meta, stream.channels[basket]).apply(temps[:, basket])
