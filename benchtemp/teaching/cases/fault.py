"""The faults a case may have, and what a trainee names."""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Fault(StrEnum):
    """What may be wrong; the value is how it is typed."""

    NONE = "none"
    OFFSET = "offset"
    THERMOSTAT = "thermostat"
    PROBE_LOW = "probe-low"
    COLD_GROUP = "cold-group"
    SLOW_FLOW = "slow-flow"
    GRIND = "grind"


FAULT_TEXTS: dict[Fault, str] = {
    Fault.NONE: "nothing is wrong",
    Fault.OFFSET: "the offset is set wrong",
    Fault.THERMOSTAT: "the thermostat is worn, its dead band wide",
    Fault.PROBE_LOW: "the probe reads low, the machine is well",
    Fault.COLD_GROUP: "the group is cold, the machine not warmed through",
    Fault.SLOW_FLOW: "water comes too slowly, through a jet narrowed by scale or from a tired pump",
    Fault.GRIND: "the coffee is ground too fine or too coarse, the machine is well",
}
"""What each means, to choose from."""

SIZED = frozenset({Fault.OFFSET, Fault.PROBE_LOW})
"""Faults whose size is asked for: K by which the machine brews above (+) or below (−) its display, and K by
which the probe reads low, as a negative number."""


class Diagnosis(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a trainee names.

    Attributes:
        fault: Which.
        size_k: K, for those of `SIZED`; None where he does not say.
    """

    fault: Fault
    size_k: float | None = None
