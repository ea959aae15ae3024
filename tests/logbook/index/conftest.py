"""A logbook whose shots are made quickly, with whatever in their headers a test is about."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import LogbookIndex
from benchtemp.logbook.shot_file import write_shot
from benchtemp.readings.reading import Mark, MarkKind, Stream

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

RESULT = {
    "kind": "shot",
    "rise_s": 20.0,
    "pump_on_s": 20.0,
    "pump_on_source": "marked",
    "pump_off_s": 46.0,
    "pump_off_source": "marked",
    "plateau_start_s": 26.0,
    "plateau_end_s": 46.0,
    "brew_temp_degc": 93.0,
    "brew_temp_uncertainty_k": 0.01,
    "sd_k": 0.1,
    "highest_degc": 93.2,
    "lowest_degc": 92.8,
    "drift_k_per_s": -0.01,
    "time_to_plateau_s": 6.0,
    "in_band_share": 1.0,
    "readings": 200,
}


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep every index away from the user's own."""
    monkeypatch.setenv("BENCHTEMP_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    """Return an empty logbook."""
    return Logbook(tmp_path / "logbook")


@pytest.fixture
def index(logbook: Logbook) -> LogbookIndex:
    """Return its index."""
    return LogbookIndex(logbook)


@pytest.fixture
def make_shot(logbook: Logbook) -> Callable[..., Path]:
    """Return what writes a shot's file, whose header may be anything, and gives its path."""

    def make(
        number: int = 1,
        *,
        machine: str = "Kestrel Two",
        tags: dict[str, str] | None = None,
        notes: str = "",
        remarks: tuple[str, ...] = (),
        pulled: str = "",
        result: dict[str, Any] | None = None,
        name: str = "",
        old: bool = True,
        **note: Any,
    ) -> Path:
        pulled = pulled or f"2025-11-{1 + number % 28:02d}T10:{number % 60:02d}:00+01:00"
        marks = (
            Mark(20.0, MarkKind.PUMP_ON),
            *(Mark(25.0 + place, MarkKind.NOTE, remark) for place, remark in enumerate(remarks)),
        )
        stream = Stream(
            channels=("T1",),
            t_s=np.arange(20.0, 46.0, 1.0),
            temps_degc=np.full((26, 1), 93.0),
            marks=marks,
            mark_rows=(0,) * len(marks),
            meta={
                "machine": machine,
                "channels": [{"name": "T1", "probe": f"basket {number % 3}"}],
                "recipe": {"dose_g": 18.0},
                "tags": tags if tags is not None else {"coffee": "house blend"},
                **({"notes": notes} if notes else {}),
                "shot": {
                    "number": number,
                    "recording": "sitting.ecsv",
                    "pulled": pulled,
                    "yield_g": 36.0,
                    "verdict": "within",
                    "counts": True,
                    "reasons": [],
                    "set_aside": "",
                    "result": {**RESULT, **(result or {})},
                    **note,
                },
            },
        )
        folder = logbook.shots_dir / pulled[:7]
        folder.mkdir(parents=True, exist_ok=True)
        path = write_shot(
            folder / (name or f"{pulled[:10].replace('-', '')}-1000{number:02d}_x.ecsv"), stream
        )
        if old:
            # A file is read again while its last change is so fresh that another may share its time.
            settle(path)
        return path

    return make


def settle(path: Path, seconds: float = 10.0) -> None:
    """Make a file's last change look some seconds older."""
    status = path.stat()
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns - int(seconds * 1e9)))
