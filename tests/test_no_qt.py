"""Everything outside the window works without Qt, and asking for help does not wait for it."""

import os
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import benchtemp
from benchtemp.cli import _COMMANDS

HEAVY = ("PySide6", "pyqtgraph", "scipy", "pymodbus", "matplotlib", "reportlab", "jinja2", "av")


def run(code):
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, env={**os.environ}
    )


def test_importing_all_but_the_window_loads_no_qt():
    names = [
        module.name
        for module in pkgutil.walk_packages(benchtemp.__path__, "benchtemp.")
        if not module.name.startswith("benchtemp.window") and not module.name.endswith("__main__")
    ]
    assert len(names) > 20
    done = run(
        "import importlib, sys\n"
        f"for name in {names!r}: importlib.import_module(name)\n"
        f"print([name for name in {HEAVY[:2]!r} if name in sys.modules])"
    )
    assert done.stderr == ""
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("command", [None, *_COMMANDS])
def test_help_has_an_example_and_loads_nothing_heavy(command):
    arguments = [command, "--help"] if command else ["--help"]
    done = run(
        "import sys\n"
        "from benchtemp.cli import run\n"
        f"code = run({arguments!r}, open_window=None)\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
        "sys.exit(code)"
    )
    assert done.returncode == 0
    assert "Example" in done.stdout
    assert done.stderr.strip() == "[]"


def test_version_is_told_once():
    declared = (Path(benchtemp.__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    assert f'version = "{benchtemp.__version__}"' in declared
