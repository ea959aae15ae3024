"""Pictures of a bench to show to panels."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from benchtemp.bench.snapshot import Snapshot
from benchtemp.bench.trace import TraceView
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.shot import Shot


@pytest.fixture
def make_snapshot():
    """Return a maker of snapshots; everything but what is given stands at rest."""

    def make(**given):
        given.setdefault("trace", TraceView(np.empty(0), np.empty((0, 1)), np.empty(0)))
        return Snapshot(now_s=given.pop("now_s", 10.0), channels=("T1",), **given)

    return make


@pytest.fixture
def make_shot():
    """Return a maker of shots that began at 100 s."""

    def make(number=3, *, dose_g=18.0, yield_g=36.4, shot_time_s=25.1, kind=PullKind.SHOT):
        result = Result(
            kind=kind,
            rise_s=101.0,
            pump_on_s=100.0,
            pump_on_source=Origin.MARKED,
            pump_off_s=100.0 + shot_time_s,
            pump_off_source=Origin.MARKED,
            plateau_start_s=108.0,
            plateau_end_s=100.0 + shot_time_s,
            brew_temp_degc=93.1,
        )
        return Shot(
            number=0 if kind is PullKind.FLUSH else number,
            key=number,
            recipe=Recipe(dose_g=dose_g),
            dose_g=dose_g,
            yield_g=yield_g,
            result=result,
        )

    return make


@pytest.fixture
def show(qtbot):
    """Return a function that puts a panel on the (virtual) screen with the focus free to move."""

    hosts = []

    def put(panel, width_px=292):
        host = QWidget()
        hosts.append(host)
        qtbot.addWidget(host)
        column = QVBoxLayout(host)
        column.addWidget(panel)
        column.addWidget(QPushButton("elsewhere"))
        panel.setFixedWidth(width_px)
        host.show()
        qtbot.waitExposed(host)
        host.activateWindow()
        qtbot.waitUntil(host.isActiveWindow)
        return panel

    return put
