"""Logbooks with a few shots, for exporting."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import LogbookIndex
from benchtemp.logbook.shot_file import write_shot
from benchtemp.readings.reading import Mark, MarkKind, Stream

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every index away from the user's own."""
    monkeypatch.setenv("BENCHTEMP_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def filled(tmp_path: Path) -> Callable[..., LogbookIndex]:
    """Return what makes a logbook with one shot for each machine and month, and gives its index."""

    def fill(*shots: tuple[str, str], name: str = "logbook", **tags: str) -> LogbookIndex:
        logbook = Logbook(tmp_path / name)
        for number, (machine, month) in enumerate(shots, 1):
            stream = Stream(
                channels=("T1",),
                t_s=np.array([20.0, 30.0, 46.0]),
                temps_degc=np.array([[70.0], [93.0], [93.0]]),
                marks=(Mark(21.0, MarkKind.NOTE, "+1 remark"),),
                mark_rows=(1,),
                meta={
                    "machine": machine,
                    "recipe": {"dose_g": 18.0, "band_low_degc": 90.5, "band_high_degc": 96.0},
                    "tags": {"coffee": "house blend", **tags},
                    "notes": "wet puck\n-0.5 g spilt",
                    "shot": {
                        "number": number,
                        "recording": "sitting.ecsv",
                        "pulled": f"{month}-05T10:00:00+01:00" if month else "",
                        "yield_g": 36.0,
                        "verdict": "within",
                        "counts": True,
                        "result": {"kind": "shot", "brew_temp_degc": 93.0 + number, "drift_k_per_s": -0.01,
                                   "pump_on_s": 20.0, "pump_off_s": 46.0, "pump_on_source": "marked",
                                   "readings": 2},
                    },
                },
            )  # fmt: skip
            folder = logbook.shots_dir / (month or "unknown")
            folder.mkdir(parents=True, exist_ok=True)
            write_shot(folder / f"shot-{number}.ecsv", stream)
        index = LogbookIndex(logbook)
        index.update()
        return index

    return fill
