import pytest

from benchtemp.cli import run


@pytest.fixture
def command(capfd):
    """Run a command line; give back its exit code, stdout and stderr."""

    def call(*arguments, open_window=None):
        code = run([str(argument) for argument in arguments], open_window=open_window)
        told = capfd.readouterr()
        return code, told.out, told.err

    return call
