import pytest

from benchtemp.shots.result import Origin, PullKind, Result


@pytest.fixture
def brewed():
    """Return a pull of 25 s, both pump times marked, that brewed at 93.2 °C."""
    return Result(
        kind=PullKind.SHOT,
        rise_s=641.0,
        pump_on_s=640.0,
        pump_on_source=Origin.MARKED,
        pump_off_s=665.0,
        pump_off_source=Origin.MARKED,
        plateau_start_s=648.0,
        plateau_end_s=665.0,
        brew_temp_degc=93.2,
        brew_temp_uncertainty_k=0.02,
    )
