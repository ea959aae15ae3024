"""`check-probe` in virtual baths, a thousand times faster than life."""

import json
import os
import subprocess
import sys

import pytest

from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import load_probe, probes
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, PROBES, Bath

FAST = ("--speed", "1000")
ERROR_K = 0.25 + 0.004 * POT_BOILS_DEGC


@pytest.fixture
def book(tmp_path):
    return Logbook(tmp_path / "book")


@pytest.fixture
def check(command, book):
    def call(*arguments):
        return command("check-probe", *FAST, "--logbook", book.root, *arguments)

    return call


@pytest.fixture
def checked(check):
    code, _, _ = check("--virtual", "pot", "--probe", "basket 1", "--yes", "--operator", "M. Tarn")
    assert code == 0
    return check


def kept(book):
    return [path for path in book.root.rglob("*") if path.is_file()]


def test_nothing_is_saved_without_a_yes(check, book):
    code, out, err = check("--virtual", "pot", "--probe", "basket 1")
    assert code == 0
    assert "Passed: within the limit of 1.00 °C." in out
    assert "Nothing was saved" in err
    assert "--yes" in err
    assert kept(book) == []


def test_cautions_come_first(check):
    _, out, err = check("--virtual", "pot")
    assert err.index("scald") < err.index("Reading")
    assert err.index("Mains" if "Mains" in err else "mains") < err.index("Reading")
    assert "99.974" in err
    assert "scald" not in out
    assert "name the probe with --probe" in err


@pytest.mark.usefixtures("checked")
def test_a_yes_keeps_the_check_and_its_readings(book):
    probe = load_probe(book, "basket 1")
    (one,) = probe.checks
    assert one.verdict.error_k == pytest.approx(ERROR_K, abs=0.12)
    assert one.operator == "M. Tarn"
    assert one.conditions == {"pressure": "1006.00 hPa", "depth": "5 cm"}
    trace = read_stream(book.recordings_dir / one.recording)
    assert trace.channels == ("T1",)
    assert trace.meta["source"]["kind"] == "virtual bath"
    point = one.points[0]
    inside = (trace.t_s >= point.start_s) & (trace.t_s <= point.end_s)
    assert int(inside.sum()) == point.readings
    assert len(kept(book)) == 2


def test_ice_added_to_it_gives_a_slope(checked, book):
    code, out, _ = checked("--virtual", "ice", "--probe", "basket 1", "--add-point", "--yes")
    assert code == 0
    assert "offset and slope" in out
    first, second = load_probe(book, "basket 1").checks
    assert len(first.points) == 1
    assert len(second.points) == 2
    assert second.correction.slope_k_per_k == pytest.approx(-0.004, abs=0.0015)


def test_a_depth_left_out_is_pointed_out(check):
    _, _, err = check("--virtual", "pot", "--pressure", "1006hPa")
    assert "No --depth was given" in err
    _, _, err = check("--virtual", "pot", "--pressure", "1006hPa", "--depth", "5cm")
    assert "No --depth" not in err


def test_json_tells_all_of_it(check):
    code, out, _ = check("--virtual", "pot", "--probe", "T1=a", "--probe", "T2=b", "--json", "--limit", "0.4")
    assert code == 0
    told = json.loads(out)
    assert told["reference"]["temp_degc"] == pytest.approx(POT_BOILS_DEGC, abs=1e-3)
    first, second = told["probes"]
    assert (first["probe"], first["channel"], first["saved"], first["file"]) == ("a", "T1", False, None)
    assert first["error_k"] == pytest.approx(ERROR_K, abs=0.12)
    assert (first["passed"], second["passed"]) == (False, True)
    assert told["comparison"]["spread_k"] == pytest.approx(first["error_k"] - second["error_k"], abs=1e-9)


def test_several_probes_are_compared_without_a_reference(check, book):
    code, out, err = check(
        "--virtual", "pot", "--method", "compare", "--probe", "T1=a", "--probe", "T2=b", "--yes"
    )
    assert code == 0
    assert "Spread" in out
    assert "nothing to save" in err
    assert kept(book) == []


def test_a_reference_thermometer(check):
    code, out, _ = check(
        "--virtual", "simmer", "--method", "thermometer", "--reads", "80", "--reads-within", "0.2", "--json"
    )
    assert code == 0
    (one,) = json.loads(out)["probes"]
    assert one["error_k"] == pytest.approx(0.25 + 0.004 * 80.0, abs=0.08)


def test_a_plunge_is_measured_and_kept(checked, book):
    code, out, _ = checked("--virtual", "pot", "--method", "plunge", "--probe", "basket 1", "--yes")
    assert code == 0
    assert "Recommended time constant: 1.2" in out
    probe = load_probe(book, "basket 1")
    assert probe.time_constant.tau_s == pytest.approx(1.2, rel=0.05)
    assert len(probe.checks) == 1
    code, out, _ = checked("--virtual", "pot", "--method", "plunge", "--probe", "basket 1", "--json")
    told = json.loads(out)
    assert (told["saved"], told["file"]) == (False, None)
    assert told["time_constant"]["crossing_s"] == pytest.approx(1.2, rel=0.08)


