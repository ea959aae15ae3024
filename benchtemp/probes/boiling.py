"""Boiling water as a reference: what temperature it has, how sure that is, and the working.

Sources: IAPWS R7-97(2012) region 4 for the boiling line; ISO 2533:1975 for pressure from altitude; density of
boiling water from IAPWS R6-95 (958.37 kg/m³ at 99.974 °C, 963.27 at 93 °C); ebullioscopic constant 0.513 K
kg/mol (CRC Handbook). Bounds marked as estimates are ours and can be given by the caller.
"""

from __future__ import annotations

from math import sqrt

from benchtemp.errors import BadInput
from benchtemp.probes import atmosphere
from benchtemp.probes.reference import Reference, ReferenceKind
from benchtemp.probes.saturation import saturation_slope_k_per_kpa, saturation_temp_degc
from benchtemp.probes.uncertainty import Contribution, bounded
from benchtemp.units import TempUnit, degc_to

CAUTIONS = (
    "Boiling water and steam scald: keep hands, face and children away from the pot.",
    "Fix the probe so that it cannot tip the pot or fall in, its cable clear of the burner and of hot metal.",
    "Keep mains leads, plugs and the computer away from the water and the steam.",
)
HOW_TO = (
    "Bring clean water to a rolling boil in an open pot and keep it there.",
    "Hold the tip in the middle of the water, away from the wall and the bottom; note how deep it is.",
    "Leave it until the reading has settled; the highest settled level is taken.",
)

PRESSURE_HALF_WIDTH_HPA = 1.0
"""How far a barometer or a phone's pressure reading may be off (estimate)."""
ALTITUDE_HALF_WIDTH_M = 10.0
"""How far an altitude from a map may be off (estimate)."""
DEPTH_HALF_WIDTH_CM = 1.0
"""How far a depth judged by eye may be off (estimate)."""
WEATHER_HALF_WIDTH_HPA = 15.0
"""How far the weather moves the pressure at sea level from the standard one (estimate)."""
AIR_TEMP_HALF_WIDTH_K = 10.0
"""How far the air below may be from the standard atmosphere's temperature (estimate: the season)."""
SUPERHEAT_HALF_WIDTH_K = 0.1
"""How far water at a rolling boil may be from its boiling temperature (estimate)."""
EQUATION_SHARE = 0.00025
"""Share of the pressure by which the equation may be off (0.025 %, from memory of the release)."""
EBULLIOSCOPIC_K_KG_PER_MOL = 0.513
SALT_G_PER_MOL = 58.443
_SPECIFIC_GAS_CONSTANT = atmosphere.GAS_CONSTANT / atmosphere.MOLAR_MASS_KG_PER_MOL
_FARTHEST_FROM_STANDARD_HPA = 45.0
"""Pressures that stray further than this from the altitude's standard one are taken for a mistake."""

SHOP_RULE = (
    "At 101.325 kPa pure water boils at 99.974 °C; the shop's rule of 100 °C (212 °F) at sea level is "
    "common practice, 0.03 °C too high."
)
ASK_FOR_PRESSURE = (
    "Only the altitude is known: the weather alone moves the boiling point by about ±0.3 to ±0.5 °C; give "
    "the air pressure where you are for a surer reference."
)
PRESSURE_HERE = (
    "The pressure is taken as that where the pot stands; weather reports and many phones give it reduced to "
    "sea level, which needs the altitude beside it."
)
TAP_WATER = "Dissolved solids of tap water (0.5 g/L) raise the boiling point by less than 0.01 °C."


def boiling_water_density(temp_degc: float) -> float:
    """Return the density of water near its boiling point in kg/m³ (80 to 102 °C, within 0.1 %).

    Straight line through 963.27 at 93 °C and 958.37 at 99.974 °C (IAPWS R6-95 at 101.325 kPa).
    """
    return 958.37 - 0.7026 * (temp_degc - 99.974)


