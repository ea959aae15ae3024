"""Files made to do harm: every reader answers in one sentence, soon, whatever is in them."""

from __future__ import annotations

import ast
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import benchtemp
from benchtemp.errors import BenchtempError
from benchtemp.logbook.ecsv import read_meta, read_stream
from benchtemp.logbook.importing.layout import load_table_layout
from benchtemp.logbook.preferences import Preferences, load_preferences, preferences_path
from benchtemp.logbook.probe_file import load_probe_file
from benchtemp.readings.layout import load_layout
from benchtemp.studies.plans.plan_file import load_plan

if TYPE_CHECKING:
    from collections.abc import Callable

SOON_S = 5.0
"""Far beyond what any reader needs on a busy computer, far below what harm would take."""
DEEP = 50_000
TOML_READERS = (load_plan, load_probe_file, load_layout, load_table_layout)
READERS = (*TOML_READERS, read_meta, read_stream)
HEAD = "# %ECSV 1.0\n# ---\n"
HOSTILE_TOML = {
    "deep lists": f"a = {'[' * DEEP}{']' * DEEP}",
    "deep tables": f"a = {'{b = ' * DEEP}1{'}' * DEEP}",
    "deep names": f"[{'.'.join(['a'] * DEEP)}]",
    "broken off": "a = [",
    "no text": "\udcff",
    "not a table": "name = [[1], 2]\nkind = {}",
}
HOSTILE_YAML = {
    "deep lists": f"# a: {'[' * 20_000}{']' * 20_000}\n",
    "deep lists by lines": "".join(f"# {' ' * depth}-\n" for depth in range(300)),
    "aliases": "# a: &a [x, x, x]\n# b: &b [*a, *a, *a]\n# c: [*b, *b, *b]\n",
    "merges": "# a: &a {k: 1}\n# b: {<<: [*a, *a, *a, *a]}\n",
    "a Python object": "# a: !!python/object/apply:os.system ['true']\n",
    "endless": "# a: 1\n" * 200_000,
    "one long line": f"# a: {'x' * 5_000_000}\n",
}


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep away from the user's own preferences."""
    monkeypatch.setenv("BENCHTEMP_PREFERENCES", str(tmp_path / "preferences"))


def refused(reader: Callable[[Path], object], path: Path) -> str:
    since_s = time.monotonic()
    with pytest.raises(BenchtempError) as caught:
        reader(path)
    assert time.monotonic() - since_s < SOON_S
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert len(sentence) < 1000
    return sentence


@pytest.mark.parametrize("reader", TOML_READERS)
@pytest.mark.parametrize("name", HOSTILE_TOML)
def test_toml_is_bounded(reader: Callable[[Path], object], name: str, tmp_path: Path) -> None:
    path = tmp_path / "hostile.toml"
    path.write_bytes(HOSTILE_TOML[name].encode("utf-8", "surrogateescape"))
    refused(reader, path)


@pytest.mark.parametrize("name", HOSTILE_TOML)
def test_preferences_cost_only_themselves(name: str) -> None:
    path = preferences_path()
    path.parent.mkdir(parents=True)
    path.write_bytes(HOSTILE_TOML[name].encode("utf-8", "surrogateescape"))
    since_s = time.monotonic()
    found, _ = load_preferences()
    assert found == Preferences()
    assert time.monotonic() - since_s < SOON_S


@pytest.mark.parametrize("name", HOSTILE_YAML)
def test_yaml_is_bounded_and_makes_nothing_but_plain_values(name: str, tmp_path: Path) -> None:
    path = tmp_path / "hostile.ecsv"
    path.write_text(f"{HEAD}{HOSTILE_YAML[name]}t,T1\n0,20\n", encoding="utf-8")
    for reader in (read_meta, read_stream):
        refused(reader, path)


@pytest.mark.parametrize("reader", READERS)
def test_a_huge_file_is_not_read(reader: Callable[[Path], object], tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    with path.open("wb") as file:
        file.truncate(8 * 1024**3)
    refused(reader, path)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such devices and pipes among its files")
@pytest.mark.parametrize("reader", READERS)
def test_devices_pipes_and_links_that_lead_nowhere_do_not_hang(
    reader: Callable[[Path], object], tmp_path: Path
) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "endless").symlink_to("/dev/zero")
    (tmp_path / "loop").symlink_to("loop")
    (tmp_path / "nowhere").symlink_to("nothing")
    (tmp_path / "folder").mkdir()
    for name in ("pipe", "endless", "loop", "nowhere", "folder"):
        refused(reader, tmp_path / name)


def test_nothing_in_the_program_runs_what_a_file_says() -> None:
    banned_calls = {"eval", "exec", "compile", "__import__"}
    banned_modules = {"pickle", "cPickle", "dill", "shelve", "marshal", "joblib"}
    package = Path(benchtemp.__file__).parent
    sources = sorted(package.rglob("*.py"))
    assert len(sources) > 100
    found = []
    for source in sources:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in banned_calls
            ):
                found.append(f"{source}:{node.lineno} {node.func.id}")
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            found += [f"{source} {name}" for name in names if name.partition(".")[0] in banned_modules]
    assert not found
