import numpy as np
import pytest

from benchtemp.studies.evidence.shot_record import Known, Setting, ShotRecord
from benchtemp.studies.evidence.shot_set import ShotSet


def _measured(value):
    return Setting() if value is None else Setting(value=float(value), known=Known.MEASURED)


@pytest.fixture
def make_record():
    """Make a shot as studies see it; settings in min, s and g count as measured."""

    def make(
        index,
        degc,
        *,
        interval_min=3.0,
        idle_min=None,
        flush_s=None,
        flush_g=None,
        since_on_min=None,
        **known,
    ):
        minute = 3 * index
        defaults = {
            "path": f"shot {index + 1}",
            "recording": "monday",
            "number": index + 1,
            "machine": "Ferrowick Two",
            "pulled": f"2031-03-{3 + minute // 1440:02d}T{minute // 60 % 24:02d}:{minute % 60:02d}:00+00:00",
            "pump_on_s": 180.0 * index,
            "sd_k": 0.1,
            "drift_k_per_s": 0.001,
            "shot_time_s": 25.0,
            "counts": True,
            "probe": "K-07",
            "checked": "2031-02-27",
            "shared_k": {"check of K-07": 0.1, "place of K-07": 0.2},
        }
        return ShotRecord(
            brew_temp_degc=None if degc is None else float(degc),
            interval_min=_measured(interval_min if index else None),
            idle_min=_measured(idle_min),
            flush_s=_measured(flush_s),
            flush_g=_measured(flush_g),
            since_on_min=_measured(since_on_min),
            **{**defaults, **known},
        )

    return make


@pytest.fixture
def shot_set(make_record):
    """Make a set of shots from brew temperatures, with the same keywords for all or one list for each."""

    def make(temps_degc, **known):
        shots = []
        for index, degc in enumerate(temps_degc):
            own = {
                name: value[index] if isinstance(value, list | np.ndarray) else value
                for name, value in known.items()
            }
            shots.append(make_record(index, degc, **own))
        return ShotSet(used=tuple(shots))

    return make


@pytest.fixture
def rng():
    return np.random.default_rng(20310303)
