"""Pressure against altitude in the standard atmosphere, and barometers reduced to sea level.

Source: ISO 2533:1975 (the same below 32 km as ICAO Doc 7488/3 and the U.S. Standard Atmosphere 1976).
Two altitudes are kept apart: geometric (a map or a satellite receiver gives it) and geopotential (the
argument of the usual formula). At 2000 m they differ by 0.6 m.
"""

from __future__ import annotations

from benchtemp.errors import BadInput

P0_HPA = 1013.25
T0_K = 288.15
LAPSE_K_PER_M = 0.0065
G0_M_PER_S2 = 9.80665
MOLAR_MASS_KG_PER_MOL = 0.0289644
GAS_CONSTANT = 8.31432
"""J/(mol K), the value of the standard, not the present CODATA one."""
EARTH_RADIUS_M = 6356766.0
EXPONENT = G0_M_PER_S2 * MOLAR_MASS_KG_PER_MOL / (GAS_CONSTANT * LAPSE_K_PER_M)

LOWEST_M, HIGHEST_M = -2000.0, 11000.0


def geopotential_m(altitude_m: float) -> float:
    """Return the geopotential altitude in m of a geometric altitude in m."""
    return EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)


def geometric_m(geopotential_altitude_m: float) -> float:
    """Return the geometric altitude in m of a geopotential altitude in m."""
    return EARTH_RADIUS_M * geopotential_altitude_m / (EARTH_RADIUS_M - geopotential_altitude_m)


def standard_temp_k(geopotential_altitude_m: float) -> float:
    """Return the temperature of the standard atmosphere in K."""
    return T0_K - LAPSE_K_PER_M * geopotential_altitude_m


def standard_pressure_hpa(altitude_m: float, *, geopotential: bool = False) -> float:
    """Return the pressure of the standard atmosphere in hPa.

    Args:
        altitude_m: Metres above mean sea level, geometric unless told otherwise.
        geopotential: Take `altitude_m` as geopotential metres.

    Raises:
        BadInput: Outside -2000 to 11000 m, the layer the formula describes.

    >>> round(standard_pressure_hpa(1000.0), 2), round(standard_pressure_hpa(1000.0, geopotential=True), 2)
    (898.76, 898.75)
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise BadInput(
            f"The standard atmosphere is used from −2000 to 11000 m, not at {altitude_m:g} m; check the unit."
        )
    height_m = altitude_m if geopotential else geopotential_m(altitude_m)
    return float(P0_HPA * (standard_temp_k(height_m) / T0_K) ** EXPONENT)


def standard_altitude_m(pressure_hpa: float, *, geopotential: bool = False) -> float:
    """Return the altitude in m at which the standard atmosphere has a pressure.

    Raises:
        BadInput: The pressure is not found between -2000 and 11000 m.
    """
    if not 226.0 <= pressure_hpa <= 1278.0:
        raise BadInput(
            f"{pressure_hpa:g} hPa is no pressure of the air near the ground; give it such as 1013hPa."
        )
    height_m = T0_K / LAPSE_K_PER_M * (1.0 - (pressure_hpa / P0_HPA) ** (1.0 / EXPONENT))
    return height_m if geopotential else geometric_m(height_m)


def station_pressure_hpa(sea_level_hpa: float, altitude_m: float, *, geopotential: bool = False) -> float:
    """Return the pressure where you are, in hPa, from a barometer reading reduced to sea level.

    Weather reports and most phones give the pressure as it would be at sea level. It is taken here as an
    altimeter setting, that is, reduced through the standard atmosphere: the station's pressure altitude is
    its altitude plus the pressure altitude of the sea-level figure. Reports reduced with the day's air
    temperature differ at altitude; `boiling.py` carries that in the uncertainty.

    Raises:
        BadInput: Pressure or altitude cannot be.
    """
    height_m = altitude_m if geopotential else geopotential_m(altitude_m)
    return standard_pressure_hpa(
        height_m + standard_altitude_m(sea_level_hpa, geopotential=True), geopotential=True
    )
