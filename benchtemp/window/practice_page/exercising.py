"""Making exercises on the Practice page: of shots of the logbook, or of a replay."""

from __future__ import annotations

from functools import cached_property, partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.window.practice_page.preparing import replay_candidates, shot_candidates
from benchtemp.window.sources.background import Background

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from benchtemp.readings.reading import Mark, Stream
    from benchtemp.window.panel import Panel
    from benchtemp.window.practice_page.exercise_form import ExerciseForm
    from benchtemp.window.practice_page.preparing import Candidate


class Exercising(QObject):
    """Holds the form that makes an exercise, made when it is first wanted.

    Signals:
        shown: Carries the form, which is wanted in front.
        left: Back to the choice.
        bench_asked: Back to the Bench, from where the exercise was to be made.
        refused: It cannot be made; why, in a sentence.
        said: What is being done.
    """

    shown = Signal(object)
    left = Signal()
    bench_asked = Signal()
    refused = Signal(str)
    said = Signal(str)

    def __init__(self, place: Callable[[Panel], None], parent: QObject) -> None:
        """Prepare.

        Args:
            place: Puts a view among the others of the page.
            parent: The page.
        """
        super().__init__(parent)
        self._place = place
        self._from_bench = False
        self._gathering = Background(self, name="shots to practise")
        self._writing = Background(self, name="exercise")
        self._gathering.done.connect(self._open)
        self._gathering.failed.connect(self.refused)
        self._writing.done.connect(self._tell_written)
        self._writing.failed.connect(self._tell_not_written)

    @cached_property
    def view(self) -> ExerciseForm:
        """The form that makes an exercise."""
        from benchtemp.window.practice_page.exercise_form import ExerciseForm  # noqa: PLC0415 - rarely needed

        view = ExerciseForm()
        self._place(view)
        view.agreed.connect(self._writing.start)
        view.left.connect(self._leave)
        return view

    @property
    def made(self) -> ExerciseForm | None:
        """Return the form if it is there already."""
        return self.view if "view" in self.__dict__ else None

    @Slot(object)
    def of_shots(self, paths: Sequence[Path]) -> None:
        """Make an exercise of shots of the logbook."""
        self._from_bench = False
        self.said.emit("The shots are being read.")
        self._gathering.start(partial(shot_candidates, tuple(paths)))

    def of_replay(self, stream: Stream, notes: tuple[Mark, ...]) -> None:
        """Make an exercise of a recording that is being replayed.

        Args:
            stream: The recording.
            notes: The teacher's own, which go along.
        """
        self._from_bench = True
        self.said.emit("The recording is being read.")
        self._gathering.start(partial(replay_candidates, stream, notes))

    @Slot(object)
    def _open(self, candidates: tuple[Candidate, ...]) -> None:
        self.shown.emit(self.view)
        self.view.begin(candidates)

    @Slot(object)
    def _tell_written(self, path: Path) -> None:
        self.view.said.say(f"✓ {path.name} is written. Hand it over; it opens on this page.", "good")

    @Slot(str)
    def _tell_not_written(self, sentence: str) -> None:
        self.view.said.say(sentence, "bad")

    @Slot()
    def _leave(self) -> None:
        self.left.emit()
        if self._from_bench:
            self.bench_asked.emit()

    def close_down(self) -> None:
        """Wait for what is being done."""
        self._gathering.join()
        self._writing.join()
