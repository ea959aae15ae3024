"""Where readings come from, seen from the engine."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol, runtime_checkable

from benchtemp.readings.reading import Item


class Source(Protocol):
    """Gives readings until it is closed.

    `open`, `read` and `close` are called by one thread, the reader; `now_s` and `interrupt` by any.
    A source that loses its interface does not raise from `read`: it gives a `gap` mark and a notice, tries
    to get the same interface back with growing pauses, and goes on with the same clock.
    """

    @property
    def name(self) -> str:
        """What a person calls it: a port's human name, a file, a virtual machine."""

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of the temperature channels, `("T1",)` to `("T1", …, "T8")`; known once it is open."""

    @property
    def has_weight(self) -> bool:
        """Whether weights come with the readings."""

    @property
    def details(self) -> dict[str, object]:
        """Facts for the recording's header (port, adapter, layout, unit as sent, seed…); plain values."""

    def open(self) -> None:
        """Begin; the source's clock starts at 0.

        Raises:
            SourceError: With the cure in its sentence.
        """

    def read(self) -> Sequence[Item]:
        """Wait at most about 0.2 s and return what came, oldest first (nothing is an answer too)."""

    def now_s(self) -> float:
        """Return the source's clock now: the time to give a key pressed at this moment."""

    def interrupt(self) -> None:
        """Make a waiting `read` return soon."""

    def close(self) -> None:
        """Let go of everything; closing twice is harmless."""


@runtime_checkable
class Pumped(Protocol):
    """A source that has a pump of its own to obey the operator's key."""

    def pump(self, *, on: bool, t_s: float) -> None:
        """Start or stop the pump as of `t_s` on the source's clock; may be called by any thread."""


@runtime_checkable
class Keyed(Protocol):
    """A source with its own clock that waits, for a moment, for what a key pressed now will make it do."""

    @property
    def hurrying(self) -> bool:
        """Whether its clock runs so fast for now that readings are always some seconds behind it."""

    def key_s(self) -> float:
        """Return the time for a key pressed at this moment: no reading passes it before it has acted."""

    def key_done(self, t_s: float) -> None:
        """Say that the key of this time has done what it will do, if anything; from any thread."""


@runtime_checkable
class Tared(Protocol):
    """A scale that can be set to zero by command."""

    def tare(self) -> bool:
        """Ask for zero; return False where the scale knows no such command."""
