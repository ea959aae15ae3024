"""`benchtemp exercise` as teacher and trainee run it."""

import json

import pytest

from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.places import demo_streams_dir
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.teaching.exercise_file import read_exercise
from benchtemp.teaching.replay_notes import ReplayNotes

SERIES = demo_streams_dir() / "series_three_minutes.ecsv"
STEADY = demo_streams_dir() / "dual_boiler_steady.ecsv"


@pytest.fixture
def file(command, tmp_path):
    path = tmp_path / "first.exercise.zip"
    code, out, err = command(
        *("exercise", "make", path, f"{SERIES}#2", STEADY, "--title", "First shots", "--teacher", "Ines"),
        *("--words", "Look twice.", "--plateau-within", "1.5", "--no-band"),
    )
    assert (code, err) == (0, "")
    assert out.strip() == f"{path}: 2 shots"
    return path


@pytest.mark.parametrize("name", ["make", "show", "notes", "correct", "answer"])
def test_help_has_an_example(command, name):
    code, out, _ = command("exercise", name, "--help")
    assert code == 0
    assert f"benchtemp exercise {name} " in out


def test_make_takes_what_was_asked_for(file):
    found = read_exercise(file)
    assert [item.title for item in found.items] == ["Shot 1", "Shot 2"]
    assert found.words == "Look twice."
    assert not found.item(1).shows_band
    assert found.item(1).tolerance.plateau_start_s == 1.5
    assert found.item(1).tolerance.pump_on_s == 0.5


def test_a_recording_alone_gives_all_its_shots(command, tmp_path):
    path = tmp_path / "all.exercise.zip"
    assert command("exercise", "make", path, SERIES, "--title", "All")[0] == 0
    assert len(read_exercise(path).items) == 6


def test_notes_kept_for_a_recording_come_along(command, tmp_path):
    book = Logbook(tmp_path / "book")
    stream = read_stream(STEADY)
    ReplayNotes(book, stream, STEADY.name).write((Mark(35.0, MarkKind.NOTE, "Look here."),))
    path = tmp_path / "n.exercise.zip"
    words = ("exercise", "make", path, STEADY, "--title", "Notes", "--logbook", book.root)
    assert command(*words)[0] == 0
    assert [note.text for note in read_exercise(path).item(1).notes] == ["Look here."]
    assert command(*words, "--no-notes", "--overwrite")[0] == 0
    assert read_exercise(path).item(1).notes == ()


def test_show_keeps_the_answers_back_unless_asked(command, file):
    code, out, _ = command("exercise", "show", file)
    assert code == 0
    assert "First shots by Ines" in out
    assert "plateau" not in out
    _, told, _ = command("exercise", "show", file, "--answers")
    assert "plateau" in told
    assert "read from the trace with the pump marks" in told
    _, plain, _ = command("exercise", "show", file, "--json")
    assert "reference" not in json.loads(plain)["shots"][0]
    _, plain, _ = command("exercise", "show", file, "--json", "--answers")
    assert json.loads(plain)["shots"][0]["reference"]["counts"] is True


def test_one_shot_is_shown_with_trace_and_notes(command, file):
    assert command("exercise", "notes", file, "--item", 1, "--at", 20, "Watch", "now")[0] == 2
    assert command("exercise", "notes", file, "--item", 1, "--at", 20, "Watch now")[0] == 0
    _, out, _ = command("exercise", "show", file, "--item", 1, "--every", 5)
    assert "— Watch now" in out
    assert "  20.0 s" in out
    _, fahrenheit, _ = command("exercise", "show", file, "--item", 1, "--every", 5, "--unit", "F")
    assert "°F" in fahrenheit
    _, plain, _ = command("exercise", "show", file, "--item", 1, "--json")
    shot = json.loads(plain)["shots"][0]
    assert len(shot["t_s"]) == len(shot["temp_degc"]) > 200
    assert shot["notes"] == [{"t_s": 20.0, "text": "Watch now"}]


def test_notes_are_listed_and_taken_out(command, file):
    command("exercise", "notes", file, "--item", 2, "--at", 8, "Nothing yet.")
    _, out, _ = command("exercise", "notes", file)
    assert out.split() == ["shot", "2", "note", "1", "8.0", "s", "Nothing", "yet."]
    assert command("exercise", "notes", file, "--item", 2, "--remove", 1)[0] == 0
    assert command("exercise", "notes", file)[1] == ""


