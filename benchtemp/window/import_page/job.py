"""An import under way: run in a thread, watched and stopped from the window. No widgets."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.logbook.importing import Imported, TableLayout, import_files

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchtemp.logbook.folder import Logbook


@dataclass(frozen=True, slots=True)
class FileDone:
    """What became of a file.

    Attributes:
        outcome: As the import tells it.
        kept: Files of the shots kept from it.
    """

    outcome: Imported
    kept: tuple[Path, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return all that was left out, spread, mended or doubtful."""
        more = (text for text in self.outcome.analysis.warnings if text not in self.outcome.warnings)
        found = len(self.outcome.analysis.shots) + len(self.outcome.analysis.flushes)
        told = [*self.outcome.warnings, *more]
        if self.outcome.recording is not None and found != len(self.kept):
            told.append(
                f"{found} pulls are in the whole trace, {len(self.kept)} were kept as it came; a replay of "
                f"the recording shows why."
            )
        return tuple(told)


class ImportJob:
    """Imports files one after the other; safe to be asked and cancelled from another thread."""

    def __init__(
        self,
        files: Sequence[Path],
        layout: TableLayout,
        logbook: Logbook,
        *,
        machine: str = "",
        again: bool = False,
    ) -> None:
        self.files = tuple(files)
        self._layout = layout
        self._logbook = logbook
        self._machine = machine
        self._again = again
        self._cancelled = threading.Event()
        self._done: deque[FileDone] = deque()
        self.under_way = ""
        """Name of the file being read."""

    def cancel(self) -> None:
        """Stop before the next file; what was imported stays."""
        self._cancelled.set()

    @property
    def cancelled(self) -> bool:
        """Tell whether it was to stop."""
        return self._cancelled.is_set()

    def take_done(self) -> list[FileDone]:
        """Return what was done since this was last asked."""
        found = []
        while self._done:
            found.append(self._done.popleft())
        return found

    def run(self) -> int:
        """Import; return how many files were reached.

        Raises:
            BenchtempError: The disk does not take a recording or a shot; those done before stay.
        """
        tags = {"machine": self._machine} if self._machine else {}
        return len(
            import_files(
                self.files,
                self._layout,
                self._logbook,
                progress=self._tell,
                done=self._keep,
                cancelled=self._cancelled.is_set,
                machine=self._machine,
                tags=tags,
                again=self._again,
            )
        )

    def _tell(self, _done: int, _total: int, name: str) -> None:
        self.under_way = name

    def _keep(self, outcome: Imported) -> None:
        from benchtemp.bench.recovery import keep_shots_of  # noqa: PLC0415 - it brings the engine with it

        # At once: whatever stops the import later, no recording stays without its shots.
        kept = keep_shots_of(self._logbook, outcome.recording, is_new=True) if outcome.recording else ()
        self._done.append(FileDone(outcome, kept))
