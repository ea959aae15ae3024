"""Readings from a source until something has been seen in them: a live line on stderr, `q` gives up."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable
from math import inf
from typing import NamedTuple

import click
import numpy as np

from benchtemp import __version__
from benchtemp.bench import Bench, LiveBench, SourceFailed, StatusChanged
from benchtemp.cli.keys import keyboard_there, waiting_keys
from benchtemp.cli.status_line import StatusLine
from benchtemp.errors import SourceError
from benchtemp.readings.reading import FloatArray, NoticeKind, Stream
from benchtemp.readings.source import Source

_TICK_S = 0.05
_LOOK_EVERY_S = 0.5
_SILENT_S = 60.0
"""How long a silent interface is waited for where nobody sits at the keys to plug it in again or give up."""
_QUIET_LOOKS = 40
"""So many looks in a row must find nothing besides: a virtual bath may run a thousand times as fast as life,
and a thread that waits for its turn is no silent interface."""

Step = Callable[[float, tuple[float, ...]], None]


class Looked(NamedTuple):
    """What a look found.

    Attributes:
        state: In a word.
        text: For the status line.
        trouble: A sentence about what keeps it from going on; empty where all is well.
        over: It is over.
    """

    state: str = ""
    text: str = ""
    trouble: str = ""
    over: bool = False


Look = Callable[[], Looked]


def reading_words() -> str:
    """Return the line that says that it reads now, and how to give up where there is a keyboard."""
    return "Reading; q gives up." if keyboard_there() else "Reading."


class Bathing:
    """Reads a source and keeps every reading in memory; nothing reaches the disk.

    Attributes:
        started: When the source was opened.
    """

    def __init__(self, source: Source) -> None:
        self._source = source
        self._live = LiveBench(source, lambda opened: Bench(opened.channels, has_weight=opened.has_weight))
        self._rows = 0
        self._quiet_looks = 0
        self._next_look_s = -inf
        self._looked = Looked()
        self._times: list[FloatArray] = []
        self._temps: list[FloatArray] = []
        self.started = dt.datetime.now().astimezone()

    def run(self, step: Step, look: Look) -> bool:
        """Feed readings to `step` until `look` says that it is over; return False where the user gave up.

        Run it among `single_keys`: where there is a keyboard, `q` gives up.

        Args:
            step: Takes the time and the reported temperatures of a reading.
            look: Tells how it stands, and whether it is over.

        Raises:
            SourceError: The source cannot be opened or broke.
            BenchtempError: What `step` or `look` raises.
        """
        line = StatusLine()
        listening = keyboard_there()
        self.started = dt.datetime.now().astimezone()
        self._live.start()
        try:
            return self._loop(step, look, line, listening=listening)
        finally:
            self._live.stop()
            with line.away():
                pass

    def _loop(self, step: Step, look: Look, line: StatusLine, *, listening: bool) -> bool:
        told: set[str] = set()
        while True:
            self._raise_failures()
            came, over = self._feed(step, look)
            if over:
                return True
            self._quiet_looks = 0 if came else self._quiet_looks + 1
            looked = self._looked
            if looked.trouble and "trouble" not in told:
                told.add("trouble")
                with line.away():
                    click.echo(looked.trouble, err=True)
            if line.shown:
                line.write(looked.text)
            elif looked.state and looked.state not in told:
                # Where nobody watches a line, each state is told when it first comes.
                told.add(looked.state)
                click.echo(f"{self._times[-1][-1]:7.0f} s  {looked.text}", err=True)
            if listening and "q" in waiting_keys().lower():
                return False
            if not listening:
                self._refuse_silence()
            if not self._live.running and not came:
                self._raise_failures()
                raise SourceError("The source ended before the probe had settled; start it again.")
            time.sleep(_TICK_S)

    def _feed(self, step: Step, look: Look) -> tuple[bool, bool]:
        """Pass on the readings that came since the last call; tell whether any came, and whether it is over.

        Looked at by the source's clock, so that what comes of it does not hang on how busy the computer is.
        """
        snapshot = self._live.snapshot
        if snapshot is None:
            return False, False
        times, temps = snapshot.trace.reported_since(self._rows)
        self._rows = snapshot.trace.rows_taken
        for row, t_s in enumerate(times.tolist()):
            step(t_s, tuple(temps[row].tolist()))
            if t_s < self._next_look_s:
                continue
            self._next_look_s = t_s + _LOOK_EVERY_S
            self._looked = look()
            if self._looked.over:
                times, temps = times[: row + 1], temps[: row + 1]
                break
        if len(times):
            self._times.append(times)
            self._temps.append(temps)
        return bool(len(times)), self._looked.over

    def _refuse_silence(self) -> None:
        snapshot = self._live.snapshot
        if snapshot is None or self._quiet_looks < _QUIET_LOOKS:
            return
        if snapshot.now_s - (snapshot.last_s or 0.0) > _SILENT_S:
            raise SourceError(
                f"Nothing has come from {self._source.name} for {_SILENT_S:.0f} s, so the check was given up "
                "and nothing is saved; see to its plug, and start again."
            )

    def _raise_failures(self) -> None:
        for event in self._live.drain_events():
            if isinstance(event, SourceFailed):
                raise SourceError(event.reason)
            if isinstance(event, StatusChanged) and event.kind in {NoticeKind.LOST, NoticeKind.GARBAGE}:
                click.echo(event.text, err=True)

    def stream(self) -> Stream:
        """Return all readings, with a header that says where they come from."""
        channels = tuple(self._source.channels)
        return Stream(
            channels=channels,
            t_s=np.concatenate(self._times) if self._times else np.empty(0),
            temps_degc=np.concatenate(self._temps) if self._temps else np.empty((0, len(channels))),
            meta={
                "kind": "recording",
                "format_version": 1,
                "program": f"benchtemp {__version__}",
                "started": self.started.isoformat(timespec="milliseconds"),
                "source": dict(self._source.details),
            },
        )
