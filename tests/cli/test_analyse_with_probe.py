"""What `analyse` says of probes: corrections re-applied, budgets, the curve without lag."""

import json

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import save_probe
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.response import TimeConstant
from benchtemp.readings.reading import Mark, MarkKind, Stream


@pytest.fixture
def recording(tmp_path):
    """Two marked shots at 93.0 and 93.4 °C as reported, of March 2031, with no probe named."""
    t_s = np.round(np.arange(0, 200, 0.1), 4)
    temp_degc = np.full(len(t_s), 62.0)
    for start_s, brew_degc in ((20.0, 93.0), (120.0, 93.4)):
        brewing = (t_s >= start_s + 2) & (t_s < start_s + 26)
        temp_degc[brewing] = brew_degc - 31.0 * np.exp(-(t_s[brewing] - start_s - 2) / 1.5)
        after = (t_s >= start_s + 26) & (t_s < start_s + 100)
        temp_degc[after] = 62.0 + 31.0 * np.exp(-(t_s[after] - start_s - 26) / 40.0)
    marks = tuple(
        Mark(at_s, kind)
        for at_s, kind in ((20.0, MarkKind.PUMP_ON), (46.0, MarkKind.PUMP_OFF),
                           (120.0, MarkKind.PUMP_ON), (146.0, MarkKind.PUMP_OFF))
    )  # fmt: skip
    noise = np.random.default_rng(3).normal(0, 0.02, len(t_s))
    stream = Stream(
        channels=("T1",),
        t_s=t_s,
        temps_degc=np.round(temp_degc + noise, 2).reshape(-1, 1),
        marks=marks,
        mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s, side="right")) for mark in marks),
        meta={"kind": "recording", "started": "2031-03-04T10:00:00+00:00"},
    )
    path = tmp_path / "shots.ecsv"
    write_stream(path, stream)
    return path


def check(error_k, day):
    point = CheckPoint(
        reported_degc=100.0 + error_k, reference_degc=100.0, reference_uncertainty_k=0.1, reported_dof=30.0,
        reported_uncertainty_k=0.03,
    )  # fmt: skip
    return make_check([point], probe="basket 1", checked=f"{day}T10:00:00+00:00")


@pytest.fixture
def book(tmp_path):
    book = Logbook(tmp_path / "book")
    tau = TimeConstant(
        tau_s=1.2,
        uncertainty_s=0.02,
        crossing_s=1.2,
        plunge_s=8.0,
        start_degc=22.0,
        end_degc=99.0,
        scatter_k=0.1,
    )
    checks = (check(0.5, "2031-01-10"), check(0.7, "2031-04-10"))
    save_probe(book, Probe(name="basket 1", checks=checks, time_constant=tau))
    return book


@pytest.fixture
def shots(command, recording, book):
    def call(*arguments):
        code, out, err = command("analyse", "--json", "--logbook", book.root, *arguments, recording)
        assert (code, err) == (0, "")
        return json.loads(out)["shots"]

    return call


def test_the_stored_the_newest_an_older_check_or_none(shots, book):
    plain = shots()[0]
    assert plain["correction"]["checked"] is None
    assert plain["brew_temp_expanded_uncertainty_k"] == pytest.approx(3.13, abs=0.01)
    for arguments, offset_k, day in (
        (("--with-probe", "basket 1"), -0.7, "2031-04-10"),
        (("--with-probe", "BASKET 1", "--as-of", "2031-02-01"), -0.5, "2031-01-10"),
        (("--with-probe", book.probes_dir / "basket-1.toml"), -0.7, "2031-04-10"),
    ):
        found = shots(*arguments)[0]
        assert found["brew_temp_degc"] - plain["brew_temp_degc"] == pytest.approx(offset_k, abs=1e-6)
        assert found["correction"]["probe"] == "basket 1"
        assert found["correction"]["checked"].startswith(day)
        assert found["correction"]["at_brew_temp_k"] == pytest.approx(offset_k)
        assert 0.4 < found["brew_temp_expanded_uncertainty_k"] < 0.7
    never = shots("--with-probe", "basket 1", "--never")[0]
    assert never["brew_temp_degc"] == plain["brew_temp_degc"]
    assert never["brew_temp_expanded_uncertainty_k"] == pytest.approx(3.13, abs=0.01)


def test_the_file_itself_is_left_as_it_is(shots, recording):
    before = recording.read_bytes()
    shots("--with-probe", "basket 1")
    assert recording.read_bytes() == before


