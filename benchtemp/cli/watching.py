"""A running bench in a terminal: a live line on stderr, keys if there is a keyboard, results on stdout."""

from __future__ import annotations

import contextlib
import shutil
import sys
import time
from collections import deque
from collections.abc import Callable
from math import isfinite, nan

import click

from benchtemp.bench import Event, LiveBench, Snapshot, SourceFailed, StatusChanged
from benchtemp.cli.keys import keyboard_there, single_keys, waiting_keys
from benchtemp.cli.status_line import StatusLine
from benchtemp.readings.reading import MarkKind, NoticeKind
from benchtemp.reports.terminal import trace_line
from benchtemp.shots.stages import Stage
from benchtemp.units import TempUnit, delta_to, temp_text

_TICK_S = 0.05
_TRACE_EVERY_S = 0.5
KEYS_HELP = "Space pump on/off · u undo · n note · t tare · q end"


class _LiveLine(StatusLine):
    """The bench in one line: recent temperatures as bars, and where it stands."""

    def __init__(self, unit: TempUnit) -> None:
        super().__init__()
        self._unit = unit
        self._unicode = "utf" in (getattr(sys.stderr, "encoding", "") or "").lower()
        self._recent: deque[float] = deque(maxlen=200)
        self._next_bar_s = -1e9

    def show(self, snapshot: Snapshot) -> None:
        if not self.shown:
            return
        temp_degc = snapshot.temps_degc[snapshot.basket] if snapshot.temps_degc else nan
        if snapshot.stale:
            temp_degc = nan
        if snapshot.now_s >= self._next_bar_s:
            self._next_bar_s = snapshot.now_s + _TRACE_EVERY_S
            self._recent.append(temp_degc)
        reading = temp_text(temp_degc if isfinite(temp_degc) else None, self._unit)
        told = [reading if not snapshot.stale else "no reading", str(snapshot.stage)]
        if snapshot.pump_on_s is not None and snapshot.stage in {Stage.RISING, Stage.PLATEAU}:
            told.append(f"{snapshot.now_s - snapshot.pump_on_s:.1f} s")
        if snapshot.running_brew_degc is not None and snapshot.stage is Stage.PLATEAU:
            told.append(f"brew {temp_text(snapshot.running_brew_degc, self._unit, 2)}")
            if snapshot.running_expanded_k is not None:
                told[-1] += f" ± {delta_to(snapshot.running_expanded_k, self._unit):.1f}"
        if snapshot.has_weight and isfinite(snapshot.weight_g):
            told.append(f"{snapshot.weight_g:.1f} g")
        if snapshot.trouble:
            told.append(snapshot.trouble)
        text = "  ".join(told)
        room = max(0, shutil.get_terminal_size().columns - len(text) - 3)
        bars = trace_line(list(self._recent)[-room:] if room else [], unicode=self._unicode)
        self.write(f"{bars}  {text}")


class _Keys:
    """What the keys typed in the terminal do."""

    def __init__(self, live: LiveBench) -> None:
        self._live = live
        self.quit = False
        self.note: str | None = None
        self._note_began_s = 0.0

    def press(self, key: str) -> None:
        if self.note is not None:
            self._type(key)
        elif key == " ":
            self._live.press()
        elif key in "uU":
            self._live.mark(MarkKind.UNDO)
        elif key in "tT":
            self._live.tare()
        elif key in "nN":
            self.note = ""
            self._note_began_s = self._live.source.now_s()
        elif key in "qQ\x04":
            self.quit = True

    def _type(self, key: str) -> None:
        assert self.note is not None
        if key in "\r\n":
            if self.note.strip():
                self._live.mark(MarkKind.NOTE, self.note.strip(), self._note_began_s)
            self.note = None
        elif key == "\x1b":
            self.note = None
        elif key in "\x7f\b":
            self.note = self.note[:-1]
        elif key.isprintable():
            self.note += key


def watch(
    live: LiveBench,
    tell: Callable[[Event], None],
    *,
    unit: TempUnit = TempUnit.DEGC,
    keys: bool = True,
    duration_s: float | None = None,
    every_tick: Callable[[Snapshot], bool] | None = None,
) -> int:
    """Run a bench until it ends, is stopped by a key, or its time is over; return the exit code.

    Args:
        live: Not yet started.
        tell: Called with every event, in order; writes what is data to stdout.
        unit: For the live line.
        keys: Whether single keys act, where there is a keyboard.
        duration_s: Stop when the source's clock has gone this far.
        every_tick: Called with every snapshot; True ends the run.
    """
    line = _LiveLine(unit)
    typed = _Keys(live)
    listening = keys and keyboard_there()
    code = 0

    def tell_all() -> None:
        nonlocal code
        for event in live.drain_events():
            with line.away():
                if isinstance(event, SourceFailed):
                    code = 1
                    click.echo(event.reason, err=True)
                else:
                    tell(event)
            if isinstance(event, StatusChanged) and event.kind is NoticeKind.FINISHED:
                typed.quit = True

    def run() -> None:
        warned = False
        while live.running and not typed.quit:
            for key in waiting_keys() if listening else "":
                typed.press(key)
            snapshot = live.snapshot
            if snapshot is not None:
                if not warned:
                    warned = True
                    with line.away():
                        for warning in snapshot.check_warnings:
                            click.echo(warning, err=True)
                if typed.note is None:
                    line.show(snapshot)
                else:
                    line.write(f"note: {typed.note}")
                if duration_s is not None and snapshot.now_s >= duration_s:
                    return
                if every_tick is not None and every_tick(snapshot):
                    return
            tell_all()
            time.sleep(_TICK_S)

    try:
        with single_keys() if listening else contextlib.nullcontext(), contextlib.suppress(KeyboardInterrupt):
            if listening:
                click.echo(KEYS_HELP, err=True)
            live.start()
            run()
    finally:
        live.stop()
        tell_all()
        with line.away():
            pass
    return code
