"""The command line as a whole: what the system refuses, odd names, outputs that are gone or full."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from benchtemp.places import demo_streams_dir

ONLY_POSIX = pytest.mark.skipif(os.name == "nt", reason="Windows has other names and no such devices")


@pytest.fixture
def stream():
    return demo_streams_dir() / "dual_boiler_steady.ecsv"


def benchtemp(*arguments, **options):
    return subprocess.run(
        [sys.executable, "-m", "benchtemp", *map(os.fspath, arguments)],
        stdin=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False, timeout=60, **options,
    )  # fmt: skip


@ONLY_POSIX
def test_a_file_whose_name_is_no_text_is_read_and_named(stream, tmp_path):
    path = tmp_path / os.fsdecode(b"caf\xe9.ecsv")
    try:
        shutil.copy(stream, path)
    except OSError:
        pytest.skip("this file system takes only text as a name")
    ran = benchtemp("analyse", path, stdout=subprocess.PIPE)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert rb"caf\udce9.ecsv" in ran.stdout
    ran = benchtemp("analyse", "--json", path, stdout=subprocess.PIPE)
    assert os.fsencode(json.loads(ran.stdout)["file"]).endswith(b"caf\xe9.ecsv")


def test_an_output_of_few_signs_gets_them_all():
    plain = {**os.environ, "PYTHONIOENCODING": "iso8859-6"}
    ran = benchtemp("boil", "--altitude", "1600m", stdout=subprocess.PIPE, env=plain)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert rb"\xb0C" in ran.stdout


@pytest.mark.parametrize("words", [("boil", "--altitude", "1600m"), ("--help",)])
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a disk that is always full")
def test_an_output_that_takes_nothing_is_told(words):
    with Path("/dev/full").open("wb") as full:
        ran = benchtemp(*words, stdout=full)
    assert ran.returncode == 1
    assert (
        ran.stderr.decode() == "The output cannot be written (No space left on device); send it elsewhere.\n"
    )


@pytest.mark.parametrize("words", [("simulate", "--list"), ("--help",)])
def test_a_reader_that_has_gone_is_no_failure(words):
    ours, theirs = os.pipe()
    os.close(ours)
    ran = benchtemp(*words, stdout=theirs)
    os.close(theirs)
    assert (ran.returncode, ran.stderr) == (0, b"")


@ONLY_POSIX
@pytest.mark.parametrize("closed", [(1,), (2,), (0, 1, 2)])
@pytest.mark.parametrize(("words", "code"), [(("boil", "--altitude", "1600m"), 0), (("analyse", "none"), 1)])
def test_closed_streams_change_nothing_else(closed, words, code):
    ran = benchtemp(
        *words, stdout=subprocess.PIPE, preexec_fn=lambda: [os.close(number) for number in closed]
    )
    assert ran.returncode == code
    assert b"Traceback" not in ran.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("boil", "--altitude", "x" * 20_000),
        ("boil", "--unit", "x" * 20_000),
        ("analyse", "x" * 20_000),
        ("analyse", "a/" * 5000),
        ("boil", "--altitude", "\x1b[2J\n\x07"),
    ],
)
def test_whatever_was_typed_is_quoted_in_a_sentence_that_can_be_read(command, words):
    code, out, err = command(*words)
    assert code in {1, 2}
    assert out == ""
    assert len(err) < 1000
    assert all(char.isprintable() or char == "\n" for char in err)


@ONLY_POSIX
@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("list", "--recording", os.fsdecode(b"caf\xe9.ecsv")), 0),
        (("search", "--limit", "9" * 400), 2),
        (("search", "--offset", "9" * 30), 2),
        (("list", "--since", "yesterday"), 1),
        (("show", os.fsdecode(b"caf\xe9.ecsv")), 1),
    ],
)
def test_a_logbook_is_asked_for_what_cannot_be_in_it(command, words, code):
    found, out, err = command("logbook", *words)
    assert (found, out) == (code, "")
    assert err


@ONLY_POSIX
def test_a_file_whose_name_is_no_text_does_not_spoil_a_logbook(command, stream, tmp_path):
    folder = tmp_path / "book" / "recordings"
    folder.mkdir(parents=True)
    for name in (b"caf\xe9.ecsv", b"cafe.ecsv"):
        try:
            shutil.copy(stream, folder / os.fsdecode(name))
        except OSError:
            pytest.skip("this file system takes only text as a name")
    code, out, err = command("logbook", "search", "--logbook", folder.parent)
    assert "Traceback" not in err
    assert "cafe.ecsv" in out
    assert code in {0, 1}
