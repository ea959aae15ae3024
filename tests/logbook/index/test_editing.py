"""Later changes to headers: nothing but what was asked for changes, and nothing is lost."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.ecsv import read_meta, read_stream, write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index.editing import (
    NOTES_MAX,
    ChangedMeanwhile,
    Seen,
    edit,
    from_bin,
    history,
    notes_of,
    set_aside,
    tags_of,
    take_back,
)
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.reading import Stream

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def rows_of(path: Path) -> bytes:
    return path.read_bytes().partition(b"\nt,")[2]


def test_tags_and_notes_change_and_the_readings_stay(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1, tags={"coffee": "house blend", "draft": "yes"})
    rows = rows_of(path)
    meta = edit(path, tags={"coffee": " low tide ", "draft": None, "basket": "20 g"}, notes="one\r\ntwo\n")
    assert meta == read_meta(path)
    assert meta["tags"] == {"coffee": "low tide", "basket": "20 g"}
    assert meta["notes"] == "one\ntwo"
    assert rows_of(path) == rows
    assert verify(path).condition is Condition.WHOLE


def test_what_stood_there_before_is_remembered(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    edit(path, tags={"coffee": "low tide"})
    edit(path, notes="wet puck")
    edit(path, notes="")
    meta = read_meta(path)
    assert "notes" not in meta
    assert [one.changes for one in history(meta)] == [
        {"tags.coffee": ("house blend", "low tide")},
        {"notes": (None, "wet puck")},
        {"notes": ("wet puck", None)},
    ]
    assert history({"edits": [{"at": 3}, "x", {"at": "2025", "changes": {"a": [1]}}]}) == ()
    assert history({"edits": "none"}) == ()


def test_an_edit_that_changes_nothing_leaves_the_file_alone(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    before = path.read_bytes()
    edit(path, tags={"coffee": "house blend", "not there": None})
    assert path.read_bytes() == before


def test_the_machine_is_a_tag_like_others(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1, tags={"machine": "Kestrel Two"})
    assert edit(path, tags={"machine": "Umber"})["machine"] == "Umber"
    meta = edit(path, tags={"machine": ""})
    assert (meta["machine"], meta["tags"]) == ("", {})


@pytest.mark.parametrize(
    ("tags", "notes", "sentence"),
    [
        ({"a=b": "c"}, None, "cannot hold '='"),
        ({"": "c"}, None, "between 1 and 200"),
        ({"a": "x" * 201}, None, "between 1 and 200"),
        ({f"tag {n}": "x" for n in range(41)}, None, "More than 40 tags"),
        ({}, "x" * (NOTES_MAX + 1), "shorten"),
    ],
)
def test_what_is_too_much_is_refused_and_nothing_changed(
    make_shot: Callable[..., Path], tags: dict[str, str], notes: str | None, sentence: str
) -> None:
    path = make_shot(1)
    before = path.read_bytes()
    with pytest.raises(BadInput, match=sentence):
        edit(path, tags=tags, notes=notes)
    assert path.read_bytes() == before


def test_lines_are_added_to_whatever_notes_there_are(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    edit(path, more_notes=" wet puck ")
    edit(path, more_notes="new gasket")
    assert notes_of(read_meta(path)) == "wet puck\nnew gasket"
    edit(path, notes="dry", more_notes="cold cup")
    assert notes_of(read_meta(path)) == "dry\ncold cup"
    with pytest.raises(BadInput, match="shorten"):
        edit(path, more_notes="x" * NOTES_MAX)


@pytest.mark.parametrize(
    ("elsewhere", "mine", "name", "now"),
    [
        ({"tags": {"coffee": "low tide"}}, {"tags": {"coffee": "grey heron"}}, "tags.coffee", "low tide"),
        ({"tags": {"coffee": None}}, {"tags": {"coffee": "grey heron"}}, "tags.coffee", None),
        ({"notes": "theirs"}, {"notes": "mine"}, "notes", "theirs"),
        ({"notes": "theirs"}, {"notes": ""}, "notes", "theirs"),
    ],
)
def test_what_changed_since_it_was_seen_is_not_written_over(
    make_shot: Callable[..., Path],
    elsewhere: dict[str, Any],
    mine: dict[str, Any],
    name: str,
    now: str | None,
) -> None:
    path = make_shot(1)
    meta = read_meta(path)
    seen = Seen(tags_of(meta), notes_of(meta))
    edit(path, **elsewhere)
    before = path.read_bytes()
    with pytest.raises(ChangedMeanwhile, match="changed elsewhere") as caught:
        edit(path, **mine, seen=seen)
    assert (caught.value.name, caught.value.now) == (name, now)
    assert path.read_bytes() == before


def test_what_others_changed_besides_does_not_matter(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    seen = Seen(tags_of(read_meta(path)))
    edit(path, tags={"basket": "20 g"}, notes="theirs")
    edit(path, tags={"coffee": "low tide"}, seen=seen)
    edit(path, tags={"coffee": "low tide"}, seen=seen)  # the same wish twice is no quarrel
    assert tags_of(read_meta(path)) == {"coffee": "low tide", "basket": "20 g"}
    assert notes_of(read_meta(path)) == "theirs"


def test_the_longest_notes_can_be_changed_again_and_again(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    for char in ("é", "☕", "\n☕"):
        edit(path, notes=(char * NOTES_MAX)[:NOTES_MAX])
    assert verify(path).condition is Condition.WHOLE


def test_other_peoples_files_are_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "theirs.ecsv"
    stream = Stream(channels=("T1",), t_s=np.array([0.0]), temps_degc=np.array([[20.0]]))
    write_stream(path, stream)
    with pytest.raises(BadInput, match="not made by this program"):
        edit(path, notes="x")
    with pytest.raises(BadInput, match="not made by this program"):
        set_aside(path, "x")


def test_a_shot_set_aside_does_not_count_until_taken_back(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1)
    note = set_aside(path, "  channelled\nbadly ")["shot"]
    assert (note["set_aside"], note["counts"]) == ("channelled badly", False)
    assert note["reasons"] == ["set aside: channelled badly"]
    note = set_aside(path, "spilt")["shot"]
    assert note["reasons"] == ["set aside: spilt"]
    note = take_back(path)["shot"]
    assert (note["set_aside"], note["counts"], note["reasons"]) == ("", True, [])
    with pytest.raises(BadInput, match="nothing to take back"):
        take_back(path)


@pytest.mark.parametrize(
    "made",
    [
        {"reasons": ["ran 29.4 s, window 22–28 s"]},
        {"result": {"plateau_start_s": 45.0}},
        {"result": {"kind": "flush"}},
        {"result": {"brew_temp_degc": None}},
        {"result": {"pump_on_source": "guessed"}},
        {"yield_g": 80.0},
    ],
)
def test_taking_back_does_not_make_a_shot_count_that_never_did(
    make_shot: Callable[..., Path], made: dict
) -> None:
    path = make_shot(1, counts=False, **made)
    set_aside(path, "spilt")
    note = take_back(path)["shot"]
    assert note["counts"] is False
    assert note["reasons"] == made.get("reasons", [])


def test_setting_aside_needs_a_reason_and_a_shot(make_shot: Callable[..., Path], logbook: Logbook) -> None:
    path = make_shot(1)
    for reason in ("", " \n", "x" * 201):
        with pytest.raises(BadInput, match="why the shot is set aside"):
            set_aside(path, reason)
    recorder = logbook.new_recording(channels=("T1",), has_weight=False, meta={})
    with pytest.raises(StorageError, match="still being recorded"):
        edit(recorder.path, notes="x")
    recorder.close()
    with pytest.raises(BadInput, match="only shots can be set aside"):
        set_aside(recorder.path, "spilt")
    assert edit(recorder.path, notes="x")["notes"] == "x"


def test_two_programs_editing_one_file_lose_no_edit(make_shot: Callable[..., Path]) -> None:
    path = make_shot(1, tags={})
    code = (
        "import sys; from pathlib import Path\n"
        "from benchtemp.logbook.index.editing import edit\n"
        "for number in range(15): edit(Path(sys.argv[1]), tags={f'{sys.argv[2]} {number}': 'x'})\n"
    )
    running = [
        subprocess.Popen([sys.executable, "-c", code, str(path), who], stderr=subprocess.PIPE, text=True)
        for who in ("ada", "jo")
    ]
    assert [one.communicate(timeout=60)[1] for one in running] == ["", ""]
    expected = {f"{who} {number}" for who in ("ada", "jo") for number in range(15)}
    assert read_meta(path)["tags"].keys() == expected
    assert len(history(read_meta(path))) == 30
    assert verify(path).condition is Condition.WHOLE


def test_the_bin_gives_back_what_it_took(make_shot: Callable[..., Path], logbook: Logbook) -> None:
    path = make_shot(1)
    before = path.read_bytes()
    binned = logbook.to_bin(path)
    assert not path.exists()
    assert from_bin(logbook, binned) == path
    assert path.read_bytes() == before
    assert not binned.exists()


def test_what_was_put_in_its_place_meanwhile_stays(make_shot: Callable[..., Path], logbook: Logbook) -> None:
    path = make_shot(1)
    binned = logbook.to_bin(path)
    again = make_shot(1, notes="another")
    assert again == path
    back = from_bin(logbook, binned)
    assert back.name == path.name.replace(".ecsv", "-2.ecsv")
    assert read_meta(path)["notes"] == "another"
    assert len(read_stream(back).t_s) == 26


def test_only_what_lies_in_the_bin_is_taken_out_of_it(
    make_shot: Callable[..., Path], logbook: Logbook
) -> None:
    path = make_shot(1)
    for other in (path, logbook.bin_dir / ".." / "x.ecsv", logbook.root.parent / "x.ecsv"):
        with pytest.raises(BadInput, match="does not lie in the bin"):
            from_bin(logbook, other)
    with pytest.raises(BadInput, match="There is no file"):
        from_bin(logbook, logbook.bin_dir / "shots" / "x.ecsv")
