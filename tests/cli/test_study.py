import json

import pytest

from benchtemp.cli import run


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """The demo week, built once by its command."""
    folder = tmp_path_factory.mktemp("week") / "book"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHTEMP_CACHE", str(tmp_path_factory.mktemp("cache")))
        assert run(["demo-logbook", "--logbook", str(folder)], open_window=None) == 0
    return folder


def test_the_demo_week_holds_about_120_shots(week):
    assert 110 <= len(list((week / "shots").rglob("*shot-*.ecsv"))) <= 130
    assert len(list((week / "plans").glob("*.toml"))) == 10


def test_the_demo_week_is_not_built_over_anything(week, command):
    code, _, told = command("demo-logbook", "--logbook", week)
    assert code == 1
    assert "is not empty" in told


STUDIES = {
    "steadiness": (["--plan", "steady series Ferrowick Two"], "Ferrowick Two brews at 92."),
    "setpoint": (["--machine", "Ferrowick Two"], "to brew at 93.0 °C, set it to 96."),
    "routine": (["--machine", "Ostrel Long Arm", "--idle", "10"], "After 10 min idle, flush "),
    "warm-up": (["--machine", "Ferrowick Two"], "brews within 0.5 °C of its settled 92."),
    "cycle": (["--machine", "Pindlebay One"], "Pindlebay One heats in cycles of 137."),
    "comparison": (["--plan", "friday contest"], "The 3 groups do not brew alike"),
    "testers": (["--plan", "three hands Ferrowick Two"], "shots by the same tester scatter by"),
}


@pytest.mark.parametrize("name", STUDIES)
def test_every_study_speaks_on_the_demo_week(week, command, name):
    options, verdict = STUDIES[name]
    code, out, err = command("study", name, "--logbook", week, *options)
    assert code == 0, err
    assert verdict in " ".join(out.split())
    assert "shots used" in " ".join(out.split())
    assert max(map(len, out.splitlines())) < 190
    code, out, err = command("study", name, "--logbook", week, *options, "--json", "--charts")
    assert code == 0, err
    plain = json.loads(out)
    assert plain["study"] == name
    assert verdict in plain["verdict"]["sentence"]
    assert plain["charts"]


def test_studies_speak_fahrenheit(week, command):
    code, out, _ = command(
        "study",
        "setpoint",
        "--logbook",
        week,
        "--machine",
        "Ferrowick Two",
        "--target",
        "199.4F",
        "--unit",
        "F",
    )
    assert code == 0
    assert "to brew at 199.4 °F" in " ".join(out.split())
    assert "°C" not in out


def test_a_shot_that_does_not_count_is_listed_with_its_reason(week, command):
    _, out, _ = command("study", "steadiness", "--logbook", week, "--plan", "steady series Ferrowick Two")
    assert "10 of 11 shots used" in " ".join(out.split())
    assert "ran 14.0 s, window 20–32 s" in out


def test_a_channel_may_be_watched_instead(week, command):
    code, out, _ = command(
        "study", "warm-up", "--logbook", week, "--machine", "Ferrowick Two", "--channel", "T2"
    )
    assert code == 0
    assert "Channel T2 of Ferrowick Two" in out
    code, _, told = command("study", "warm-up", "--logbook", week, "--channel", "T7")
    assert code == 1
    assert "a channel T7" in told


def test_recordings_can_be_named_instead_of_a_logbook(week, command):
    (recording,) = (week / "recordings").glob("20310303-0910*")
    code, out, _ = command("study", "steadiness", recording)
    assert code == 0
    assert "10 of 11 shots used" in " ".join(out.split())
    code, _, told = command("study", "comparison", "--by", "plan shot", recording)
    assert code == 1
    assert "No plan shot has two shots" in told
    (cycling,) = (week / "recordings").glob("20310306-1000*")
    code, out, _ = command("study", "cycle", cycling)
    assert code == 0
    assert "Pindlebay One heats in cycles" in out


def test_choosing_by_tag_and_day(week, command):
    code, out, _ = command(
        "study", "steadiness", "--logbook", week, "--tag", "operator=Wren", "--since", "2031-03-07", "--json"
    )
    assert code == 0
    assert len(json.loads(out)["used"]) == 5


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        (["steadiness", "--machine", "Nobody"], "there are none"),
        (["steadiness", "--tag", "coffee"], "is no tag"),
        (["steadiness", "--since", "monday"], "is no day"),
        (["setpoint", "--target", "warm"], "is no temperature"),
        (["cycle", "--channel", "T9"], "has a channel T9"),
        (["testers", "--plan", "steady series Kessamun Dash"], "Neither the operator nor the probe"),
        (["comparison", "--by", "coffee"], "all shots have coffee Ninth Lantern"),
        (["routine", "--plan", "steady series Kessamun Dash"], "was varied"),
        (["steadiness", "nowhere.ecsv"], "nowhere.ecsv"),
    ],
)
def test_what_cannot_be_studied_is_said_in_one_sentence(week, command, arguments, complaint):
    logbook = [] if "nowhere.ecsv" in arguments else ["--logbook", week]
    code, out, err = command("study", *arguments, *logbook)
    assert code == 1
    assert complaint in err
    assert out == ""
    assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "words", [["study"], ["plan"], ["demo-logbook"], *(["study", name] for name in STUDIES)]
)
def test_help_shows_an_example(command, words):
    code, out, _ = command(*words, "--help")
    assert code == 0
    assert "Example" in out


def test_where_a_plan_of_the_week_stands(week, command):
    code, out, _ = command("plan", "status", "steady series Ferrowick Two", "--logbook", week)
    assert code == 0
    assert "10 of 10 shots done" in out
    assert "does not count" in out
    code, out, _ = command("plan", "status", "friday contest", "--logbook", week, "--json")
    assert json.loads(out)["finished"] is True
    code, out, _ = command("plan", "list", "--logbook", week)
    assert "friday contest: 18 shots, varying machine." in out
