"""`record` over a real pseudo-terminal, in a process of its own with standard input closed."""

import json
import os
import subprocess
import sys
import threading
import time

import numpy as np
import pytest

from benchtemp.logbook.ecsv import read_stream

termios = pytest.importorskip("termios")
tty = pytest.importorskip("tty")
pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")

RATE_HZ = 50
"""Lines come five times faster than an interface would send them, so that the test need not wait."""


class Interface:
    """Something that prints a temperature line again and again into one end of a pseudo-terminal."""

    def __init__(self):
        self.ours, theirs = os.openpty()
        tty.setraw(self.ours)
        tty.setraw(theirs)
        self.port = os.ttyname(theirs)
        self._theirs = theirs
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._talk, daemon=True)
        self._thread.start()

    def _talk(self):
        noise = np.random.default_rng(2).normal(0, 0.03, 100_000)
        count = 0
        while not self._stop.wait(1 / RATE_HZ):
            line = f"{21.0 + noise[count]:.2f},{88.0 + noise[count + 1]:.2f}\r\n"
            try:
                os.write(self.ours, line.encode())
            except OSError:
                return
            count += 1

    def close(self):
        self._stop.set()
        self._thread.join(2)
        for descriptor in (self.ours, self._theirs):
            os.close(descriptor)


@pytest.fixture
def interface():
    running = Interface()
    yield running
    running.close()


def record(tmp_path, *arguments, **options):
    environment = {**os.environ}
    environment |= {f"BENCHTEMP_{name}": str(tmp_path / name) for name in ("LOGBOOK", "PREFERENCES", "CACHE")}
    return subprocess.Popen(
        [sys.executable, "-m", "benchtemp", "record", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        **options,
    )


def test_a_guessed_interface_is_recorded_with_standard_input_closed(interface, tmp_path):
    out = tmp_path / "mine.ecsv"
    program = record(
        tmp_path, "--port", interface.port, "--duration", "1.5", "--out", out, "--tag", "coffee=house blend",
        "--dose", "18.5", stdin=None, close_fds=True, preexec_fn=lambda: os.close(0),
    )  # fmt: skip
    told, said = program.communicate(timeout=60)
    assert program.returncode == 0, said
    assert "Layout guessed" in said
    stream = read_stream(out)
    assert stream.channels == ("T1", "T2")
    assert len(stream.t_s) > 40
    assert abs(np.nanmean(stream.temps_degc[:, 1]) - 88.0) < 0.1
    assert (np.diff(stream.t_s) > 0).all()
    assert stream.meta["tags"] == {"coffee": "house blend"}
    assert stream.meta["recipe"]["dose_g"] == 18.5
    assert stream.warnings == ()
    assert "NaN" not in told


def test_killed_at_any_instant_it_loses_no_more_than_the_last_second(interface, tmp_path):
    out = tmp_path / "killed.ecsv"
    program = record(
        tmp_path, "--port", interface.port, "--layout", two_channels(tmp_path), "--out", out, "--json",
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    deadline_s = time.monotonic() + 30
    while time.monotonic() < deadline_s and (not out.exists() or out.stat().st_size < 1500):
        time.sleep(0.02)
    rows_before = len(read_stream(out).t_s)
    seen_s = time.monotonic()
    while time.monotonic() < min(deadline_s, seen_s + 2.0):
        time.sleep(0.02)
    program.kill()
    ran_on_s = time.monotonic() - seen_s
    program.communicate(timeout=60)
    stream = read_stream(out)
    assert np.isfinite(stream.temps_degc).all()
    assert stream.t_s[-1] - stream.t_s[rows_before - 1] > ran_on_s - 1.0


def two_channels(tmp_path):
    path = tmp_path / "two.toml"
    path.write_text(
        'name = "two"\nkind = "lines"\nseparator = ","\n[[channels]]\nfield = 1\n[[channels]]\nfield = 2\n',
        encoding="utf-8",
    )
    return path


def test_keys_in_a_terminal_make_marks_and_leave_it_as_it_was(interface, tmp_path):
    keyboard, terminal = os.openpty()
    before = termios.tcgetattr(terminal)
    out = tmp_path / "keys.ecsv"
    program = record(
        tmp_path, "--port", interface.port, "--layout", two_channels(tmp_path), "--out", out, stdin=terminal
    )
    deadline_s = time.monotonic() + 30
    while time.monotonic() < deadline_s and (not out.exists() or out.stat().st_size < 1500):
        time.sleep(0.02)
    for keys, mark in ((b" ", "pump on"), (b"ncup moved\r", "cup moved"), (b" ", "pump off"), (b"t", "tare")):
        os.write(keyboard, keys)
        while time.monotonic() < deadline_s and mark not in out.read_text(encoding="utf-8"):
            time.sleep(0.02)
    os.write(keyboard, b"q")
    _, said = program.communicate(timeout=30)
    assert program.returncode == 0, said
    assert [str(mark) for mark in read_stream(out).marks] == ["pump on", "note cup moved", "pump off", "tare"]
    assert termios.tcgetattr(terminal) == before
    os.close(keyboard)
    os.close(terminal)


def test_json_goes_to_stdout_and_nothing_else_does(interface, tmp_path):
    program = record(
        tmp_path, "--port", interface.port, "--layout", two_channels(tmp_path), "--duration", "0.5", "--json",
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    told, said = program.communicate(timeout=60)
    assert program.returncode == 0, said
    assert all(json.loads(line) for line in told.splitlines())
    assert "Recording:" in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--port", "/dev/no-such-port", "--layout", "one-number"), "no-such-port"),
        (("--port", "/dev/null", "--layout", "nonesuch"), "nonesuch"),
        (("--port", "/dev/no-such-port"), "no-such-port"),
        (("--port", "/dev/no-such-port", "--layout", "one-number", "--tag", "coffee"), "NAME=VALUE"),
    ],
)
def test_what_cannot_be_is_one_sentence(command, arguments, words):
    code, out, err = command("record", *arguments)
    assert (code, out) == (1, "")
    assert words in err
    assert len(err.splitlines()) == 1


def test_ports_lists_what_the_system_knows(command):
    code, _, _ = command("ports")
    assert code == 0
    code, out, _ = command("ports", "--json")
    assert code == 0
    assert all(set(json.loads(line)) == {"device", "name"} for line in out.splitlines())