def test_text_tells_which_check_was_used(command, recording, book):
    _, out, _ = command("analyse", "--logbook", book.root, "--with-probe", "basket 1", recording)
    assert "probe: basket 1, checked 2031-04-10, corrected by −0.70 °C at 93.0 °C" in out
    _, out, _ = command("analyse", recording)
    assert "probe: not named, never checked, temperatures as reported" in out
    assert "±" in out.splitlines()[1]


def test_the_budget_is_a_table_with_bars_and_a_difference_is_told_both_ways(command, recording):
    code, out, _ = command("analyse", "--budget", recording)
    assert code == 0
    assert "shot 1: 92.9" in out
    assert "probe tolerance" in out
    assert "█" in out
    assert "What would make this number better?" in out
    (line,) = (line for line in out.splitlines() if "shot 2 minus shot 1" in line)
    assert "+0.40 ± 0.0" in line
    assert "± 4.42 °C if nothing were shared" in line


def test_the_budget_is_in_the_json_too(shots):
    found = shots("--budget")[0]["budget"]
    assert found["expanded_uncertainty_k"] == shots()[0]["brew_temp_expanded_uncertainty_k"]
    assert found["contributions"][0]["name"] == "probe tolerance"
    assert "budget" not in shots()[0]


def test_several_processes_apply_the_same_check(command, recording, book, tmp_path):
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(17):
        (folder / f"{number:02}.ecsv").write_bytes(recording.read_bytes())
    arguments = ("--json", "--with-probe", "basket 1", "--logbook", book.root)
    _, alone, _ = command("analyse", *arguments, "--jobs", "1", folder)
    _, together, _ = command("analyse", *arguments, "--jobs", "2", folder)
    assert together == alone
    assert '"at_brew_temp_k": -0.7' in alone


def test_the_curve_without_lag_is_written_beside_the_trace(command, recording, book, tmp_path):
    out = tmp_path / "curves.ecsv"
    arguments = ("--logbook", book.root, "--with-probe", "basket 1", "--lag-removed", out)
    code, _, err = command("analyse", *arguments, recording)
    assert code == 0
    assert "lag removed (estimate)" in err
    assert "time constant of 1.2 s" in err
    assert "times that of the readings" in err
    curves = read_stream(out)
    assert curves.channels == ("T1", "T1_lag_removed")
    rising = (curves.t_s > 23.0) & (curves.t_s < 26.0)
    assert (curves.temps_degc[rising, 1] > curves.temps_degc[rising, 0]).all()
    np.testing.assert_allclose(curves.temps_degc[:, 0], read_stream(recording).temps_degc[:, 0] - 0.7)
    code, _, err = command("analyse", *arguments, recording)
    assert code == 1
    assert "already a file" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--as-of", "2031-01-01"), "--with-probe too"),
        (("--never",), "--with-probe too"),
        (("--with-probe", "basket 1", "--never", "--as-of", "2031-02-01"), "contradict"),
        (("--with-probe", "basket 1", "--as-of", "2031-01-01"), "had no check by 2031-01-01"),
        (("--with-probe", "basket 1", "--as-of", "soon"), "no date"),
        (("--with-probe", "basket 2"), "there are basket 1"),
        (("--with-probe", "nowhere.toml"), "nowhere.toml"),
        (("--lag-removed", "x.ecsv"), "time constant"),
        (("--time-constant", "1.5"), "--lag-removed"),
        (("--lag-removed", "x.ecsv", "--time-constant", "-2"), "time constant"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence(command, recording, book, arguments, words):
    code, out, err = command("analyse", "--logbook", book.root, *arguments, recording)
    assert (code, out) == (1, "")
    assert words in err
    assert len(err.splitlines()) == 1


def test_lag_is_removed_from_one_file_at_a_time(command, recording, tmp_path):
    other = tmp_path / "other.ecsv"
    other.write_bytes(recording.read_bytes())
    code, _, err = command("analyse", "--lag-removed", tmp_path / "x.ecsv", recording, other)
    assert code == 1
    assert "one file" in err


def test_record_refuses_a_probe_nobody_knows(command, book):
    code, out, err = command(
        "record", "--port", "/dev/no-such-port", "--layout", "one-number", "--probe", "T1=lost",
        "--logbook", book.root,
    )  # fmt: skip
    assert (code, out) == (1, "")
    assert "there are basket 1" in err
    assert len(err.splitlines()) == 1
