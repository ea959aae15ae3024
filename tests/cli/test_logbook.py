"""The logbook from the command line, as a user runs it."""

from __future__ import annotations

import csv
import io
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from benchtemp.cli.logbook import logbook as group
from benchtemp.logbook.ecsv import read_meta
from benchtemp.logbook.folder import Logbook
from benchtemp.readings.reading import Stream

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def book() -> Logbook:
    return Logbook(Path(os.environ["BENCHTEMP_LOGBOOK"]))


@pytest.fixture
def shots(book: Logbook) -> list[Path]:
    """Three shots: one that does not count, one of another machine with a note that means harm."""
    made = []
    for number, (machine, counts, notes) in enumerate(
        [("Kestrel Two", True, ""), ("Kestrel Two", False, "wet puck"), ("../../x", True, "=1+1\x1b[31m")], 1
    ):
        stream = Stream(
            channels=("T1",),
            t_s=np.array([20.0, 46.0]),
            temps_degc=np.array([[92.0], [93.0]]),
            meta={
                "machine": machine,
                "channels": [{"name": "T1", "probe": "basket 1"}],
                "recipe": {"dose_g": 18.0},
                "tags": {"coffee": "house blend", "setpoint": f"{100 - number}"},
                "notes": notes,
                "shot": {
                    "number": number,
                    "pulled": f"2025-11-{number:02d}T10:00:00+01:00",
                    "yield_g": 36.0,
                    "verdict": "within",
                    "counts": counts,
                    "reasons": [] if counts else ["ran 29.4 s, window 22–28 s"],
                    "set_aside": "",
                    "result": {
                        "kind": "shot",
                        "rise_s": 20.0,
                        "pump_on_s": 20.0,
                        "pump_on_source": "marked",
                        "pump_off_s": 46.0,
                        "pump_off_source": "marked",
                        "plateau_start_s": 26.0,
                        "plateau_end_s": 46.0,
                        "brew_temp_degc": 92.0 + number / 10,
                    },
                },
            },
        )
        made.append(book.save_shot(stream))
    return made


def test_every_command_has_an_example_and_loads_nothing_heavy(command: Run) -> None:
    assert len(group.commands) == 10
    for name in group.commands:
        code, out, _ = command("logbook", name, "--help")
        assert code == 0
        assert "Example" in out
        assert f"benchtemp logbook {'search' if name == 'list' else name}" in out


def test_an_empty_logbook_is_no_fault(command: Run, book: Logbook) -> None:
    assert command("logbook", "search") == (0, "", "nothing found\n")
    assert command("logbook", "check") == (0, "", "There are no files yet.\n")
    assert command("logbook", "export", "--format", "json") == (0, "[]\n", "")
    assert command("logbook", "rebuild")[0] == 0
    assert not book.root.exists()


def test_searching_lists_what_is_asked_for(command: Run, shots: list[Path]) -> None:
    code, out, err = command("logbook", "search")
    assert (code, err) == (0, "3 found\n")
    lines = out.splitlines()
    assert lines[0].split() == ["when", "what", "machine", "brew", "ratio", "time", "counts", "file"]
    assert [line.rpartition("/")[2] for line in lines[1:]] == [path.name for path in reversed(shots)]
    assert "92.20 °C  1:2.00  26.0 s  no" in lines[2]
    for arguments, expected in [
        (["puck"], [2]),
        (["--does-not-count"], [2]),
        (["--counts", "--since", "2025-11-02"], [3]),
        (["--machine", "kestrel two", "--sort", "tag.setpoint"], [1, 2]),
        (["--tag", "coffee=HOUSE BLEND", "--tag", "setpoint=98", "--tag", "setpoint=99"], [2, 1]),
        (["house blend", "--ascending", "--limit", "1", "--offset", "1"], [2]),
        (["--probe", "basket 1", "--until", "2025-11-01"], [1]),
        (["--kind", "flush"], []),
        (["--verdict", "outside"], []),
    ]:
        code, out, _ = command("logbook", "search", "--json", *arguments)
        assert code == 0
        assert [json.loads(line)["number"] for line in out.splitlines()] == expected, arguments
    code, out, _ = command("logbook", "list", "--files", "wet")
    assert out.splitlines() == [str(shots[1])]
    assert command("logbook", "search", "--limit", "2")[2] == (
        "3 found, 1 more: see --limit, --offset and --all\n"
    )
    assert command("logbook", "search", "--limit", "2", "--all")[2] == "3 found\n"


