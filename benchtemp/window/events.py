"""What the bench tells, turned into standing messages."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from benchtemp.bench.snapshot import PullDismissed, Refused, ShotSettled, Snapshot, StageChanged
from benchtemp.readings.reading import NoticeKind
from benchtemp.shots.stages import Stage
from benchtemp.window.guidance import CAUTIONS
from benchtemp.window.messages import Message, MessageBoard, Weight
from benchtemp.window.sources.background import Background
from benchtemp.window.virtual_machine import virtual_source

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Event
    from benchtemp.logbook.folder import Logbook
    from benchtemp.window.panel import SourceChoice

_PASSING_MS = 12_000


class Reporter(QObject):
    """Puts messages on the board and takes them away again.

    Signals:
        shot_settled: A shot was read for the last time; its tags are on file.
        probes_asked: The Probes page is wanted.
    """

    shot_settled = Signal()
    probes_asked = Signal()

    def __init__(self, board: MessageBoard, logbook: Logbook, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._board = board
        self._logbook = logbook
        self._replay = False
        self._keyed = self._marked = False
        self._hidden = False
        self._checks_told = False
        self._work = Background(self, name="interrupted recordings")
        self._work.done.connect(self._take_outcome)
        self._work.failed.connect(self._take_failure)

    # -- the sitting ---------------------------------------------------------------------------------------

    def begin(self, choice: SourceChoice) -> None:
        """Caution where a real machine is at the other end."""
        self._replay = not choice.keep
        self._keyed, self._marked = virtual_source(choice.source) is not None, False
        self._checks_told = False
        if choice.hardware:
            self._board.put(Message("cautions", Weight.CAUTION, " ".join(CAUTIONS)))

    def end(self) -> None:
        """Take away what belongs to the sitting."""
        self._board.clear("cautions", "checks", "status", "disk", "dismissed", "refused")

    def hide_results(self, hidden: bool) -> None:  # noqa: FBT001 - a state, named by the method
        """Tell nothing that was read out of the trace, or tell it again."""
        self._hidden = hidden
        if hidden:
            self._board.clear("dismissed")

    @Slot(object)
    def report(self, event: Event) -> None:
        """Tell what needs telling about one event."""
        if isinstance(event, Refused):
            self._board.put(Message("refused", Weight.NOTE, event.reason, lasts_ms=_PASSING_MS))
        elif isinstance(event, PullDismissed):
            # A virtual machine's pump runs by the key alone: what was not marked is its portafilter's doing.
            if self._hidden or (self._keyed and not self._marked):
                return
            text = f"Not kept as a shot: {event.reason}."
            self._board.put(Message("dismissed", Weight.NOTE, text, lasts_ms=_PASSING_MS))
        elif isinstance(event, ShotSettled):
            self.shot_settled.emit()
        elif isinstance(event, StageChanged) and event.change.stage is Stage.RISING:
            self._board.clear("dismissed", "refused")

    def look(self, snapshot: Snapshot | None) -> None:
        """Let disk and source troubles stand for as long as they last."""
        if snapshot is None:
            return
        self._marked = snapshot.pump_marked
        if snapshot.trouble:
            self._board.put(Message("disk", Weight.TROUBLE, snapshot.trouble, may_go=False))
        else:
            self._board.withdraw("disk")
        if snapshot.check_warnings and not self._checks_told:
            self._checks_told = True
            self._tell_checks(snapshot.check_warnings)
        if snapshot.status in {NoticeKind.LOST, NoticeKind.GARBAGE}:
            text = snapshot.status_text or "No readings come; check the cable."
            self._board.put(Message("status", Weight.TROUBLE, text, may_go=False))
        elif snapshot.status is NoticeKind.WAITING and snapshot.status_text:
            self._board.put(Message("status", Weight.NOTE, snapshot.status_text, may_go=False))
        else:
            self._board.withdraw("status")

    def _tell_checks(self, warnings: tuple[str, ...]) -> None:
        self._board.put(
            Message(
                "checks",
                Weight.CAUTION,
                " ".join(warnings),
                action="Go to Probes",
                act=self.probes_asked.emit,
            )
        )

    # -- recordings that were interrupted ------------------------------------------------------------------

    def look_for_interrupted(self) -> None:
        """Look, in the background, for recordings a stopped program left open, and offer to close them."""
        self._work.start(self._logbook.interrupted)

    @Slot(object)
    def _take_outcome(self, outcome: object) -> None:
        if isinstance(outcome, tuple):
            if outcome:
                self._offer([found.path for found in outcome])
        elif isinstance(outcome, str):
            self._board.put(Message("interrupted", Weight.NOTE, outcome))

    @Slot(str)
    def _take_failure(self, sentence: str) -> None:
        self._board.put(Message("interrupted", Weight.TROUBLE, sentence))

    def _offer(self, paths: list[Path]) -> None:
        which = f"The recording {paths[0].name} was" if len(paths) == 1 else f"{len(paths)} recordings were"
        text = f"{which} interrupted before it was closed. What was recorded is there; its shots can be kept."
        if len(paths) > 1:
            text = text.replace("it was", "they were").replace("its shots", "their shots")
        self._board.put(
            Message(
                "interrupted",
                Weight.NOTE,
                text,
                action="Close and keep shots",
                act=partial(self._recover, paths),
            )
        )

    def _recover(self, paths: list[Path]) -> None:
        self._board.withdraw("interrupted")
        self._work.start(partial(recover_all, self._logbook, paths))

    def close_down(self) -> None:
        """Wait for what is under way."""
        self._work.join()


def recover_all(logbook: Logbook, paths: list[Path]) -> str:
    """Close interrupted recordings and keep their shots; return what came of it, as a sentence."""
    from benchtemp.bench.recovery import recover  # noqa: PLC0415 - rarely needed

    kept = sum(len(recover(logbook, path)) for path in paths)
    many = "1 recording was closed" if len(paths) == 1 else f"{len(paths)} recordings were closed"
    shots = "1 shot was kept" if kept == 1 else f"{kept} shots were kept"
    return f"{many}; {shots if kept else 'no shot was found in what was recorded'}. See the Logbook page."
