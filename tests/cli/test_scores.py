"""`benchtemp scores` as it is run."""

import json

from benchtemp.logbook.folder import Logbook
from benchtemp.teaching.practice import ItemResult, RoundResult
from benchtemp.teaching.scores import keep_round


def kept(book, trainee, *scores):
    for score in scores:
        item = ItemResult(title="Shot 1", points={"pump on": 20.0, "plateau start": score - 20.0})
        result = RoundResult(title="First\x1b[2J shots", count=1, items=(item,))
        path = keep_round(Logbook(book), trainee, result, ended="2031-03-04T10:00:00+01:00")
    return path


def test_help_has_an_example(command):
    assert 'benchtemp scores "Ada Brook" --json' in command("scores", "--help")[1]


def test_nobody_has_any_yet(command, tmp_path):
    code, out, err = command("scores", "--logbook", tmp_path)
    assert (code, out) == (0, "")
    assert "Nobody has scores yet" in err
    assert json.loads(command("scores", "--json", "--logbook", tmp_path)[1]) == {"trainees": []}


def test_all_and_one(command, tmp_path):
    kept(tmp_path, "Ada", 30.0, 45.0)
    kept(tmp_path, "Ben", 40.0)
    _, out, _ = command("scores", "--logbook", tmp_path)
    assert [line.partition(":")[0] for line in out.splitlines()] == ["Ada", "Ben"]
    _, out, _ = command("scores", "ada", "--logbook", tmp_path)
    assert "2 rounds, from 30 to 45" in out
    assert out.count("2031-03-04 10:00") == 2
    assert "\x1b" not in out
    plain = json.loads(command("scores", "Ada", "--json", "--logbook", tmp_path)[1])["trainees"][0]
    assert plain["progress"]["scores"] == [30.0, 45.0]
    assert len(plain["rounds"]) == 2


def test_someone_unknown_is_one_sentence(command, tmp_path):
    kept(tmp_path, "Ada", 30.0)
    code, out, err = command("scores", "Cleo", "--logbook", tmp_path)
    assert (code, out) == (1, "")
    assert err == "There are no scores of 'Cleo'; there are Ada.\n"


def test_a_damaged_line_is_told(command, tmp_path):
    path = kept(tmp_path, "Ada", 30.0)
    path.write_bytes(path.read_bytes() + b"{damaged\n")
    code, out, err = command("scores", "Ada", "--logbook", tmp_path)
    assert code == 0
    assert "1 line" in err
    assert "One round so far" in out
