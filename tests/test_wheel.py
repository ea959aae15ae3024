"""The wheel holds all it needs: built, installed in a fresh environment, run from another folder."""

import json
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT],
        check=True,
        capture_output=True,
    )
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A fresh environment with the wheel in it; the libraries are borrowed from the one the tests run in."""
    folder = tmp_path_factory.mktemp("environment")
    venv.create(folder, with_pip=False)
    scripts = folder / ("Scripts" if os.name == "nt" else "bin")
    python = scripts / ("python.exe" if os.name == "nt" else "python")
    asked = subprocess.run(
        [python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        check=True,
        capture_output=True,
        text=True,
    )
    packages = Path(asked.stdout.strip())
    # A path in a .pth file is appended as it is: an editable install lying there is not followed.
    (packages / "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    subprocess.run(
        [sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-deps", wheel],
        check=True,
        capture_output=True,
    )
    return scripts / ("benchtemp.exe" if os.name == "nt" else "benchtemp")


def run(program, *arguments, cwd):
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    environment |= {f"BENCHTEMP_{name}": str(cwd / name) for name in ("LOGBOOK", "PREFERENCES", "CACHE")}
    return subprocess.run(
        [program, *arguments],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        stdin=subprocess.DEVNULL,
    )


def test_the_wheel_ships_layouts_and_demo_streams(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    assert sum(name.startswith("benchtemp/_shipped/demo_streams/") for name in names) >= 8
    assert any(name.startswith("benchtemp/_shipped/resources/layouts/") for name in names)
    assert not any(name.startswith("tests/") for name in names)


def test_the_demo_runs_from_the_wheel(installed, tmp_path):
    done = run(installed, "demo", "--no-window", "--shots", "1", "--speed", "16", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    files = [line.partition(": ")[2] for line in done.stdout.splitlines() if line.endswith(".ecsv")]
    assert len(files) == 2
    assert all(Path(file).is_relative_to(tmp_path) for file in files)
    analysed = run(installed, "analyse", "--json", files[-1], cwd=tmp_path)
    assert analysed.returncode == 0
    (shot,) = json.loads(analysed.stdout)["shots"]
    assert shot["number"] == 1
    assert 85 < shot["brew_temp_degc"] < 98


def test_shipped_streams_replay_from_the_wheel(installed, tmp_path):
    done = run(
        installed, "demo", "--no-window", "--stream", "four_channels.ecsv", "--speed", "64", cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert "shot 1" in done.stdout
