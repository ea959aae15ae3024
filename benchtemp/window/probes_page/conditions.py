"""From what the user typed about a bath to its reference. No widgets."""

from __future__ import annotations

from dataclasses import dataclass, fields

from benchtemp.errors import BadInput
from benchtemp.probes import quantity
from benchtemp.probes.boiling import PRESSURE_HALF_WIDTH_HPA, boiling_reference
from benchtemp.probes.ice import ice_reference
from benchtemp.probes.reference import Reference


@dataclass(frozen=True)
class BoilTyped:
    """What is known of the pot, as typed, with units; empty where nothing was typed.

    Attributes:
        pressure: Where the pot stands.
        altitude: Above the sea.
        barometer: Pressure reduced to sea level.
        depth: How far the tip is under water.
        dissolved: Dissolved solids.
        within: How far the pressure may be off.
        geopotential: The altitude is geopotential.
    """

    pressure: str = ""
    altitude: str = ""
    barometer: str = ""
    depth: str = ""
    dissolved: str = ""
    within: str = ""
    geopotential: bool = False

    @property
    def altitude_alone(self) -> bool:
        """Tell whether the reference rests on the altitude alone."""
        return bool(self.altitude.strip()) and not (self.pressure.strip() or self.barometer.strip())


BOIL_FIELDS = tuple(field.name for field in fields(BoilTyped) if field.name != "geopotential")


def boil_reference_from(typed: BoilTyped) -> tuple[Reference, float | None]:
    """Return the reference, and the altitude in m where it rests on that alone.

    Raises:
        BadInput: Something typed cannot be meant, or there is nothing to work from; the sentence says which.
    """
    if typed.within.strip() and not (typed.pressure.strip() or typed.barometer.strip()):
        raise BadInput("How far the pressure may be off says nothing without a pressure; type that too.")
    altitude_m = quantity.altitude_m(typed.altitude) if typed.altitude.strip() else None
    reference = boiling_reference(
        pressure_hpa=quantity.pressure_hpa(typed.pressure) if typed.pressure.strip() else None,
        altitude_m=altitude_m,
        sea_level_hpa=quantity.sea_level_hpa(typed.barometer) if typed.barometer.strip() else None,
        geopotential=typed.geopotential,
        depth_cm=quantity.depth_cm(typed.depth) if typed.depth.strip() else 0.0,
        dissolved_g_per_l=quantity.dissolved_g_per_l(typed.dissolved) if typed.dissolved.strip() else 0.0,
        pressure_half_width_hpa=(
            quantity.pressure_difference_hpa(typed.within)
            if typed.within.strip()
            else PRESSURE_HALF_WIDTH_HPA
        ),
    )
    return reference, altitude_m if typed.altitude_alone else None


def ice_reference_from(dissolved: str) -> Reference:
    """Return the reference of an ice bath.

    Raises:
        BadInput: What was typed cannot be meant.
    """
    return ice_reference(
        dissolved_g_per_l=quantity.dissolved_g_per_l(dissolved) if dissolved.strip() else 0.0
    )
