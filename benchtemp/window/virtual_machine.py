"""Telling a virtual machine among sources, and its settings among the tags."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtemp.readings.source import Source
    from benchtemp.readings.virtual import VirtualSource


def virtual_source(source: Source | None) -> VirtualSource | None:
    """Return a source if it is a virtual machine that can be operated."""
    from benchtemp.readings.virtual import VirtualSource  # noqa: PLC0415 - not needed to paint

    return source if isinstance(source, VirtualSource) else None


def own_tags(source: Source, tags: dict[str, str]) -> dict[str, str]:
    """Return the tags that are the user's: a virtual machine's settings are not for the next machine."""
    machine = virtual_source(source)
    if machine is None:
        return tags
    return {name: value for name, value in tags.items() if name not in machine.order_tags}
