import json

import pytest

from benchtemp.studies.plans.plan_file import load_plan

KINDS = {
    "steady": ["--machine", "Ferrowick Two", "--shots", "12", "--interval", "4"],
    "idle": ["--machine", "Ostrel Long Arm", "--idle", "2,10,30"],
    "flush": ["--machine", "Ostrel Long Arm", "--idle", "15", "--flush", "0,3,6"],
    "setpoint": ["--machine", "Ferrowick Two", "--setpoints", "91,93,95", "--repeats", "2"],
    "warm-up": ["--machine", "Ferrowick Two", "--minutes", "5,15,30"],
    "before-after": ["--machine", "Kessamun Dash", "--change", "gasket", "--shots", "5"],
    "machines": ["--machine", "Ferrowick Two", "--machine", "Pindlebay One"],
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_made_checked_and_begun(command, tmp_path, kind):
    code, out, err = command("plan", "new", kind, *KINDS[kind], "--logbook", tmp_path)
    assert code == 0, err
    (path,) = (tmp_path / "plans").glob("*.toml")
    assert str(path) in out
    plan = load_plan(path)
    code, out, _ = command("plan", "check", path)
    assert code == 0
    assert len(out.splitlines()) >= plan.count + 3
    code, out, _ = command("plan", "status", plan.name, "--logbook", tmp_path, "--json")
    assert code == 0
    stands = json.loads(out)
    assert (stands["shots"], stands["counted"], stands["finished"]) == (plan.count, 0, False)
    assert stands["sentence"]


def test_what_was_asked_for_is_in_the_plan(command, tmp_path):
    file = tmp_path / "my.toml"
    command(
        "plan",
        "new",
        "flush",
        *KINDS["flush"],
        "--order",
        "balanced",
        "--seed",
        "7",
        "--rest",
        "5",
        "--out",
        file,
    )
    plan = load_plan(file)
    assert [shot.flush_s for shot in plan.shots] == [0.0, 3.0, 6.0]
    assert {shot.idle_min for shot in plan.shots} == {15.0}
    assert (plan.order, plan.seed, plan.rest_min, plan.repeats) == ("balanced", 7, 5.0, 3)


def test_a_plan_can_be_printed_without_being_written(command, tmp_path):
    code, out, _ = command("plan", "new", "steady", "--machine", "x", "--print", "--logbook", tmp_path)
    assert code == 0
    assert 'kind = "steady series"' in out
    assert not (tmp_path / "plans").exists()


def test_a_plan_is_not_written_over(command, tmp_path):
    command("plan", "new", "steady", "--machine", "x", "--logbook", tmp_path)
    code, _, told = command("plan", "new", "steady", "--machine", "x", "--logbook", tmp_path)
    assert code == 1
    assert "already a plan" in told


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (["new", "machines", "--machine", "x"], "two machines or more"),
        (["new", "steady", "--machine", "x", "--machine", "y"], "about one machine"),
        (["new", "flush", "--flush", "a,b"], "no list of numbers"),
        (["new", "steady", "--interval", "0.1"], "interval of 0.1"),
        (["check", "nowhere.toml"], "nowhere.toml"),
        (["status", "nothing"], "There is no plan 'nothing'"),
        (["status", "nothing", "--now", "noon"], "is no moment"),
    ],
)
def test_mistakes_are_told_in_one_sentence(command, tmp_path, arguments, complaint):
    logbook = [] if arguments[0] == "check" else ["--logbook", tmp_path]
    code, _, err = command("plan", *arguments, *logbook)
    assert code == 1
    assert complaint in err
    assert len(err.strip().splitlines()) == 1


def test_an_unknown_kind_is_wrong_usage(command):
    code, _, err = command("plan", "new", "guesswork")
    assert code == 2
    assert "steady" in err


def test_a_broken_file_says_where(command, tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text("name = 'x'\n[[shots]]\nidle_min = 'long'\n", encoding="utf-8")
    code, _, err = command("plan", "check", file)
    assert code == 1
    assert "bad.toml" in err
    assert "shots[0].idle_min" in err


def test_a_plan_from_elsewhere_is_put_into_the_logbook_once(command, tmp_path):
    written = tmp_path / "contest.toml"
    written.write_text('name = "friday contest"\nrepeats = 4\ninterval_min = 3.0\n', encoding="utf-8")
    code, out, _ = command("plan", "add", written, "--logbook", tmp_path / "book")
    assert code == 0
    assert "friday contest: 4 shots" in out
    (path,) = (tmp_path / "book" / "plans").glob("*.toml")
    assert load_plan(path) == load_plan(written)
    code, _, told = command("plan", "add", written, "--logbook", tmp_path / "book")
    assert code == 1
    assert "already a plan called friday contest" in told


def test_a_plan_goes_to_the_bin_by_its_name(command, tmp_path):
    command("plan", "new", "steady", "--machine", "A", "--logbook", tmp_path)
    (path,) = (tmp_path / "plans").glob("*.toml")
    code, out, _ = command("plan", "remove", "Steady Series a", "--logbook", tmp_path)
    assert code == 0
    assert str(tmp_path / "bin" / "plans" / path.name) in out
    assert not path.exists()
    code, _, told = command("plan", "remove", "steady series A", "--logbook", tmp_path)
    assert code == 1
    assert "no plan" in told
