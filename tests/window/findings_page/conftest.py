"""A small logbook with one steady series, pulled by the simulator, and shots made up for asking."""

from __future__ import annotations

import pytest

from benchtemp.logbook.folder import Logbook
from benchtemp.readings.virtual import virtual_machines
from benchtemp.readings.virtual.script import Enter, KnockOut, LockIn, Wait
from benchtemp.readings.virtual.script import Shot as Pull
from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.plans.kinds import steady_series
from benchtemp.studies.plans.plan_file import plan_path, save_plan
from benchtemp.studies.workshop.sitting import Sitting, keep_sitting


@pytest.fixture(scope="session")
def series_dir(tmp_path_factory):
    """Return a logbook folder with a steady series of four shots."""
    logbook = Logbook(tmp_path_factory.mktemp("series"))
    plan = steady_series("Ferrowick Two", shots=4, interval_min=1.5)
    save_plan(plan_path(logbook, plan), plan)
    steps = [Wait(seconds=20.0)]
    for step in plan.sequence():
        steps += [Enter(text=text) for text in plan.entries(step)]
        steps.append(Enter(text=f"tag.coffee={'house' if step.number < 3 else 'guest'}"))
        steps += [LockIn(), Wait(seconds=12.0), Pull(seconds=26.0), Wait(seconds=4.0), KnockOut()]
        steps += [Wait(seconds=48.0)]
    sitting = Sitting(
        machine=virtual_machines()["dual-boiler"],
        started="2031-03-03T09:00:00+00:00",
        script=tuple(steps),
    )
    keep_sitting(logbook, sitting, 7)
    return logbook.root


@pytest.fixture
def make_record():
    """Return a maker of shots that count."""

    def make(number, brew_degc=93.0, **more):
        figures = {
            "path": f"shot-{number}.ecsv",
            "recording": "one.ecsv",
            "number": number,
            "machine": "Ferrowick Two",
            "pulled": f"2031-03-03T09:{number:02d}:00+00:00",
            "brew_temp_degc": brew_degc,
            "reading_uncertainty_k": 0.02,
            "sd_k": 0.1,
            "plateau_s": 15.0,
            "shot_time_s": 25.0,
            "counts": True,
        }
        return ShotRecord(**{**figures, **more})

    return make
