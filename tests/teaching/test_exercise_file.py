"""Exercises as files: the same back, nothing to read by chance, and no harm from anybody's file."""

import base64
import io
import json
import re
import stat
import tomllib
import zipfile
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, BenchtempError, DamagedFile
from benchtemp.teaching import exercise_file
from benchtemp.teaching.endless import Level, practice_exercise
from benchtemp.teaching.exercise import Exercise, TeacherNote
from benchtemp.teaching.exercise_file import exercise_bytes, parse_exercise, read_exercise, write_exercise
from benchtemp.teaching.marking import Answer, mark_answer
from benchtemp.teaching.reference import corrected


def parts_of(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts, **more):
    """Return a ZIP of these parts; values of `more` are set on every entry."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts:
            entry = zipfile.ZipInfo(name)
            entry.compress_type = more.get("compress_type", zipfile.ZIP_DEFLATED)
            entry.external_attr = more.get("external_attr", 0)
            archive.writestr(entry, content)
    return file.getvalue()


def changed(content, part, change):
    parts = parts_of(content)
    parts[part] = change(parts[part])
    return packed(parts.items())


def test_what_was_written_comes_back(exercise, tmp_path):
    path = write_exercise(tmp_path / "first.exercise.zip", exercise)
    found = read_exercise(path)
    assert (found.title, found.teacher, found.words) == ("First shots", "Ines", "Look twice.\nThen press.")
    assert re.fullmatch("[0-9a-f]{64}", found.digest)
    for before, after in zip(exercise.items, found.items, strict=True):
        assert after.title == before.title
        assert after.reference == before.reference
        assert after.notes == before.notes
        assert after.pump_marks == before.pump_marks
        assert after.tolerance == before.tolerance
        assert after.recipe == before.recipe
        assert (after.dose_g, after.yield_g, after.shows_band) == (before.dose_g, before.yield_g, True)
        assert after.stream.meta == before.stream.meta
        np.testing.assert_array_equal(after.stream.t_s, before.stream.t_s)
        np.testing.assert_array_equal(after.stream.temps_degc, before.stream.temps_degc)
    assert exercise_bytes(found) == path.read_bytes()


@given(
    title=st.text(min_size=1, max_size=60).filter(lambda text: text.strip() and text.isprintable()),
    teacher=st.text(max_size=60).filter(str.isprintable),
    words=st.text(max_size=300).filter(
        lambda text: all(char.isprintable() or char in "\n\t" for char in text)
    ),
    notes=st.lists(
        st.tuples(
            st.floats(0.0, 50.0),
            st.text(min_size=1, max_size=80).filter(lambda text: text.strip() and text.isprintable()),
        ),
        max_size=4,
    ),
    start_s=st.floats(15.0, 25.0),
)
def test_any_words_and_notes_survive(steady, *, title, teacher, words, notes, start_s):
    item = corrected(steady, plateau_start_s=start_s)
    for t_s, text in notes:
        item = item.with_note(TeacherNote(t_s=t_s, text=text))
    made = Exercise(title=title, teacher=teacher, words=words, items=(item,))
    found = parse_exercise(exercise_bytes(made), "x")
    assert (found.title, found.teacher) == (title, teacher)
    assert found.item(1).notes == item.notes
    assert found.item(1).reference == item.reference


@pytest.mark.parametrize("words", ["." * 8000, "Look. " * 1300, "\t'''\"\"\".\n\\" * 800, "a\n\n\nb"])
def test_words_that_may_be_written_may_be_read(steady, words):
    item = steady.with_note(TeacherNote(t_s=1.0, text="." * 300))
    made = Exercise(title="." * 200, teacher="." * 200, words=words, items=(item,))
    found = parse_exercise(exercise_bytes(made), "x")
    shown = "\n".join(line.replace("\t", " ").rstrip() for line in words.splitlines())
    assert (found.title, found.teacher, found.words) == (made.title, made.teacher, shown)
    assert found.item(1).notes == item.notes


def test_nobody_reads_an_answer_by_opening_it(exercise):
    for content in parts_of(exercise_bytes(exercise)).values():
        text = content.decode()
        assert "Nothing moves yet" not in text
        assert "plateau_start_s" not in re.sub(r"\[shots.tolerance\]\n(.+\n)+", "", text)
        assert "pump on" not in text
        for item in exercise.items:
            assert str(item.reference.brew_temp_degc) not in text


def test_it_says_itself_that_it_is_no_secrecy(exercise):
    written = tomllib.loads(parts_of(exercise_bytes(exercise))["exercise.toml"].decode())
    assert "no secrecy for an examination" in written["secrecy"]


def test_a_file_that_is_there_is_not_overwritten(exercise, tmp_path):
    path = write_exercise(tmp_path / "first.exercise.zip", exercise)
    with pytest.raises(BadInput, match="already a file"):
        write_exercise(path, exercise)
    write_exercise(path, exercise, overwrite=True)
    with pytest.raises(BadInput, match="no folder"):
        write_exercise(tmp_path / "none" / "x.exercise.zip", exercise)


# Other people's files


@given(data=st.data())
def test_damage_anywhere_is_one_sentence_or_harmless(data):
    content = bytearray(_small())
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    said = ""
    try:
        assert parse_exercise(bytes(content), "x.exercise.zip").items
    except BenchtempError as error:
        said = str(error)
    assert "\n" not in said


@given(cut=st.floats(0.0, 1.0, exclude_max=True))
def test_a_file_cut_anywhere_is_refused(cut):
    content = _small()
    with pytest.raises(BadInput):
        parse_exercise(content[: int(cut * len(content))], "x.exercise.zip")


@given(content=st.binary(max_size=400))
def test_anything_else_is_no_exercise(content):
    with pytest.raises(BadInput):
        parse_exercise(content, "x")
    with pytest.raises(BadInput):
        parse_exercise(b"PK\x03\x04" + content, "x")


_MADE: list[bytes] = []


def _small():
    if not _MADE:
        _MADE.append(exercise_bytes(practice_exercise(Level.HARD, 1, 1)))
    return _MADE[0]


@pytest.mark.parametrize(
    "name", ["../evil.ecsv", "/etc/passwd", "shots/../../x", "shots\\01.ecsv", "shots/", "extra.txt"]
)
def test_parts_that_do_not_belong_are_refused(exercise, name, tmp_path):
    parts = [*parts_of(exercise_bytes(exercise)).items(), (name, b"x")]
    with pytest.raises(BadInput, match="no part of an exercise"):
        parse_exercise(packed(parts), "x")
    assert list(tmp_path.rglob("evil*")) == []


def test_links_and_odd_packing_are_refused(exercise):
    parts = parts_of(exercise_bytes(exercise)).items()
    with pytest.raises(BadInput, match="no plain file"):
        parse_exercise(packed(parts, external_attr=(stat.S_IFLNK | 0o777) << 16), "x")
    with pytest.raises(BadInput, match="packed in a way"):
        parse_exercise(packed(parts, compress_type=zipfile.ZIP_LZMA), "x")


def test_a_part_that_comes_twice_is_refused(exercise):
    parts = list(parts_of(exercise_bytes(exercise)).items())
    with pytest.warns(UserWarning, match="Duplicate name"):
        content = packed([*parts, parts[0]])
    with pytest.raises(DamagedFile, match="twice"):
        parse_exercise(content, "x")


def test_what_unpacks_to_more_than_any_shot_is_not_unpacked(exercise, monkeypatch):
    content = exercise_bytes(exercise)
    monkeypatch.setattr(exercise_file, "STREAM_LIMIT", 1000)
    with pytest.raises(BadInput, match="larger than"):
        parse_exercise(content, "x")
    monkeypatch.setattr(exercise_file, "UNPACKED_LIMIT", 1000)
    with pytest.raises(BadInput, match="would unpack"):
        parse_exercise(content, "x")
    with pytest.raises(BadInput, match="too long"):
        exercise_bytes(exercise)


def test_a_part_that_lies_about_its_size_is_not_unpacked(exercise, monkeypatch):
    content = bytearray(exercise_bytes(exercise))
    monkeypatch.setattr(exercise_file, "STREAM_LIMIT", 20_000)
    # The central directory says of every part that it is small.
    at = 0
    while (at := content.find(b"PK\x01\x02", at)) >= 0:
        content[at + 24 : at + 28] = (5000).to_bytes(4, "little")
        at += 4
    with pytest.raises(BadInput):
        parse_exercise(bytes(content), "x")


def test_too_many_parts_and_a_too_large_file_are_refused(exercise, tmp_path, monkeypatch):
    parts = [*parts_of(exercise_bytes(exercise)).items()]
    many = [(f"shots/{number:02d}.ecsv", b"x") for number in range(4, 70)]
    with pytest.raises(BadInput, match="parts"):
        parse_exercise(packed([*parts, *many]), "x")
    path = write_exercise(tmp_path / "x.exercise.zip", exercise)
    monkeypatch.setattr(exercise_file, "FILE_LIMIT", 100)
    with pytest.raises(BadInput, match="larger than"):
        read_exercise(path)


def test_a_sealed_part_that_swells_is_refused(exercise):
    bomb = base64.b64encode(zlib.compress(b" " * 50_000_000, 9)).decode()

    def swell(text):
        return re.sub(rb'sealed = "[^"]+"', f'sealed = "{bomb}"'.encode(), text, count=1)

    with pytest.raises(DamagedFile, match=r"not opened|cannot be read"):
        parse_exercise(changed(exercise_bytes(exercise), "exercise.toml", swell), "x")


@pytest.mark.parametrize(
    ("pattern", "put", "said"),
    [
        (rb'format = "benchtemp exercise"', b'format = "else"', "no exercise of this program"),
        (rb"format_version = 1", b"format_version = 9", "newer version"),
        (rb"format_version = 1", b'format_version = "1"', "newer version"),
        (rb"pump_on_s = 0.5", b"pump_on_s = nan", "cannot be meant"),
        (rb"pump_on_s = 0.5", b"pump_on_s = -3.0", "cannot be meant"),
        (rb'title = "Shot 1"', b'title = "' + b"x" * 500 + b'"', "something wrong"),
        (rb'title = "First shots"', b'title = ""', "title"),
        (rb'sealed = "[^"]+"', b'sealed = "???"', "cannot be read"),
        (rb'stream = "shots/01.ecsv"', b'stream = "shots/44.ecsv"', "lacks the readings"),
        (rb'stream = "shots/01.ecsv"', b'stream = "exercise.toml"', "lacks the readings"),
        (rb"title = ", b"title = = ", "cannot be read"),
        (rb"title = ", b"x = " + b"[" * 10_000 + b"\ntitle = ", "cannot be read"),
        (rb"title = ", b"a." * 20_000 + b"a = 1\ntitle = ", "cannot be read"),
    ],
)
def test_a_description_that_makes_no_sense_is_one_sentence(exercise, pattern, put, said):
    content = exercise_bytes(exercise)
    with pytest.raises(BadInput, match=said) as caught:
        parse_exercise(
            changed(content, "exercise.toml", lambda text: re.sub(pattern, put, text, count=1)), "x.zip"
        )
    assert "\n" not in str(caught.value)


def test_a_stream_that_is_none_is_one_sentence(exercise):
    content = exercise_bytes(exercise)
    with pytest.raises(BadInput, match="shot 1 of x"):
        parse_exercise(changed(content, "shots/01.ecsv", lambda _: b"hello"), "x")


def resealed(content, change):
    """Return a file in which the first shot's sealed part was changed by whoever can."""

    def put(text):
        found = re.search(rb'sealed = "([^"]+)"', text)
        sealed = json.loads(zlib.decompress(base64.b64decode(found[1])))
        change(sealed)
        again = base64.b64encode(zlib.compress(json.dumps(sealed).encode()))
        return text[: found.start(1)] + again + text[found.end(1) :]

    return changed(content, "exercise.toml", put)


