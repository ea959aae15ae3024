"""Who looks after the portafilter of a virtual machine, and what is due by itself."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import msgspec


class Attendant(msgspec.Struct, frozen=True, kw_only=True):
    """Looks after the portafilter, so that the pump key alone is enough to pull shot after shot.

    After a pull the spent bed is knocked out and a fresh one locked in; if the pump is started while the
    portafilter is out or empty, a fresh one is locked in first. While the machine is to stand idle the
    portafilter waits in the group empty, to keep warm, and is filled shortly before the time is up: coffee
    that sits in a hot group for minutes makes another shot. All times are our own choice.

    Attributes:
        dose_g: Dry coffee per shot.
        rest_s: From pump off until the portafilter is taken out.
        out_s: How long it is out.
        rinsed_s: How long it is out before it is locked in empty.
        ready_s: How long before the end of an idle time the fresh dose is locked in.
    """

    dose_g: float = 18.0
    rest_s: float = 8.0
    out_s: float = 10.0
    rinsed_s: float = 8.0
    ready_s: float = 15.0


class Agenda:
    """What is due by itself, each by its name, at most once."""

    def __init__(self) -> None:
        self._due: dict[str, tuple[float, Callable[[], None]]] = {}

    def put(self, name: str, at_s: float, act: Callable[[], None]) -> None:
        """Let something happen at a time, instead of what was due by that name."""
        self._due[name] = (at_s, act)

    def drop(self, *names: str) -> None:
        """Let these not happen."""
        for name in names:
            self._due.pop(name, None)

    def has(self, name: str) -> bool:
        """Tell whether something of that name is due."""
        return name in self._due

    def clear(self) -> None:
        """Let nothing happen any more."""
        self._due.clear()

    @property
    def next_s(self) -> float:
        """Return when something is due next, infinite for nothing."""
        return min((at_s for at_s, _ in self._due.values()), default=inf)

    def do_next(self) -> None:
        """Do what is due first."""
        name = min(self._due, key=lambda name: self._due[name][0])
        self._due.pop(name)[1]()
