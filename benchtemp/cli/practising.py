"""A practice round at a terminal: the replay as a live line, single keys, questions, markings."""

from __future__ import annotations

import contextlib
import shutil
import sys
import time
from math import isfinite

import click
import numpy as np

from benchtemp.cli.keys import forget_typed, single_keys, waiting_keys
from benchtemp.cli.listing import one_line
from benchtemp.cli.status_line import StatusLine
from benchtemp.cli.teaching_text import marking_lines
from benchtemp.errors import BadInput
from benchtemp.reports.terminal import trace_line
from benchtemp.studies.evidence.typed import temp_from
from benchtemp.teaching.exercise import Exercise
from benchtemp.teaching.practice import Round, RoundStage
from benchtemp.units import TempUnit, temp_text

_TICK_S = 0.05
_BAR_S = 0.5
_KEYS = (
    "Space marks pump on, then the plateau · u takes back · Enter answers now · r again · s skips · q leaves"
)


class Practising:
    """Leads through a round."""

    def __init__(self, exercise: Exercise, played: Round, *, speed: float, unit: TempUnit) -> None:
        """Get ready.

        Args:
            exercise: What is played.
            played: The round, at its beginning.
            speed: Of the replay.
            unit: Of temperatures.
        """
        self._exercise = exercise
        self._round = played
        self._speed = speed
        self._unit = unit
        self._unicode = "utf" in (getattr(sys.stderr, "encoding", "") or "").lower()
        self._untold = [exercise.title, *exercise.words.splitlines(), _KEYS]

    def run(self) -> None:
        """Play the round to its end, or until it is left."""
        with contextlib.suppress(KeyboardInterrupt, click.Abort):
            while self._round.view.stage is not RoundStage.OVER:
                self._shot()
        self._round.abort()

    def _shot(self) -> None:
        with single_keys():
            self._introduce()
            end = self._watch()
        if end == "q":
            self._round.abort()
            return
        forget_typed()  # a key that came too late for the replay answers no question
        if end == "s":
            marking = self._round.skip()
        else:
            self._ask()
            marking = self._round.submit()
        click.echo("\n".join(marking_lines(marking)))
        again = click.prompt(
            "Enter goes on, r watches it again, q leaves", default="", show_default=False, err=True
        )
        if again.strip().lower() == "q":
            self._round.abort()
        elif again.strip().lower() == "r":
            self._round.watch_again()
        else:
            self._round.go_on()

    def _introduce(self) -> None:
        """Say what comes: before the first shot, what the exercise is and which keys there are."""
        for line in self._untold:
            click.echo(one_line(line), err=True)
        self._untold = []
        view, item = self._round.view, self._round.item
        told = [
            f"{name} {grams:.1f} g"
            for name, grams in (("dose", item.dose_g), ("yield", item.yield_g))
            if grams is not None
        ]
        if item.shows_band:
            low, high = item.recipe.band_low_degc, item.recipe.band_high_degc
            told.append(f"target {temp_text(low, self._unit)} to {temp_text(high, self._unit)}")
        click.echo(f"{one_line(view.title)} ({view.number} of {view.count}): {', '.join(told)}", err=True)

    def _watch(self) -> str:
        """Play the shot to its end, or until a key ends it; return that key, empty at the end."""
        line = StatusLine()
        item = self._round.item
        t_s, temp_degc = item.trace
        began_s = time.perf_counter()
        notes_told = 0
        while True:
            at_s = (time.perf_counter() - began_s) * self._speed
            view = self._round.replay_at(at_s)
            for key in waiting_keys():
                if key == " ":
                    view = self._round.press()
                elif key in "uU":
                    view = self._round.take_back()
                elif key in "rR":
                    began_s, notes_told = time.perf_counter(), 0
                elif key in "sSqQ\r\n":
                    with line.away():
                        return key.lower().strip()
            if len(view.notes) > notes_told:
                with line.away():
                    for note in view.notes[notes_told:]:
                        click.echo(f"  — {one_line(note.text)}", err=True)
                notes_told = len(view.notes)
            if line.shown:
                line.write(self._line(t_s, temp_degc, view.t_s))
            if at_s > item.length_s:
                with line.away():
                    return ""
            time.sleep(_TICK_S)

    def _line(self, t_s: np.ndarray, temp_degc: np.ndarray, at_s: float) -> str:
        row = int(np.searchsorted(t_s, at_s + 1e-9)) - 1
        temp = float(temp_degc[row]) if row >= 0 else float("nan")
        answer = self._round.view.answer
        told = [f"{at_s:5.1f} s", temp_text(temp if isfinite(temp) else None, self._unit)]
        if answer.pump_on_s is not None:
            told.append(f"pump on {answer.pump_on_s:.1f} s")
        if answer.plateau_start_s is not None:
            told.append(f"plateau {answer.plateau_start_s:.1f} s")
        text = "  ".join(told)
        room = max(0, shutil.get_terminal_size().columns - len(text) - 3)
        moments = np.arange(max(0.0, at_s - room * _BAR_S), at_s, _BAR_S)
        rows = np.clip(np.searchsorted(t_s, moments), 0, len(t_s) - 1)
        bars = trace_line(temp_degc[rows].tolist()[-room:] if room else [], unicode=self._unicode)
        return f"{bars}  {text}"

    def _ask(self) -> None:
        while not self._named(
            click.prompt(
                "Brew temperature (Enter for none)", default="", show_default=False, err=True
            ).strip()
        ):
            click.echo("That is no brew temperature; write for instance 92.6, or nothing.", err=True)
        self._round.say_counts(click.confirm("Does the shot count?", default=None, err=True))

    def _named(self, written: str) -> bool:
        """Take a brew temperature as typed; tell whether it can be meant."""
        if not written:
            return True
        temp_degc = temp_from(f"{written}{self._unit.symbol}" if written[-1].isdigit() else written)
        try:
            self._round.say_brew_temp(temp_degc)
        except BadInput:
            return False
        return temp_degc is not None