@pytest.mark.parametrize("time_s", [1e5, -1e3, 9e5])
def test_a_reference_far_outside_its_readings_is_refused(exercise, time_s):
    def move(sealed):
        sealed["reference"]["pump_on_s"] = time_s
        for name in ("plateau_start_s", "plateau_end_s", "pump_off_s"):
            sealed["reference"][name] += time_s

    with pytest.raises(DamagedFile, match="outside its readings"):
        parse_exercise(resealed(exercise_bytes(exercise), move), "x")


def test_readings_at_times_no_shot_has_are_refused(exercise):
    far = re.sub(rb"\n([0-9.]+),", lambda row: b"\n99999" + row[1] + b",", _first_stream(exercise))
    with pytest.raises(DamagedFile, match="between 0 and"):
        parse_exercise(changed(exercise_bytes(exercise), "shots/01.ecsv", lambda _: far), "x")


def _first_stream(exercise):
    return parts_of(exercise_bytes(exercise))["shots/01.ecsv"]


def test_a_shot_without_a_single_temperature_is_marked_all_the_same(exercise):
    empty = re.sub(rb"\n([0-9.]+),[0-9.]+,", rb"\n\1,,", _first_stream(exercise))
    content = changed(exercise_bytes(exercise), "shots/01.ecsv", lambda _: empty)
    item = parse_exercise(content, "x").item(1)
    assert np.isnan(item.trace[1]).all()
    marking = mark_answer(item, Answer(pump_on_s=1.0, plateau_start_s=2.0, brew_temp_degc=3.0, counts=False))
    assert all(part.sentence for part in marking.parts)


def test_a_folder_a_link_to_nothing_and_a_pipe_are_refused(tmp_path):
    with pytest.raises(BadInput, match="folder"):
        read_exercise(tmp_path)
    with pytest.raises(BadInput, match="There is no file"):
        read_exercise(tmp_path / "none.exercise.zip")
