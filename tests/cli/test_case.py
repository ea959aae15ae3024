"""`benchtemp case` as a trainee runs it."""

import json
from pathlib import Path

import pytest

from benchtemp.logbook.ecsv import read_meta
from benchtemp.teaching.cases.fault import Fault
from benchtemp.teaching.cases.sealed import unsealed


@pytest.fixture(scope="module")
def low():
    """The number of a case whose probe reads low."""
    return next(code for code in range(1, 500) if unsealed(code).fault is Fault.PROBE_LOW)


@pytest.mark.parametrize("name", ["brief", "pull", "boil", "evidence", "name"])
def test_help_has_an_example(command, name):
    code, out, _ = command("case", name, "--help")
    assert code == 0
    assert f"benchtemp case {name} 4711" in out


def test_the_brief_names_every_fault_and_no_answer(command, low):
    code, out, _ = command("case", "brief", low)
    assert code == 0
    assert unsealed(low).machine.name in out
    for fault in Fault:
        assert f"  {fault} " in out
    plain = json.loads(command("case", "brief", low, "--json")[1])
    assert set(plain["faults"]) == {str(fault) for fault in Fault}
    assert "fault" not in plain


def test_from_the_first_shot_to_the_verdict(command, low, tmp_path):
    book = ("--logbook", tmp_path / "book")
    code, out, _ = command("case", "pull", low, "--shots", 6, *book)
    assert code == 0
    assert out.strip().endswith("sitting-1.ecsv")
    code, out, _ = command("case", "boil", low, *book)
    assert code == 0
    assert "error       −0." in out
    code, out, _ = command("case", "evidence", low, *book)
    assert "So far: 6 shots, 1 check of the probe." in out
    seen = json.loads(command("case", "evidence", low, "--json", *book)[1])
    assert seen["shots"] == 6
    assert "candidates" not in seen
    code, out, _ = command("case", "name", low, "probe-low", "--size", "-0.8", *book)
    assert code == 0
    assert "Right: the probe reads low" in out
    assert "100 of 100 points" in out
    marked = json.loads(command("case", "name", low, "offset", "--json", *book)[1])
    assert (marked["right"], marked["fault"], marked["points"]) == (False, "probe-low", 0.0)


def test_a_named_case_is_kept_under_a_name(command, low, tmp_path):
    book = ("--logbook", tmp_path / "book")
    command("case", "pull", low, "--shots", 1, *book)
    code, out, err = command("case", "name", low, "offset", "--trainee", "Ada", *book)
    assert code == 0
    assert "Ada.jsonl" in err
    _, out, _ = command("scores", "Ada", *book)
    assert "0 of 1 case named right at the first go" in out
    assert f"case {low}: named offset, wrong" in out
    plain = json.loads(command("scores", "Ada", "--json", *book)[1])["trainees"][0]
    assert plain["cases"][0]["fault"] == "probe-low"


def test_a_second_sitting_is_another_file(command, low, tmp_path):
    book = ("--logbook", tmp_path / "book")
    names = [command("case", "pull", low, "--shots", 1, "--even", *book)[1].strip()[-14:] for _ in range(2)]
    assert names == ["sitting-1.ecsv", "sitting-2.ecsv"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("pull", "7", "--shots", "0"), "in one go"),
        (("pull", "7", "--interval", "5"), "apart"),
        (("pull", "7", "--interval", "nan"), "apart"),
        (("name", "7", "ghosts"), "no fault to name"),
        (("name", "7", "offset", "--size", "nan"), "cannot be meant"),
        (("name", "7", "offset"), "Nothing was tested yet"),
    ],
)
def test_what_cannot_be_is_one_sentence(command, tmp_path, words, said):
    book = () if words[0] == "brief" else ("--logbook", tmp_path)
    code, out, err = command("case", *words, *book)
    assert (code, out) == (1, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_number_that_is_no_case_is_wrong_usage(command):
    assert command("case", "brief", "0")[0] == 2


def test_shots_are_pulled_at_other_settings_and_say_so(command, low):
    code, out, _ = command(
        "case", "pull", low, "--shots", "1", "--grind", "125", "--setpoint", "95", "--dose", "17"
    )
    assert code == 0
    tags = read_meta(Path(out.strip()))["tags"]
    assert (tags["grind"], tags["setpoint"]) == ("125 %", "95 °C")
    code, _, err = command("case", "pull", low, "--shots", "1", "--grind", "20")
    assert code != 0
    assert "70 to 140 %" in err
