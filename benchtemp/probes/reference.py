"""A known temperature to hold a probe against, with its own uncertainty and the working behind it."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import msgspec

from benchtemp.probes.uncertainty import TWO_SIGMA_LEVEL, Budget, Contribution


class ReferenceKind(StrEnum):
    """What gives the known temperature."""

    BOILING = "boiling water"
    ICE = "ice bath"
    THERMOMETER = "reference thermometer"


class Reference(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A known temperature.

    Attributes:
        kind: What gives it.
        temp_degc: The temperature, °C.
        contributions: What may be wrong with it.
        conditions: What it was worked out from, by name, with units in the texts.
        working: The calculation, one line each, for printing.
        notes: Sentences worth knowing beside it.
    """

    kind: ReferenceKind
    temp_degc: float
    contributions: tuple[Contribution, ...] = ()
    conditions: dict[str, str] = {}
    working: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def budget(self) -> Budget:
        """Return its uncertainty budget."""
        return Budget(
            quantity=f"temperature of the {self.kind}", value=self.temp_degc, contributions=self.contributions
        )

    @property
    def uncertainty_k(self) -> float:
        """Return the standard uncertainty (k = 1), K."""
        return self.budget.uncertainty_k

    def expanded_k(self, level: float = TWO_SIGMA_LEVEL) -> float:
        """Return the expanded uncertainty, K."""
        return self.budget.expanded_k(level)

    def to_dict(self) -> dict[str, Any]:
        """Return the reference as plain values, with its uncertainties worked out."""
        budget = self.budget
        return {
            "kind": self.kind.value,
            "temp_degc": self.temp_degc,
            "uncertainty_k": budget.uncertainty_k,
            "expanded_uncertainty_k": budget.expanded_k(),
            "coverage_factor": budget.coverage_factor(),
            "conditions": dict(self.conditions),
            "contributions": [
                {**msgspec.to_builtins(line), "share_k": line.share_k, "part": part}
                for line, part in budget.ranked()
            ],
            "working": list(self.working),
            "notes": list(self.notes),
        }


def thermometer_reference(
    temp_degc: float, expanded_k: float, coverage: float = 2.0, note: str = ""
) -> Reference:
    """Return what a reference thermometer in the same bath shows.

    Args:
        temp_degc: Its reading with the correction of its certificate, °C.
        expanded_k: Expanded uncertainty of its certificate, K.
        coverage: Coverage factor of that.
        note: Which thermometer and certificate.
    """
    line = Contribution(
        name="reference thermometer",
        uncertainty=expanded_k / coverage,
        note=note or "certificate of the thermometer",
    )
    return Reference(
        kind=ReferenceKind.THERMOMETER,
        temp_degc=temp_degc,
        contributions=(line,),
        conditions={"thermometer": note} if note else {},
        working=(
            f"reference thermometer: {temp_degc:.3f} °C, certificate ± {expanded_k:g} K (k = {coverage:g})",
        ),
    )
