import pytest

from benchtemp.cli import run


@pytest.fixture(autouse=True)
def own_places(tmp_path, monkeypatch):
    """Keep every test away from the user's own files."""
    for name in ("LOGBOOK", "PREFERENCES", "CACHE"):
        monkeypatch.setenv(f"BENCHTEMP_{name}", str(tmp_path / name.lower()))


@pytest.fixture
def command(capfd):
    """Run a command line; give back its exit code, stdout and stderr."""

    def call(*arguments, open_window=None):
        code = run([str(argument) for argument in arguments], open_window=open_window)
        told = capfd.readouterr()
        return code, told.out, told.err

    return call
