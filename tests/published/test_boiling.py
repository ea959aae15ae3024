"""The boiling line against IAPWS R7-97(2012), the atmosphere against ISO 2533, and single facts."""

import iapws
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from iapws._iapws import _Ice

from benchtemp.probes import atmosphere, boiling, ice
from benchtemp.probes.saturation import (
    STANDARD_BOILING_DEGC,
    ZERO_DEGC_K,
    saturation_pressure_kpa,
    saturation_slope_k_per_kpa,
    saturation_temp_degc,
)


def test_program_verification_values(published):
    """IAPWS R7-97(2012) Tables 35 and 36, nine printed digits."""
    document = published("saturation_if97.json")
    for check in document["Psat_check"]:
        kpa = saturation_pressure_kpa(check["T_K"] - ZERO_DEGC_K)
        assert f"{kpa / 1000.0:.8e}" == f"{check['psat_MPa']:.8e}"
    for check in document["Tsat_check"]:
        temp_k = saturation_temp_degc(1000.0 * check["p_MPa"]) + ZERO_DEGC_K
        assert f"{temp_k:.6f}" == f"{check['Tsat_K']:.6f}"


def test_boiling_table(published_rows):
    """60 to 108 kPa: two independent IF97 programs, and the scientific formulation within 0.3 mK."""
    rows = published_rows("saturation.csv")
    assert len(rows) == 50
    for row in rows:
        temp_degc = saturation_temp_degc(float(row["p_kPa"]))
        assert temp_degc == pytest.approx(float(row["t_if97_degC"]), abs=6e-5)
        assert temp_degc + ZERO_DEGC_K == pytest.approx(float(row["T_if97_coolprop_K"]), abs=6e-5)
        assert temp_degc + ZERO_DEGC_K == pytest.approx(float(row["T_iapws95_K"]), abs=3e-4)


@pytest.mark.parametrize("kpa", [60.0, 83.5, 101.325, 108.0])
def test_second_opinion_on_boiling(kpa):
    assert saturation_temp_degc(kpa) + ZERO_DEGC_K == pytest.approx(
        iapws.IAPWS97(P=kpa / 1000.0, x=0).T, abs=1e-9
    )


def test_standard_atmosphere(published_rows):
    """ISO 2533:1975 Table 5; its print may be 0.001 hPa off in the last digit."""
    rows = published_rows("atmosphere.csv")
    assert len(rows) == 17
    for row in rows:
        altitude = float(row["altitude_m"])
        geometric = atmosphere.standard_pressure_hpa(altitude)
        geopotential = atmosphere.standard_pressure_hpa(altitude, geopotential=True)
        assert geometric == pytest.approx(float(row["p_geometric_hPa"]), abs=0.002)
        assert geopotential == pytest.approx(float(row["p_geopotential_hPa"]), abs=0.002)
        assert geometric == pytest.approx(float(row["p_computed_geometric_hPa"]), abs=6e-5)
        assert geopotential == pytest.approx(float(row["p_computed_geopotential_hPa"]), abs=6e-5)
    # The two altitudes must not be the same thing under two names.
    assert atmosphere.standard_pressure_hpa(4000.0) - atmosphere.standard_pressure_hpa(
        4000.0, geopotential=True
    ) == pytest.approx(0.202, abs=0.001)


@pytest.mark.parametrize("altitude", [0.0, 250.0, 1600.0, 3999.0])
def test_second_opinion_on_the_atmosphere(altitude):
    # The library's constants differ in the seventh digit.
    assert atmosphere.standard_pressure_hpa(altitude) == pytest.approx(
        ATMOSPHERE_1976(altitude).P / 100.0, abs=0.002
    )


@pytest.fixture(scope="module")
def facts(published_rows):
    return {row["name"]: float(row["value"]) for row in published_rows("other_facts.csv")}


def test_single_facts(facts):
    assert saturation_temp_degc(101.325) == pytest.approx(facts["boiling_point_101325_IF97"], abs=5e-5)
    assert pytest.approx(facts["boiling_point_101325_IF97"], abs=1e-9) == STANDARD_BOILING_DEGC
    assert saturation_temp_degc(100.0) == pytest.approx(facts["boiling_point_100kPa_IF97"], abs=5e-7)
    assert saturation_slope_k_per_kpa(101.325) == pytest.approx(facts["dTsat_dp_at_101325"], abs=5e-5)
    assert facts["standard_gravity"] == atmosphere.G0_M_PER_S2
    assert boiling.boiling_water_density(99.974) == pytest.approx(
        facts["water_density_at_boiling_101325"], abs=0.005
    )
    assert boiling.boiling_water_density(93.0) == pytest.approx(
        facts["water_density_93degC_101325"], abs=0.005
    )
    assert ice.ice_reference().temp_degc == facts["ice_point_degC"]
    assert facts["ebullioscopic_constant_CRC"] == boiling.EBULLIOSCOPIC_K_KG_PER_MOL


def test_depth_and_salt_shift_the_boiling_point_as_told(facts):
    dry = boiling.boiling_reference(pressure_hpa=1013.25)
    deep = boiling.boiling_reference(pressure_hpa=1013.25, depth_cm=1.0)
    assert deep.temp_degc - dry.temp_degc == pytest.approx(facts["boiling_shift_per_cm_depth"], abs=5e-5)
    salted = boiling.boiling_reference(pressure_hpa=1013.25, dissolved_g_per_l=0.5)
    assert salted.temp_degc - dry.temp_degc == pytest.approx(
        facts["boiling_elevation_0p5g_per_L_salt"], abs=5e-5
    )
    per_g_per_kg = (salted.temp_degc - dry.temp_degc) / (0.5 / 0.99821)
    assert per_g_per_kg == pytest.approx(facts["boiling_elevation_1g_NaCl_per_kg"], abs=5e-5)


@pytest.mark.parametrize("temp_degc", [86.0, 93.0, 96.0, 101.0])
def test_density_of_boiling_water_against_the_library(temp_degc):
    other = iapws.IAPWS97(T=temp_degc + ZERO_DEGC_K, x=0).rho
    assert boiling.boiling_water_density(temp_degc) == pytest.approx(other, rel=1e-3)


def test_cryoscopic_constant_follows_from_the_heat_of_fusion():
    """Held from memory in the program, so worked out here: Kf = R T² M / Δh, from IAPWS water and ice."""
    at_k = ZERO_DEGC_K
    # The ice equation wants MPa; water and ice both at 0.101325 MPa.
    fusion_kj_per_kg = iapws.IAPWS95(T=at_k, P=0.101325).h - _Ice(at_k - 1e-4, 0.101325)["h"]
    assert fusion_kj_per_kg == pytest.approx(333.4, abs=0.3)
    constant = 8.314462618 * at_k**2 / (1000.0 * fusion_kj_per_kg)
    assert constant == pytest.approx(ice.CRYOSCOPIC_K_KG_PER_MOL, abs=0.005)
