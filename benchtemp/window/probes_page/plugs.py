"""Which probe is plugged into which channel of the open source, as the preferences remember it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtemp.shots.budget import interface_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.window.choices import Choices
    from benchtemp.window.panel import SourceChoice


class Plugs:
    """Knows the open source and changes what is remembered about it.

    Attributes:
        channels: Of the source that is open; none where it cannot be told from others.
    """

    def __init__(self, choices: Choices) -> None:
        self._choices = choices
        self._interface = ""
        self.channels: tuple[str, ...] = ()

    def follow(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> bool:
        """Look at the open source; tell whether it is another one than before."""
        interface = "" if choice is None or snapshot is None else interface_of(choice.source.details)
        channels = snapshot.channels if snapshot is not None and interface else ()
        if (channels, interface) == (self.channels, self._interface):
            return False
        self.channels, self._interface = channels, interface
        return True

    def plugged(self) -> Mapping[str, str]:
        """Return the names of the probes, by channel."""
        return self._choices.now.probes.get(self._interface, {})

    def channel_of(self, name: str) -> str:
        """Return the channel a probe is on, empty for none."""
        return next((channel for channel, plugged in self.plugged().items() if plugged == name), "")

    def plug(self, name: str, channel: str) -> None:
        """Remember that a probe is on a channel, and on no other one; an empty channel unplugs it."""
        now = self._choices.now
        for other, plugged in self.plugged().items():
            if plugged == name:
                now = now.with_probe(self._interface, other, "")
        if channel:
            now = now.with_probe(self._interface, channel, name)
        self._choices.take(now)
