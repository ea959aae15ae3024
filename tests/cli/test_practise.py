"""`benchtemp practise`: without a keyboard, and by keys in a terminal."""

import os
import subprocess
import sys
import threading
import time

import pytest

from benchtemp.logbook.folder import Logbook
from benchtemp.teaching.exercise_file import read_exercise
from benchtemp.teaching.scores import history


def test_help_has_an_example(command):
    assert 'benchtemp practise --level easy --trainee "Ada Brook"' in command("practise", "--help")[1]


def test_shots_are_written_as_an_exercise(command, tmp_path):
    path = tmp_path / "p.exercise.zip"
    words = ("practise", "--level", "easy", "--seed", 3, "--shots", 2, "--out", path)
    assert command(*words) == (0, f"{path}\n", "")
    assert [item.title for item in read_exercise(path).items] == ["Shot 1", "Shot 2"]
    code, _, err = command(*words)
    assert code == 1
    assert "already a file" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "x.zip"), "ends in .exercise.zip"),
        (("x.exercise.zip", "--out", "y.exercise.zip"), "leave out"),
        ((), "needs a terminal"),
    ],
)
def test_what_cannot_be_is_one_sentence(command, monkeypatch, words, said):
    monkeypatch.setattr("sys.stdin", None)
    code, out, err = command("practise", *words)
    assert (code, out) == (1, "")
    assert said in err
    assert err.count("\n") == 1


class Terminal:
    """A program in a terminal of its own: what it shows, and keys to press."""

    def __init__(self, arguments, environment):
        main, side = os.openpty()
        self._main = main
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchtemp", *map(str, arguments)],
            stdin=side,
            stdout=side,
            stderr=side,
            env=environment,
            start_new_session=True,
        )
        os.close(side)
        self._shown = b""
        self._seen = 0
        self._changed = threading.Condition()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self):
        while True:
            try:
                part = os.read(self._main, 4096)
            except OSError:
                part = b""
            with self._changed:
                self._shown += part
                self._changed.notify_all()
            if not part:
                return

    def wait_for(self, text, seconds=30.0):
        """Wait until a text is shown behind the last one waited for."""
        deadline_s = time.monotonic() + seconds
        with self._changed:
            while (at := self._shown.find(text.encode(), self._seen)) < 0:
                left_s = deadline_s - time.monotonic()
                assert left_s > 0.0, f"{text!r} was never shown; {self._shown[self._seen :]!r} was"
                assert self._changed.wait(left_s) or left_s > 0.0
                assert self._reader.is_alive() or text.encode() in self._shown[self._seen :]
            self._seen = at + len(text.encode())

    def press(self, keys):
        os.write(self._main, keys.encode())

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        code = self.process.wait(10.0)
        self._reader.join(10.0)
        os.close(self._main)
        return code


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal, which Windows has not")
def test_a_round_by_keyboard(command, tmp_path):
    path = tmp_path / "p.exercise.zip"
    command("practise", "--level", "easy", "--seed", 3, "--shots", 2, "--out", path)
    item = read_exercise(path).item(1)
    book = tmp_path / "book"
    arguments = ("practise", path, "--speed", 16, "--trainee", "Ada", "--logbook", book)
    terminal = Terminal(arguments, {**os.environ, "COLUMNS": "120", "TERM": "dumb"})
    try:
        terminal.wait_for("Shot 1 (1 of 2)")
        terminal.wait_for(f"{int(item.reference.pump_on_s)}.")
        terminal.press(" ")
        terminal.wait_for("pump on ")
        terminal.press(" ")
        terminal.wait_for("plateau ")
        terminal.press("\r")
        terminal.wait_for("Brew temperature")
        terminal.press("hot\r")
        terminal.wait_for("That is no brew temperature")
        terminal.press(f"{item.reference.brew_temp_degc:.2f}\r")
        terminal.wait_for("Does the shot count?")
        terminal.press("y\r")
        terminal.wait_for("of 100 points")
        terminal.wait_for("The brew temperature is right")
        terminal.wait_for("Enter goes on")
        terminal.press("\r")
        terminal.wait_for("Shot 2 (2 of 2)")
        terminal.wait_for(" s  ")
        terminal.press("s")
        terminal.wait_for("0 of 100 points")
        terminal.wait_for("Enter goes on")
        terminal.press("\r")
        terminal.wait_for("over 2 of 2 shots")
        terminal.wait_for("Kept in")
        assert terminal.process.wait(20.0) == 0
    finally:
        terminal.close()
    (kept,) = history(Logbook(book), "Ada").rounds
    assert [one.skipped for one in kept.round.items] == [False, True]
    assert kept.round.items[0].points["brew temperature"] == 30.0
    assert kept.round.items[0].points["counts"] == 20.0
    assert not kept.round.aborted
