import subprocess
import sys


def test_nothing_slow_is_loaded_before_it_is_needed():
    """Importing all of probes must not load scipy, which costs as much as the rest of the program."""
    code = (
        "import importlib, pkgutil, sys, benchtemp.probes as probes\n"
        "for module in pkgutil.iter_modules(probes.__path__):\n"
        "    importlib.import_module(f'benchtemp.probes.{module.name}')\n"
        "loaded = {name.partition('.')[0] for name in sys.modules}\n"
        "assert not loaded & {'scipy', 'pandas', 'PySide6'}, loaded\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