@pytest.mark.usefixtures("shots")
def test_temperatures_are_shown_in_fahrenheit_where_wanted(command: Run) -> None:
    assert "197.78 °F" in command("logbook", "search", "--unit", "F", "--until", "2025-11-01")[1]
    assert (
        json.loads(command("logbook", "search", "--unit", "F", "--json", "puck")[1])["brew_temp_degc"] == 92.2
    )


@pytest.mark.usefixtures("shots")
@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["search", "--since", "yesterday"], "'yesterday' is no day"),
        (["search", "--sort", "colour"], "cannot be sorted by 'colour'"),
        (["show", "no such"], "There is no file 'no such'"),
        (["edit", "x"], "Say what shall change"),
        (["edit", "x", "--tag", "coffee"], "'coffee' is no tag"),
        (["export", "--format", "parquet"], "name it with --to"),
        (["export", "--to", "no such folder/x.csv"], "There is no folder"),
        (["bin", "no such"], "There is no file 'no such'"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_sentence(
    command: Run, arguments: list[str], sentence: str
) -> None:
    code, out, err = command("logbook", *arguments)
    assert (code, out) == (1, "")
    assert sentence in err
    assert err.count("\n") == 1


def test_a_file_may_be_named_in_several_ways(
    command: Run, book: Logbook, shots: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = shots[0].relative_to(book.root)
    monkeypatch.chdir(shots[0].parent)
    for name in (shots[0], place, shots[0].name, shots[0].stem):
        code, out, err = command("logbook", "show", name)
        assert (code, err) == (0, "")
        assert f"file              {place.as_posix()}" in out
    (book.shots_dir / "2025-12").mkdir()
    (book.shots_dir / "2025-12" / shots[0].name).write_bytes(shots[0].read_bytes())
    assert "names several files" in command("logbook", "show", shots[0].stem)[2]


def test_a_file_is_shown_with_its_history_and_cannot_steer_the_terminal(
    command: Run, shots: list[Path]
) -> None:
    command("logbook", "edit", shots[2], "--tag", "coffee=low tide", "--untag", "setpoint")
    code, out, _ = command("logbook", "show", shots[2])
    assert code == 0
    assert "tag coffee                        low tide" in out
    assert "tags.coffee: 'house blend' → 'low tide'; tags.setpoint: '97' → none" in out
    assert "\x1b" not in out
    code, out, _ = command("logbook", "show", "--json", shots[2])
    assert json.loads(out)["tags"] == {"coffee": "low tide"}


def test_editing_changes_several_files_and_tells_what_it_could_not(
    command: Run, book: Logbook, shots: list[Path]
) -> None:
    code, out, err = command(
        "logbook", "edit", shots[0].stem, "no such", shots[1], "--tag", "plan=a", "--notes", "new gasket"
    )
    assert code == 1
    assert out.splitlines() == [f"edited {shots[0]}", f"edited {shots[1]}"]
    assert "There is no file 'no such'" in err
    assert [
        json.loads(line)["number"]
        for line in command("logbook", "search", "--json", "gasket")[1].splitlines()
    ] == [
        2,
        1,
    ]
    assert book.tags_used()["plan"] == ["a"]


def test_notes_may_come_from_stdin(command: Run, shots: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("one\ntwo\n"))
    assert command("logbook", "edit", shots[0], "--notes", "-")[0] == 0
    assert read_meta(shots[0])["notes"] == "one\ntwo"


def test_setting_aside_and_taking_back(command: Run, shots: list[Path]) -> None:
    assert command("logbook", "set-aside", shots[0], "--reason", "spilt") == (
        0,
        f"set aside {shots[0]}\n",
        "",
    )
    _, out, _ = command("logbook", "search", "--set-aside", "--json")
    (row,) = map(json.loads, out.splitlines())
    assert (row["number"], row["counts"], row["reasons"]) == (1, False, ["set aside: spilt"])
    assert command("logbook", "take-back", shots[0].stem) == (0, f"taken back {shots[0]}\n", "")
    assert command("logbook", "search", "--set-aside", "--json")[1] == ""
    assert "nothing to take back" in command("logbook", "take-back", shots[0])[2]
    assert command("logbook", "set-aside", shots[0])[0] == 2


def test_the_bin_and_back(command: Run, book: Logbook, shots: list[Path]) -> None:
    place = shots[0].relative_to(book.root)
    before = shots[0].read_bytes()
    assert command("logbook", "bin", shots[0].stem) == (0, f"moved to {book.bin_dir / place}\n", "")
    assert command("logbook", "search")[2] == "2 found\n"
    assert command("logbook", "take-back", f"bin/{place.as_posix()}") == (0, f"taken back {shots[0]}\n", "")
    assert shots[0].read_bytes() == before
    assert command("logbook", "search")[2] == "3 found\n"


def test_damage_is_told_and_mended_only_when_asked(command: Run, book: Logbook, shots: list[Path]) -> None:
    assert command("logbook", "check") == (0, "", "3 files: 3 whole\n")
    damaged = shots[0].read_bytes().replace(b"\n46.0,93.0,", b"\n46.0,94.0,")
    shots[0].write_bytes(damaged)
    for _ in range(2):
        code, out, err = command("logbook", "check")
        assert (code, err) == (1, "3 files: 2 whole, 1 rows damaged\n")
        assert out.startswith("rows damaged: The rows of ")
    found = [json.loads(line) for line in command("logbook", "check", "--json")[1].splitlines()]
    assert sorted(one["condition"] for one in found) == ["rows damaged", "whole", "whole"]
    code, out, _ = command("logbook", "check", "--mend")
    assert code == 0
    assert "written anew from 2 rows" in out
    (original,) = book.bin_dir.rglob("*.ecsv")
    assert original.read_bytes() == damaged
    assert command("logbook", "check")[0] == 0


def test_what_cannot_be_mended_keeps_the_exit_code(command: Run, shots: list[Path]) -> None:
    shots[0].write_bytes(b"# %ECSV 1.0\n# ---\n")
    code, _, err = command("logbook", "check", "--mend")
    assert code == 1
    assert "cannot be mended" in err


@pytest.mark.usefixtures("shots")
def test_exporting_to_a_file_or_stdout(command: Run, book: Logbook, tmp_path: Path) -> None:
    code, out, err = command("logbook", "export", "--machine", "../../x")
    assert (code, err) == (0, "")
    (row,) = csv.DictReader(io.StringIO(out))
    assert (row["bench"], row["machine"], row["notes"][:5]) == (book.root.name, "../../x", "'=1+1")
    target = tmp_path / "shots.json"
    assert command("logbook", "export", "--format", "json", "--to", target, "--bench", "North") == (0, "", "")
    assert [one["bench"] for one in json.loads(target.read_text(encoding="utf-8"))] == ["North"] * 3
    assert "already a file" in command("logbook", "export", "--to", target)[2]
    assert command("logbook", "export", "--to", target, "--overwrite", "puck")[0] == 0
    assert len(target.read_text(encoding="utf-8").splitlines()) == 2


@pytest.mark.usefixtures("shots")
def test_exporting_a_dataset(command: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "all"
    code, out, err = command("logbook", "export", "--format", "parquet", "--to", folder)
    assert (code, out, err) == (0, "", f"3 shots in 2 files below {folder}\n")
    assert sorted(path.name for path in folder.iterdir()) == [
        "machine=%2E%2E%2F%2E%2E%2Fx",
        "machine=Kestrel%20Two",
    ]
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    code, _, err = command("logbook", "export", "--format", "parquet", "--to", tmp_path / "none")
    assert code == 1
    assert "python -m pip install 'benchtemp[parquet]'" in err
    assert not (tmp_path / "none").exists()


@pytest.mark.usefixtures("shots")
def test_rebuilding_finds_every_file(command: Run) -> None:
    code, out, _ = command("logbook", "rebuild")
    assert code == 0
    assert out.startswith("3 files in ")
