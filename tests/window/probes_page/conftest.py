"""Probes with a history, on disk and in memory."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import save_probe
from benchtemp.places import default_logbook_dir
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.response import TimeConstant


@pytest.fixture
def make_probe():
    """Return a maker of probes: boiled so many days ago, with such errors."""

    def make(name="basket 1", checks=((300, 0.20), (200, 0.24), (100, 0.31), (12, 0.36)), **more):
        probe = Probe(name=name, **more)
        for days, error_k in checks:
            point = CheckPoint(
                reported_degc=99.9 + error_k,
                reported_uncertainty_k=0.02,
                reported_dof=20.0,
                reference_degc=99.9,
                reference_uncertainty_k=0.06,
            )
            moment = (datetime.now(UTC) - timedelta(days=days)).isoformat(timespec="seconds")
            probe = probe.with_check(
                make_check([point], probe=name, checked=moment, operator="Ada", limit_k=0.5)
            )
        return probe

    return make


@pytest.fixture
def tau():
    return TimeConstant(
        tau_s=1.21,
        uncertainty_s=0.02,
        crossing_s=1.22,
        plunge_s=10.0,
        start_degc=22.0,
        end_degc=99.0,
        scatter_k=0.1,
        measured="2026-11-02T09:30:00+01:00",
    )


@pytest.fixture
def logbook():
    return Logbook(default_logbook_dir())


@pytest.fixture
def keep(logbook):
    """Return a function that writes a probe's file into the user's logbook."""
    return lambda probe: save_probe(logbook, probe)