def _pressure(
    pressure_hpa: float | None,
    altitude_m: float | None,
    sea_level_hpa: float | None,
    *,
    geopotential: bool,
    pressure_half_width_hpa: float,
    altitude_half_width_m: float,
) -> tuple[float, list[Contribution], list[str], dict[str, str]]:
    """Return the pressure over the water in hPa, its contributions, the working and the conditions."""
    if pressure_hpa is not None and sea_level_hpa is not None:
        raise BadInput(
            "Both the pressure here and one reduced to sea level were given; give only one of them."
        )
    if altitude_m is None:
        if sea_level_hpa is not None:
            raise BadInput("A pressure reduced to sea level needs the altitude too; give it, such as 1600m.")
        if pressure_hpa is None:
            raise BadInput(
                "Neither pressure nor altitude was given; give the air pressure (835hPa) or the altitude "
                "(1600m)."
            )
    read = bounded(
        "pressure reading", pressure_half_width_hpa, unit="hPa", estimate=True, note="bounds of the barometer"
    )
    kind = "geopotential" if geopotential else "geometric"
    conditions: dict[str, str] = {}
    working: list[str] = []
    height_m = 0.0
    if altitude_m is not None:
        height_m = altitude_m if geopotential else atmosphere.geopotential_m(altitude_m)
        conditions["altitude"] = f"{altitude_m:.1f} m {kind}"
        other = "" if geopotential else f" = {height_m:.1f} m geopotential"
        working.append(f"altitude {altitude_m:.1f} m ({altitude_m / 0.3048:.0f} ft) {kind}{other}")
    if pressure_hpa is not None:
        conditions["pressure"] = f"{pressure_hpa:.2f} hPa"
        working.append(f"pressure here {pressure_hpa:.2f} hPa, as given")
        if altitude_m is not None:
            standard_hpa = atmosphere.standard_pressure_hpa(altitude_m, geopotential=geopotential)
            if abs(pressure_hpa - standard_hpa) > _FARTHEST_FROM_STANDARD_HPA:
                raise BadInput(
                    f"{pressure_hpa:.0f} hPa does not go with {altitude_m:.0f} m, where it is about "
                    f"{standard_hpa:.0f} hPa; check both, or give the pressure as one reduced to sea level."
                )
        return pressure_hpa, [read], working, conditions
    assert altitude_m is not None
    if sea_level_hpa is not None:
        station_hpa = atmosphere.station_pressure_hpa(sea_level_hpa, altitude_m, geopotential=geopotential)
        conditions["sea-level pressure"] = f"{sea_level_hpa:.2f} hPa"
        per_hpa = atmosphere.station_pressure_hpa(
            sea_level_hpa + 0.5, height_m, geopotential=True
        ) - atmosphere.station_pressure_hpa(sea_level_hpa - 0.5, height_m, geopotential=True)
        shift_m = atmosphere.standard_altitude_m(sea_level_hpa, geopotential=True)
        working.append(
            f"barometer {sea_level_hpa:.2f} hPa reduced to sea level = {shift_m:.1f} m in the standard "
            "atmosphere"
        )
        height_m += shift_m
        lines = [
            bounded(
                "pressure reading",
                pressure_half_width_hpa,
                unit="hPa",
                sensitivity=per_hpa,
                estimate=True,
                note="bounds of the barometer",
            )
        ]
    else:
        station_hpa = atmosphere.standard_pressure_hpa(altitude_m, geopotential=geopotential)
        lines = [
            bounded(
                "weather",
                WEATHER_HALF_WIDTH_HPA,
                unit="hPa",
                sensitivity=station_hpa / atmosphere.P0_HPA,
                estimate=True,
                note="only the altitude is known",
            )
        ]
    working.append(
        f"standard atmosphere (ISO 2533) p = 1013.25 hPa × ((288.15 − 0.0065 × {height_m:.1f}) / "
        f"288.15)^5.25588 = {station_hpa:.2f} hPa"
    )
    temp_k = atmosphere.standard_temp_k(height_m)
    per_m = station_hpa * atmosphere.G0_M_PER_S2 / (_SPECIFIC_GAS_CONSTANT * temp_k)
    lines.append(
        bounded(
            "altitude",
            altitude_half_width_m,
            unit="m",
            sensitivity=-per_m,
            estimate=True,
            note="bounds of the map",
        )
    )
    lines.append(
        bounded(
            "air temperature",
            AIR_TEMP_HALF_WIDTH_K,
            sensitivity=per_m * abs(height_m) / temp_k,
            estimate=True,
            note="the air below is not at the standard temperature",
        )
    )
    return station_hpa, lines, working, conditions


