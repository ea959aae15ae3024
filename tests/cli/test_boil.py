import json

import pytest
from click.testing import CliRunner

from benchtemp.cli import run
from benchtemp.cli.boil import boil
from benchtemp.errors import BadInput
from benchtemp.probes.boiling import boiling_reference


def told(*arguments):
    result = CliRunner().invoke(boil, list(arguments), catch_exceptions=False)
    assert result.exit_code == 0
    return result.stdout


def test_from_altitude():
    text = told("--altitude", "1600m")
    assert "94.65 ± 0.53 °C" in text.splitlines()[0]
    assert "202.37" in text.splitlines()[0]
    for part in (
        "1599.6 m geopotential",
        "ISO 2533",
        "835.28 hPa",
        "IAPWS-IF97",
        "weather",
        "give the air pressure",
    ):
        assert part in text


def test_from_pressure_and_depth():
    text = told("--pressure", "835hPa", "--depth", "6cm")
    assert "94.83 ± 0.25 °C" in text
    assert "5.66 hPa" in text
    assert "99.974 °C" in text
    assert "common practice" in text
    assert "weather alone" not in text


def test_feet_and_metres_agree():
    assert told("--altitude", "5250ft").splitlines()[0] == told("--altitude", "1600.2m").splitlines()[0]


def test_geopotential_is_kept_apart():
    geometric = json.loads(told("--altitude", "4000m", "--json"))["temp_degc"]
    geopotential = json.loads(told("--altitude", "4000m", "--geopotential", "--json"))["temp_degc"]
    # 0.202 hPa apart, at 0.042 K per hPa.
    assert geometric - geopotential == pytest.approx(0.0084, abs=2e-4)


def test_from_a_weather_report():
    text = told("--barometer", "1030hPa", "--altitude", "1600m")
    assert "849.6" in text
    assert "± 0.2" in text.splitlines()[0]


def test_json_is_the_reference():
    plain = json.loads(told("--pressure", "835hPa", "--depth", "6cm", "--dissolved", "300ppm", "--json"))
    reference = boiling_reference(pressure_hpa=835.0, depth_cm=6.0, dissolved_g_per_l=0.3)
    assert plain["temp_degc"] == pytest.approx(reference.temp_degc, abs=1e-12)
    assert plain["uncertainty_k"] == pytest.approx(reference.uncertainty_k, abs=1e-12)
    assert plain["working"] == list(reference.working)


def test_fahrenheit_comes_first_where_asked_for():
    first = told("--pressure", "1013.25hPa", "--unit", "F").splitlines()[0]
    assert first.startswith("Water boils here at 211.95 ±")
    assert "99.97 ±" in first


def test_a_surer_barometer_gives_a_surer_answer():
    usual = json.loads(told("--pressure", "835hPa", "--json"))["uncertainty_k"]
    unsure = json.loads(told("--pressure", "835hPa", "--pressure-within", "10hPa", "--json"))["uncertainty_k"]
    assert unsure > 2.0 * usual


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([], "Neither pressure nor altitude"),
        (["--pressure", "1013kPa"], "did you mean 1013hPa?"),
        (["--pressure", "1013"], "has no unit"),
        (["--altitude", "5250m"], "did you mean 5250ft"),
        (["--barometer", "1013hPa"], "needs the altitude too"),
        (["--pressure", "1013hPa", "--altitude", "1600m"], "does not go with 1600 m"),
        (["--pressure", "835hPa", "--geopotential"], "give --altitude too"),
        (["--altitude", "100m", "--pressure-within", "1hPa"], "give --pressure or --barometer"),
        (["--pressure", "835hPa", "--depth", "6"], "has no unit"),
    ],
)
def test_slips_are_one_sentence_on_stderr_and_exit_1(capsys, arguments, sentence):
    with pytest.raises(BadInput) as caught:
        CliRunner().invoke(boil, arguments, catch_exceptions=False)
    assert sentence in str(caught.value)
    assert run(["boil", *arguments], open_window=lambda **_: 0) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"{caught.value}\n"


def test_a_wrong_option_is_wrong_usage(capsys):
    assert run(["boil", "--height", "3m"], open_window=lambda **_: 0) == 2
    assert "--height" in capsys.readouterr().err
