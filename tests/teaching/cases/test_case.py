"""Cases: the same for the same number, sealed in all they say and write."""

import io
import re

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import parse_stream, read_stream, stream_bytes, write_stream
from benchtemp.readings.reading import Reading
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, Bath
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.fault import FAULT_TEXTS, SIZED, Fault
from benchtemp.teaching.cases.sealed import PROBE_LOW_K, unsealed

TELLING = re.compile(
    r"fault|worn|dead|wrong|offset|scal|tired|cold|warm|low|slow|seed|truth|flush|setpoint_degc|kg_per|thermostat:",
    re.IGNORECASE,
)


def test_the_same_number_is_the_same_case():
    assert unsealed(4711) == unsealed(4711)
    first, second = Case(4711).pull(2), Case(4711).pull(2)
    assert first.meta == second.meta
    np.testing.assert_array_equal(first.temps_degc, second.temps_degc)
    other = Case(4711).pull(2, sitting=2)
    assert not np.array_equal(first.temps_degc[:500], other.temps_degc[:500])
    assert Case(4711).boil().points == Case(4711).boil().points


def test_every_fault_comes_about_as_often_as_any_other():
    counts = dict.fromkeys(Fault, 0)
    for code in range(1, 1201):
        counts[unsealed(code).fault] += 1
    assert all(150 <= count <= 250 for count in counts.values())


def test_name_and_display_have_nothing_to_do_with_the_fault():
    sealed = [unsealed(code) for code in range(1, 1201)]
    for look in (
        lambda one: one.machine.name,
        lambda one: one.display_degc,
        lambda one: one.standing_s > 430.0,
    ):
        for value in {look(one) for one in sealed}:
            faults = [one.fault for one in sealed if look(one) == value]
            assert set(faults) == set(Fault)
            assert max(map(faults.count, Fault)) < 0.34 * len(faults)


def test_sizes_go_with_the_faults_that_have_one(codes, fault):
    for code in codes[fault][:20]:
        sealed = unsealed(code)
        assert (sealed.size_k is not None) == (fault in SIZED)
        if fault is Fault.PROBE_LOW:
            assert sealed.size_k == PROBE_LOW_K == -0.8
            assert sealed.probe_error_k == pytest.approx(-0.8, abs=0.25)
        else:
            assert abs(sealed.probe_error_k) < 0.25


# Sealed


def words_of(stream):
    header, rows = stream_bytes(stream)
    marks = " ".join(str(mark) for mark in stream.marks)
    assert b"%ECSV" in header
    assert rows
    return header.decode() + marks


def test_nothing_in_a_recording_but_the_temperatures_tells(codes, fault, pulled):
    sound = pulled(codes[Fault.NONE][0])
    stream = pulled(codes[fault][0])
    assert not TELLING.search(words_of(stream).replace("electronic thermostat, rotary", ""))
    assert stream.meta.keys() == sound.meta.keys()
    assert stream.meta["source"].keys() == sound.meta["source"].keys()
    for key in ("build", "rate_hz", "places", "quantum_k", "noise_k", "kind"):
        assert stream.meta["source"][key] == sound.meta["source"][key]
    assert {str(mark.kind) for mark in stream.marks} == {str(mark.kind) for mark in sound.marks}


def test_temperatures_stand_on_the_interface_s_steps_whatever_the_probe_s_error(codes, fault, pulled):
    temps = pulled(codes[fault][0]).temps_degc
    np.testing.assert_allclose(temps * 10.0, np.round(temps * 10.0), atol=1e-6)


def test_what_a_case_and_its_source_say_of_themselves_tells_nothing(codes, fault):
    sound, case = Case(codes[Fault.NONE][0]), Case(codes[fault][0])
    assert repr(case) == f"Case({case.code})"
    source = case.open()
    assert source.name == case.brief.machine
    assert {**source.details, "name": "", "case": 0} == {**sound.open().details, "name": "", "case": 0}
    assert case.brief.complaint == sound.brief.complaint
    assert case.brief.sound == sound.brief.sound
    assert case.brief.tests == sound.brief.tests
    pot = case.pot()
    assert {**pot.details, "seed": 0} == {**sound.pot().details, "seed": 0}


