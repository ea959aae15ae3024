import pytest

from benchtemp.studies.evidence.typed import flush_from, minutes_from, tag, temp_from


@pytest.mark.parametrize(
    ("text", "degc"),
    [
        ("93", 93.0),
        ("93 °C", 93.0),
        ("93,5°C", 93.5),
        ("200 F", 93.3333),
        ("199.4°F", 93.0),
        ("warm", None),
        ("93 bar", None),
    ],
)
def test_temperatures(text, degc):
    assert temp_from(text) == (None if degc is None else pytest.approx(degc, abs=1e-4))


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("10", 10.0),
        ("10 min", 10.0),
        ("90 s", 1.5),
        ("1 h", 60.0),
        ("0:10", 10.0),
        ("none", 0.0),
        ("-5 min", None),
        ("a while", None),
        ("1e400", None),
    ],
)
def test_idle_times(text, minutes):
    assert minutes_from(text) == minutes


@pytest.mark.parametrize(
    ("text", "flush"),
    [
        ("2 s", (2.0, None)),
        ("2", (2.0, None)),
        ("60 g", (None, 60.0)),
        ("60 ml", (None, 60.0)),
        ("none", (0.0, 0.0)),
        ("0", (0.0, 0.0)),
        ("long", (None, None)),
        ("-1 s", (None, None)),
    ],
)
def test_flushes(text, flush):
    assert flush_from(text) == flush


def test_tags_are_found_whatever_their_case():
    assert tag({"Idle Time": " 5 min ", "coffee": "x"}, ("idle time", "idle")) == "5 min"
    assert tag({"idle": ""}, ("idle time", "idle")) == ""
