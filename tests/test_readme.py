"""README says what the program does: every command, every key, every picture it shows."""

import re
from pathlib import Path

import pytest

from benchtemp.cli import _COMMANDS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("command", _COMMANDS)
def test_every_command_is_told(command):
    assert f"| `benchtemp {command}" in README


def test_every_key_is_told():
    keys = pytest.importorskip("benchtemp.window.keys")
    told = {line.split("|")[1].strip() for line in README.splitlines() if line.startswith("| ")}
    assert {key.shown for key in keys.KEYS} <= told


def test_every_picture_and_file_it_points_to_is_there():
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert pictures
    for name in (*pictures, "resources/layouts"):
        assert (ROOT / name).exists(), name


def test_the_two_commands_are_as_the_checks_run_them():
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    assert "benchtemp demo" in blocks[0]
    assert blocks[1].startswith(".venv/bin/python -m pytest")
