"""Guessing the layout of a port in the background, in a way that can be stopped. No Qt here."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from benchtemp.errors import SourceError
from benchtemp.probes.type_k import measured_degc
from benchtemp.readings.guess import LayoutGuess, guess_baud, guess_layout
from benchtemp.readings.layout import Wire

if TYPE_CHECKING:
    from benchtemp.readings.layout import Layout


@dataclass(frozen=True, slots=True)
class PortGuess:
    """What was heard on a port, and the layout proposed for it.

    Attributes:
        lines: Raw lines, oldest first.
        wire: How the port was listened to.
        guess: None where no layout could be proposed; `complaint` then says why.
    """

    lines: tuple[bytes, ...]
    wire: Wire
    guess: LayoutGuess | None = None
    complaint: str = ""

    @property
    def layout(self) -> Layout | None:
        """Return the layout proposed, None without one."""
        return None if self.guess is None else self.guess.layout


class Listening:
    """Listens to one port once; `stop` ends it early, within a read's 0.2 s."""

    def __init__(self, device: str) -> None:
        self._device = device
        self._stopping = threading.Event()

    def stop(self) -> None:
        """Let go of the port soon; any thread may call it."""
        self._stopping.set()

    def guess(self) -> PortGuess:
        """Listen for a few seconds and propose a layout; lines that fit none are given back all the same.

        Raises:
            SourceError: The port cannot be opened, goes away, or nothing comes that looks like text.
        """
        heard = guess_baud(self._device, clock=self._clock_s)
        wire = Wire(baud=heard.baud)
        try:
            guess = guess_layout(heard.lines, wire=wire, emf_to_degc=measured_degc)
        except SourceError as error:
            return PortGuess(heard.lines, wire, complaint=str(error))
        return PortGuess(heard.lines, wire, guess)

    def _clock_s(self) -> float:
        if self._stopping.is_set():
            raise SourceError(f"Listening to {self._device} was ended early; guess again to go on.")
        return time.perf_counter()