def test_a_recording_is_written_and_read_like_any_other(tmp_path, pulled, codes):
    stream = pulled(codes[Fault.NONE][0])
    path = tmp_path / "sitting.ecsv"
    write_stream(path, stream)
    back = read_stream(path)
    np.testing.assert_array_equal(back.temps_degc, stream.temps_degc)
    assert back.meta == stream.meta
    assert parse_stream(io.BytesIO(path.read_bytes()).read(), "x").warnings == ()


# The pot


def test_the_pot_holds_the_very_probe(codes, fault, check):
    code = codes[fault][0]
    point = check(code).points[0]
    assert point.error_k == pytest.approx(unsealed(code).probe_error_k, abs=0.15)
    assert point.reference_degc == pytest.approx(POT_BOILS_DEGC, abs=0.01)


def test_ice_shows_the_same_error(codes):
    code = codes[Fault.PROBE_LOW][0]
    pot = Case(code).pot(Bath.ICE)
    readings = [pot.next_reading().temps_degc[0] for _ in range(400)][200:]
    assert np.mean(readings) == pytest.approx(unsealed(code).probe_error_k, abs=0.05)


@pytest.mark.parametrize("code", [0, -1, 1_000_000])
def test_there_is_no_such_case(code):
    with pytest.raises(BadInput, match="There is no case"):
        Case(code)


def test_shots_that_do_not_fit_are_refused():
    case = Case(1)
    for shots in (0, 41):
        with pytest.raises(BadInput, match="in one go"):
            case.pull(shots)
    for interval_s in (10.0, 1e6, float("nan")):
        with pytest.raises(BadInput, match="apart"):
            case.pull(2, interval_s=interval_s)


def test_every_fault_can_be_told_in_words():
    assert set(FAULT_TEXTS) == set(Fault)


# Live


class Clock:
    """A clock that a test moves."""

    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        return self.now_s


def lived(case, pump, until_s):
    """Return the readings of a sitting in which the pump went on and off at these times."""
    clock = Clock()
    source = case.open(clock=clock, speed=1.0)
    source.open()
    readings = []
    t_s = 0.0
    while t_s < until_s:
        t_s += 5.0
        clock.now_s = 100.0 + t_s
        for at_s, on in pump:
            if t_s - 5.0 <= at_s < t_s:
                source.pump(on=on, t_s=at_s)
        readings += [item for item in source.read() if isinstance(item, Reading)]
    source.close()
    return readings


def test_the_live_source_begins_at_zero_and_keeps_its_rate(codes):
    readings = lived(Case(codes[Fault.COLD_GROUP][0]), (), 30.0)
    times = [reading.t_s for reading in readings]
    assert times[0] == 0.0
    np.testing.assert_allclose(np.diff(times), 0.1, atol=1e-6)
    assert times[-1] == pytest.approx(30.0, abs=0.2)


def test_live_shots_are_like_those_pulled_by_script(codes, fault, shots):
    code = codes[fault][0]
    readings = lived(Case(code), ((30.0, True), (55.0, False)), 62.0)
    t_s = np.array([reading.t_s for reading in readings])
    temps = np.array([reading.temps_degc[0] for reading in readings])
    late = temps[(t_s > 48.0) & (t_s < 54.5)]
    first = shots(code)[0].result
    allowed_k = 1.5 if fault is Fault.THERMOSTAT else 0.8
    assert np.mean(late) == pytest.approx(first.brew_temp_degc, abs=allowed_k)
    np.testing.assert_allclose(temps * 10.0, np.round(temps * 10.0), atol=1e-6)
    assert readings[-1].weight_g > (5.0 if fault is not Fault.SLOW_FLOW else 1.0)


def test_working_out_how_it_stood_takes_no_time_on_its_clock(codes):
    source = Case(codes[Fault.NONE][0]).open(speed=16.0)
    source.open()
    assert source.now_s() < 16.0 * 0.1
    source.close()


def test_opened_again_it_is_as_the_owner_left_it(codes):
    case = Case(codes[Fault.COLD_GROUP][1])
    first = lived(case, (), 10.0)
    again = lived(case, (), 10.0)
    assert first == again