@pytest.mark.usefixtures("checked")
def test_the_probes_of_a_logbook_are_listed(command, book):
    code, out, _ = command("check-probe", "--list", "--logbook", book.root)
    assert code == 0
    assert out.startswith("basket 1; checked ")
    (book.probes_dir / "bad.toml").write_text("name =", encoding="utf-8")
    code, out, err = command("check-probe", "--list", "--logbook", book.root)
    assert code == 1
    assert "basket 1" in out
    assert len(err.splitlines()) == 1
    code, out, err = command("check-probe", "--list", "--logbook", book.root / "none")
    assert (code, out) == (0, "")
    assert "no probes" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--virtual", "simmer"), "settled at 80."),
        (("--virtual", "open"), "the probe is open"),
        (("--virtual", "restless", "--longest", "120"), "jump about"),
        (("--virtual", "cold", "--longest", "120"), "still climbing by 1.5"),
        (("--virtual", "ice", "--method", "boil"), "rolling boil"),
        (("--virtual", "pot", "--method", "ice"), "crushed ice"),
    ],
)
def test_a_bath_that_is_none_is_one_sentence(check, book, arguments, words):
    code, out, err = check("--yes", "--probe", "basket 1", *arguments)
    assert (code, out) == (1, "")
    assert words in err
    assert kept(book) == []


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "--port"),
        (("--port", "COM3", "--virtual", "pot"), "--port"),
        (("--virtual", "pot", "--pressure", "1013kPa"), "did you mean 1013hPa?"),
        (("--virtual", "pot", "--pressure", "1013"), "no unit"),
        (("--virtual", "pot", "--altitude", "5250m"), "did you mean 5250ft"),
        (("--virtual", "pot", "--altitude", "1600"), "no unit"),
        (("--virtual", "pot", "--barometer", "1013hPa"), "altitude"),
        (("--virtual", "pot", "--depth", "6"), "no unit"),
        (("--virtual", "pot", "--pressure", "835hPa", "--altitude", "100m"), "does not go with"),
        (("--virtual", "pot", "--limit", "0"), "limit"),
        (("--virtual", "pot", "--limit", "nan"), "limit"),
        (("--virtual", "pot", "--method", "ice", "--pressure", "1000hPa"), "--pressure is for boiling"),
        (("--virtual", "pot", "--method", "thermometer"), "--reads"),
        (("--virtual", "pot", "--method", "thermometer", "--reads", "nan", "--reads-within", "1"), "meant"),
        (("--virtual", "pot", "--reads", "92"), "--method thermometer"),
        (("--virtual", "pot", "--method", "compare"), "two probes"),
        (("--virtual", "pot", "--method", "plunge", "--probe", "T1=a", "--probe", "T2=b"), "only that one"),
        (("--virtual", "pot", "--add-point"), "--add-point"),
        (("--virtual", "pot", "--probe", "new", "--add-point"), "no check yet"),
        (("--virtual", "pot", "--probe", "T1=a", "--probe", "T1=b"), "Two probes"),
        (("--virtual", "pot", "--probe", "T1=a", "--probe", "T2=A"), "two channels"),
        (("--virtual", "pot", "--probe", "T7=a"), "T1 to T4"),
        (("--virtual", "pot", "--probe", "T1="), "names no probe"),
        (("--virtual", "pot", "--probe", "x" * 101), "100 characters"),
        (("--virtual", "pot", "--tolerance-class", "best"), "IEC class 1"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence_before_anything_is_read(command, book, arguments, words):
    code, out, err = command("check-probe", "--logbook", book.root, *arguments)
    assert (code, out) == (1, "")
    assert words in err
    told = [line for line in err.splitlines() if not line.startswith(("The virtual pot", "No --depth"))]
    assert len(told) == 1
    assert kept(book) == []


def test_a_real_port_wants_a_reference_first(command, book):
    code, _, err = command("check-probe", "--port", "/dev/no-such-port", "--logbook", book.root)
    assert code == 1
    assert "pressure" in err
    code, _, err = command(
        "check-probe", "--port", "/dev/no-such-port", "--layout", "one-number", "--pressure", "1000hPa",
        "--logbook", book.root,
    )  # fmt: skip
    assert code == 1
    assert "no-such-port" in err


def test_a_damaged_probe_file_is_told_before_the_pot_is_put_on(command, book):
    book.probes_dir.mkdir(parents=True)
    (book.probes_dir / "basket-1.toml").write_text("name =", encoding="utf-8")
    code, out, err = command(
        "check-probe", "--virtual", "pot", "--probe", "basket 1", "--yes", "--logbook", book.root
    )
    assert (code, out) == (1, "")
    assert "basket-1.toml" in err.splitlines()[-1]


@pytest.mark.parametrize("method", ["boil", "plunge"])
def test_a_logbook_that_takes_nothing_is_told_before_the_pot_is_put_on(command, tmp_path, method):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    code, out, err = command(
        "check-probe", "--virtual", "pot", "--method", method, "--probe", "p", "--yes",
        "--logbook", tmp_path / "file" / "book",
    )  # fmt: skip
    assert (code, out) == (1, "")
    assert "Mind" not in err
    assert err.splitlines()[-1].endswith("file takes no files; choose another place for the logbook.")


def test_the_class_on_the_packet_is_kept(check, book):
    check("--virtual", "ice", "--probe", "p", "--yes", "--tolerance-class", "iec CLASS 1")
    assert probes(book)[0][0].tolerance_class == "IEC class 1"


def read_until(ending, program):
    """Return what a program said on stderr, byte by byte up to an ending, or all of it."""
    said = b""
    while not said.endswith(ending) and (byte := os.read(program.stderr.fileno(), 1)):
        said += byte
    return said


@pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")
@pytest.mark.parametrize(("answer", "files"), [(b"y\n", 2), (b"n\n", 0), (b"\n", 0)])
def test_in_a_terminal_it_asks(tmp_path, answer, files):
    keyboard, terminal = os.openpty()
    environment = {**os.environ, "BENCHTEMP_LOGBOOK": str(tmp_path / "book")}
    program = subprocess.Popen(
        [sys.executable, "-m", "benchtemp", "check-probe", "--virtual", "ice", *FAST, "--probe", "p"],
        stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment,
    )  # fmt: skip
    os.close(terminal)
    said = read_until(b"\nS", program)  # not a moment later than the first letter of the question
    os.write(keyboard, answer)
    told, rest = program.communicate(timeout=60)
    os.close(keyboard)
    assert program.returncode == 0, said + rest
    assert b"Passed" in told
    found = [path for path in (tmp_path / "book").rglob("*") if path.is_file()]
    assert len(found) == files


@pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")
def test_q_gives_up_and_nothing_is_saved(tmp_path):
    keyboard, terminal = os.openpty()
    environment = {**os.environ, "BENCHTEMP_LOGBOOK": str(tmp_path / "book")}
    program = subprocess.Popen(
        [sys.executable, "-m", "benchtemp", "check-probe", "--virtual", "cold", "--probe", "p", "--yes"],
        stdin=terminal, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment,
    )  # fmt: skip
    os.close(terminal)
    introduced = read_until(b"Mind:", program)
    os.write(keyboard, b"q")  # once, as soon as there is a word of it
    told, said = program.communicate(timeout=60)
    os.close(keyboard)
    assert program.returncode == 130, introduced + said
    assert b"q gives up" in said
    assert (told, said.splitlines()[-1]) == (b"", b"Stopped.")
    assert not (tmp_path / "book").exists()


@pytest.mark.parametrize("layout", ["guess", "named"])
def test_a_probe_on_a_real_serial_port_is_checked_and_kept(command, book, pot_on_a_wire, tmp_path, layout):
    wire = pot_on_a_wire(PROBES[:2])
    lines = tmp_path / "lines.toml"
    lines.write_text(
        'name = "named"\nkind = "lines"\n[[channels]]\nlabel = "T1"\n[[channels]]\nlabel = "T2"\n',
        encoding="utf-8",
    )
    code, out, err = command(
        "check-probe",
        "--port",
        wire.device,
        "--layout",
        "guess" if layout == "guess" else lines,
        "--probe",
        "T1=basket 1",
        "--probe",
        "T2=spare",
        "--pressure",
        "1006hPa",
        "--depth",
        "5cm",
        "--yes",
        "--logbook",
        book.root,
    )
    assert code == 0, err
    assert "basket 1" in out
    for name, truth in zip(("basket 1", "spare"), PROBES, strict=False):
        (one,) = load_probe(book, name).checks
        error_k = truth.offset_k + truth.slope_k_per_k * POT_BOILS_DEGC
        assert one.verdict.error_k == pytest.approx(error_k, abs=one.verdict.expanded_k)
        stream = read_stream(book.recordings_dir / one.recording)
        assert stream.meta["source"]["port"] == wire.device
        (point,) = one.points
        inside = (stream.t_s >= point.start_s) & (stream.t_s <= point.end_s)
        assert int(inside.sum()) == point.readings


def test_a_cable_pulled_in_the_middle_of_a_bath_is_told_and_saves_nothing(command, book, pot_on_a_wire):
    # Just put on, so that nothing can have settled by then, however long listening took.
    wire = pot_on_a_wire(water=Bath.COLD, pulled_after_s=30.0)
    code, _, err = command(
        "check-probe",
        "--port",
        wire.device,
        "--probe",
        "basket 1",
        "--pressure",
        "1006hPa",
        "--yes",
        "--logbook",
        book.root,
    )
    assert code == 1
    assert "for 60 s" in err
    assert "nothing is saved" in err
    assert kept(book) == []
