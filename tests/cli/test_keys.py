"""Keys and answers typed on a real pseudo-terminal: each is taken once, whenever it is typed."""

import os
import select
import signal
import subprocess
import sys

import pytest

termios = pytest.importorskip("termios")
pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminals")

PRELUDE = """
import os, sys, time
import click
from benchtemp.cli.keys import forget_typed, keyboard_there, single_keys, waiting_keys

def say(text):
    os.write(2, text.encode())

def keys(count):
    typed = ""
    until_s = time.monotonic() + 20
    while len(typed) < count and time.monotonic() < until_s:
        typed += waiting_keys()
    return typed
"""
QUESTIONS = """
for number in range(int(sys.argv[1])):
    with single_keys():
        waiting_keys()
    forget_typed()
    try:
        say(f"[{click.confirm('?', default=None, show_default=False, err=True)}]")
    except click.Abort:
        say("[gave up]")
"""
KEYS = """
for number in range(int(sys.argv[1])):
    with single_keys():
        say("?")
        say(f"[{keys(1)}]")
"""
LATE = """
with single_keys():
    say("?")
    while not (typed := waiting_keys()):
        time.sleep(0.001)
    say("!")
    time.sleep(0.02)
    forget_typed()
say("forgotten")
say(f"[{click.prompt('', err=True)}]")
"""
EARLY = """
say("?")
sys.stdin.buffer.raw.read(2)
time.sleep(0.02)
with single_keys():
    say("!")
    say(f"[{keys(1)}]")
"""


class Typist:
    """A program on a terminal, and somebody who types as soon as a sign is seen."""

    def __init__(self, script, *arguments, **options):
        self.keyboard, terminal = os.openpty()
        self.before = termios.tcgetattr(terminal)
        self.terminal = terminal
        self.program = subprocess.Popen(
            [sys.executable, "-c", PRELUDE + script, *map(str, arguments)],
            stdin=terminal,
            stderr=subprocess.PIPE,
            **options,
        )

    def read_until(self, sign):
        """Return what it said up to a sign; what the terminal showed is read meanwhile and thrown away."""
        said = b""
        while not said.endswith(sign) and (byte := os.read(self.program.stderr.fileno(), 1)):
            said += byte
            while select.select([self.keyboard], [], [], 0)[0]:
                os.read(self.keyboard, 4096)
        return said

    def type(self, keys):
        os.write(self.keyboard, keys)

    def close(self):
        self.program.kill()
        self.program.communicate()
        os.close(self.keyboard)
        os.close(self.terminal)


@pytest.fixture
def typist():
    made = []

    def make(*arguments, **options):
        made.append(Typist(*arguments, **options))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.mark.parametrize(
    ("script", "answer", "taken"), [(QUESTIONS, b"y\n", b"[True]"), (KEYS, b"q", b"[q]")]
)
def test_whatever_is_typed_from_the_first_byte_of_a_question_on_is_taken_once(typist, script, answer, taken):
    somebody = typist(script, 200)
    for _ in range(200):
        assert somebody.read_until(b"?")
        somebody.type(answer)
        assert somebody.read_until(b"]").endswith(taken)
    assert somebody.program.wait(20) == 0
    assert termios.tcgetattr(somebody.terminal) == somebody.before


def test_a_key_that_came_too_late_answers_no_question(typist):
    somebody = typist(LATE)
    somebody.read_until(b"?")
    somebody.type(b"q")
    somebody.read_until(b"!")
    somebody.type(b"no\n")
    somebody.read_until(b"forgotten")
    somebody.type(b"yes\n")
    assert somebody.read_until(b"]").endswith(b"[yes]")


def test_what_was_typed_before_keys_are_asked_for_is_none(typist):
    somebody = typist(EARLY)
    somebody.read_until(b"?")
    somebody.type(b"\nqqq\n")
    somebody.read_until(b"!")
    somebody.type(b"u")
    assert somebody.read_until(b"]") == b"[u]"


def test_in_the_background_of_a_terminal_there_is_no_keyboard(typist):
    script = """
import fcntl, signal, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
say(f"[{keyboard_there()}]")
child = os.fork()
if not child:
    os.setpgid(0, 0)
    with single_keys():
        forget_typed()
        say(f"[{keyboard_there()} {waiting_keys()!r}]")
    os._exit(0)
_, status = os.waitpid(child, os.WUNTRACED)
say("suspended" if os.WIFSTOPPED(status) else f"ended {os.waitstatus_to_exitcode(status)}")
if os.WIFSTOPPED(status):
    os.kill(child, signal.SIGKILL)
"""
    somebody = typist(script, start_new_session=True)
    assert somebody.read_until(b"]") == b"[True]"
    somebody.type(b"q\n")
    assert somebody.read_until(b"ended 0") == b"[False '']ended 0"


def test_a_closed_standard_input_has_no_keyboard():
    program = subprocess.run(
        [sys.executable, "-c", PRELUDE + "with single_keys(): say(f'[{keyboard_there()}{waiting_keys()}]')"],
        stderr=subprocess.PIPE, preexec_fn=lambda: os.close(0), check=True, timeout=60,
    )  # fmt: skip
    assert program.stderr == b"[False]"


def test_ctrl_c_gives_the_terminal_back(typist):
    somebody = typist("with single_keys():\n    say('?')\n    time.sleep(20)\n")
    somebody.read_until(b"?")
    somebody.program.send_signal(signal.SIGINT)
    assert somebody.program.wait(20) != 0
    assert termios.tcgetattr(somebody.terminal) == somebody.before
