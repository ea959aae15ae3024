"""What to tell somebody before a bath: what to mind, and how to go about it."""

from __future__ import annotations

from typing import NamedTuple

from benchtemp.probes import boiling, ice
from benchtemp.probes.reference import ReferenceKind

_THERMOMETER_CAUTIONS = (
    "Hot water scalds: fix both probes so that they cannot fall in, cables clear of hot metal.",
    "Keep mains leads, plugs and the computer away from the water.",
)
_THERMOMETER_HOW_TO = (
    "Hold the probe's tip right beside the thermometer's, in water that is stirred all the time.",
    "Wait until both have settled, and read the thermometer while the probe is being read.",
)


class Guide(NamedTuple):
    """What to tell before a bath: cautions first, then how to go about it."""

    cautions: tuple[str, ...]
    steps: tuple[str, ...]


def guide(kind: ReferenceKind | None) -> Guide:
    """Return cautions and steps for a kind of bath; None for probes held against each other alone."""
    if kind is ReferenceKind.BOILING:
        return Guide(boiling.CAUTIONS, boiling.HOW_TO)
    if kind is ReferenceKind.ICE:
        return Guide(ice.CAUTIONS, ice.HOW_TO)
    if kind is ReferenceKind.THERMOMETER:
        return Guide(_THERMOMETER_CAUTIONS, _THERMOMETER_HOW_TO)
    return Guide(_THERMOMETER_CAUTIONS, ("Tie the tips together and hold them in water that is stirred.",))
