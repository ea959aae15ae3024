"""For all tests: the same examples every time, no limit on a loaded machine, nobody's own files."""

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "steady",
    deadline=None,
    derandomize=True,
    database=None,
    max_examples=60,
    # A fixture of ours that a property test shares over its examples is only ever a folder or a maker.
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.load_profile("steady")


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    """Keep every test away from the user's preferences, logbook and cache."""
    for name in ("LOGBOOK", "PREFERENCES", "CACHE"):
        monkeypatch.setenv(f"BENCHTEMP_{name}", str(tmp_path / f"own-{name.lower()}"))
    return tmp_path