def test_a_reference_is_corrected(command, file):
    before = read_exercise(file).item(1).reference
    start_s = round(before.plateau_start_s + 2.0, 2)
    code, out, _ = command("exercise", "correct", file, "--item", 1, "--plateau-start", start_s)
    assert code == 0
    assert "corrected by the teacher" in out
    assert read_exercise(file).item(1).reference.plateau_start_s == start_s
    assert read_exercise(file).item(2).reference.plateau_start_s is not None
    command("exercise", "correct", file, "--item", 1, "--counts", "no", "--reason", "channelled")
    assert read_exercise(file).item(1).reference.reasons == ("channelled",)


def test_an_answer_is_marked_and_kept(command, file, tmp_path):
    reference = read_exercise(file).item(1).reference
    words = [
        *("exercise", "answer", file, "--item", 1, "--pump-on", reference.pump_on_s),
        *("--plateau", reference.plateau_start_s - 4.0, "--brew", "92.7", "--counts", "yes"),
    ]
    code, out, _ = command(*words)
    assert code == 0
    assert "You marked the plateau 4.0 s early: the probe was still climbing" in out
    book = tmp_path / "book"
    code, out, _ = command(*words, "--json", "--trainee", "Ada Brook", "--logbook", book)
    marked = json.loads(out)
    assert 70.0 < marked["points"] < 100.0
    assert [part["part"] for part in marked["parts"]] == [
        "pump on",
        "plateau start",
        "brew temperature",
        "counts",
    ]
    assert marked["score_file"] == str(book / "practice" / "Ada-Brook.jsonl")


def test_a_brew_temperature_may_come_in_fahrenheit(command, file):
    reference = read_exercise(file).item(1).reference
    brew = f"{reference.brew_temp_degc * 1.8 + 32.0:.2f}F"
    _, out, _ = command("exercise", "answer", file, "--item", 1, "--brew", brew, "--json")
    assert json.loads(out)["parts"][2]["points"] == 30.0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("make", "{}/x.zip", SERIES, "--title", "T"), "ends in .exercise.zip"),
        (("make", "{}/x.exercise.zip", f"{SERIES}#9", "--title", "T"), "no shot 9"),
        (("make", "{}/x.exercise.zip", "{}/none.ecsv", "--title", "T"), "There is no file"),
        (("make", "{}/none/x.exercise.zip", SERIES, "--title", "T"), "There is no folder"),
        (("make", "{}/x.exercise.zip", SERIES, "--title", " "), "needs a title"),
        (("make", "{}/x.exercise.zip", SERIES, "--title", "T", "--pump-within", "-1"), "tolerance"),
        (("make", "{}/x.exercise.zip", SERIES, "--title", "T", "--before", "nan"), "cannot be kept"),
        (("make", "{0}", SERIES, "--title", "T"), "already a file"),
        (("show", SERIES), "no exercise"),
        (("show", "{}/none.exercise.zip"), "There is no file"),
        (("show", "{0}", "--item", "9"), "no shot 9"),
        (("notes", "{0}", "--at", "3", "x"), "which shot"),
        (("notes", "{0}", "--item", "1", "x"), "needs a time"),
        (("notes", "{0}", "--item", "1", "--at", "1e9", "x"), "on the clock"),
        (("notes", "{0}", "--item", "1", "--remove", "4"), "no note 4"),
        (("correct", "{0}", "--plateau-start", "3"), "which shot"),
        (("correct", "{0}", "--item", "1", "--plateau-start", "300"), "does not lie within"),
        (("answer", "{0}", "--pump-on", "3"), "say which is answered"),
        (("answer", "{0}", "--item", "1"), "no answer"),
        (("answer", "{0}", "--item", "1", "--brew", "hot"), "no temperature"),
        (("answer", "{0}", "--item", "1", "--pump-on", "nan"), "cannot be"),
        (("answer", "{0}", "--item", "1", "--pump-on", "500"), "outside the shot"),
    ],
)
def test_what_cannot_be_is_one_sentence(command, file, tmp_path, words, said):
    filled = [
        str(word).replace("{0}", str(file)).replace("{}", str(tmp_path)) for word in ("exercise", *words)
    ]
    code, out, err = command(*filled)
    assert code == 1
    assert out == ""
    assert said in err
    assert err.count("\n") == 1