def boiling_reference(
    *,
    pressure_hpa: float | None = None,
    altitude_m: float | None = None,
    sea_level_hpa: float | None = None,
    geopotential: bool = False,
    depth_cm: float = 0.0,
    dissolved_g_per_l: float = 0.0,
    pressure_half_width_hpa: float = PRESSURE_HALF_WIDTH_HPA,
    altitude_half_width_m: float = ALTITUDE_HALF_WIDTH_M,
    depth_half_width_cm: float = DEPTH_HALF_WIDTH_CM,
) -> Reference:
    """Return the temperature of water at a rolling boil, with its uncertainty and the working.

    Give the pressure where you are; or one reduced to sea level together with the altitude; or, less sure,
    the altitude alone. With pressure and altitude both, the pressure is used and held against the altitude.

    Args:
        pressure_hpa: Absolute pressure of the air where the pot stands, hPa.
        altitude_m: Altitude, m; geometric unless `geopotential`.
        sea_level_hpa: Pressure reduced to sea level, as weather reports give it, hPa.
        geopotential: Take the altitude as geopotential metres.
        depth_cm: How far the probe's tip is under water, cm; the weight of the water raises the boiling
            point.
        dissolved_g_per_l: Dissolved solids, g/L, taken as common salt.
        pressure_half_width_hpa: How far the pressure given may be off, hPa.
        altitude_half_width_m: How far the altitude may be off, m.
        depth_half_width_cm: How far the depth may be off, cm.
    Returns: A reference on the ITS-90, its budget in K.

    Raises:
        BadInput: Nothing to work from, or values that contradict each other or cannot be.
    """
    for what, value in (("depth", depth_cm), ("amount of dissolved solids", dissolved_g_per_l)):
        if not value >= 0.0:
            raise BadInput(f"A {what} of {value:g} cannot be; give 0 or more.")
    air_hpa, lines, working, conditions = _pressure(
        pressure_hpa,
        altitude_m,
        sea_level_hpa,
        geopotential=geopotential,
        pressure_half_width_hpa=pressure_half_width_hpa,
        altitude_half_width_m=altitude_half_width_m,
    )
    surface_degc = saturation_temp_degc(air_hpa / 10.0)
    head_hpa_per_cm = boiling_water_density(surface_degc) * atmosphere.G0_M_PER_S2 * 0.01 / 100.0
    total_hpa = air_hpa + head_hpa_per_cm * depth_cm
    local_degc = saturation_temp_degc(total_hpa / 10.0)
    k_per_hpa = saturation_slope_k_per_kpa(total_hpa / 10.0) / 10.0

    contributions = [
        Contribution(
            name=line.name,
            uncertainty=line.uncertainty,
            unit=line.unit,
            sensitivity=line.sensitivity * k_per_hpa,
            distribution=line.distribution,
            estimate=line.estimate,
            note=line.note,
        )
        for line in lines
    ]
    if depth_cm > 0.0:
        conditions["depth"] = f"{depth_cm:g} cm"
        working.append(
            f"water above the tip {boiling_water_density(surface_degc):.1f} kg/m³ × 9.80665 m/s² × "
            f"{depth_cm / 100.0:g} m = {head_hpa_per_cm * depth_cm:.2f} hPa"
        )
        working.append(
            f"pressure at the tip {air_hpa:.2f} + {head_hpa_per_cm * depth_cm:.2f} = {total_hpa:.2f} hPa"
        )
        contributions.append(
            bounded(
                "depth",
                depth_half_width_cm,
                unit="cm",
                sensitivity=head_hpa_per_cm * k_per_hpa,
                estimate=True,
                note="judged by eye",
            )
        )
        contributions.append(
            Contribution(
                name="stirring",
                uncertainty=(local_degc - surface_degc) / sqrt(3.0),
                estimate=True,
                note="the boil mixes water from the surface, which is cooler, down to the tip",
            )
        )
    working.append(f"boiling temperature at {total_hpa:.2f} hPa (IAPWS-IF97, region 4) = {local_degc:.3f} °C")
    raised_k = 0.0
    if dissolved_g_per_l > 0.0:
        conditions["dissolved solids"] = f"{dissolved_g_per_l:g} g/L"
        per_kg = dissolved_g_per_l / 0.99821
        raised_k = EBULLIOSCOPIC_K_KG_PER_MOL * 2.0 * per_kg / SALT_G_PER_MOL
        working.append(
            f"dissolved solids as common salt 0.513 K kg/mol × 2 × {per_kg:.3f} g/kg / 58.443 g/mol = "
            f"+{raised_k:.4f} K"
        )
        contributions.append(
            bounded(
                "dissolved solids", raised_k / 2.0, estimate=True, note="which salts they are is not known"
            )
        )
    contributions.append(
        bounded(
            "superheat", SUPERHEAT_HALF_WIDTH_K, estimate=True, note="water at a rolling boil in an open pot"
        )
    )
    contributions.append(
        bounded(
            "equation",
            EQUATION_SHARE * total_hpa,
            unit="hPa",
            sensitivity=k_per_hpa,
            note="0.025 % of the pressure, from memory",
        )
    )
    temp_degc = local_degc + raised_k
    working.append(f"reference temperature {temp_degc:.3f} °C = {degc_to(temp_degc, TempUnit.DEGF):.2f} °F")
    notes = [SHOP_RULE]
    if pressure_hpa is None and sea_level_hpa is None:
        notes.insert(0, ASK_FOR_PRESSURE)
    if pressure_hpa is not None and altitude_m is None:
        notes.insert(0, PRESSURE_HERE)
    if dissolved_g_per_l == 0.0:
        notes.append(TAP_WATER)
    return Reference(
        kind=ReferenceKind.BOILING,
        temp_degc=temp_degc,
        contributions=tuple(contributions),
        conditions=conditions,
        working=tuple(working),
        notes=tuple(notes),
    )
