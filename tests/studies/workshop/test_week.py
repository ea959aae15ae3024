from dataclasses import replace

import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import probes
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.virtual import virtual_machines
from benchtemp.readings.virtual.script import Enter, KnockOut, LockIn, Shot, Wait
from benchtemp.shots.budget import stored_grounds
from benchtemp.shots.shot import analyse_stream
from benchtemp.studies.workshop.probes import AFTERWARDS, CHECKED, OLD, UNCHECKED, keep_probes
from benchtemp.studies.workshop.sitting import Sitting, keep_sitting
from benchtemp.studies.workshop.week import build_week


@pytest.fixture(autouse=True)
def _own_cache(monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHTEMP_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def sitting():
    script = (
        Enter(text="dose_g=18"),
        Wait(seconds=30.0),
        LockIn(),
        Wait(seconds=12.0),
        Shot(seconds=26.0),
        KnockOut(),
        Wait(seconds=40.0),
    )
    return Sitting(
        machine=virtual_machines()["dual-boiler"],
        started="2031-03-03T09:00:00+00:00",
        script=script,
        tags={"coffee": "Ninth Lantern"},
        probe=CHECKED,
    )


def files(root):
    return {path.relative_to(root): path.read_bytes() for path in sorted(root.rglob("*.ecsv"))}


def test_the_same_seed_gives_the_same_files(tmp_path, sitting):
    for name in ("one", "two"):
        keep_sitting(Logbook(tmp_path / name), sitting, seed=7)
    keep_sitting(Logbook(tmp_path / "other"), sitting, seed=8)
    assert files(tmp_path / "one") == files(tmp_path / "two")
    assert files(tmp_path / "one") != files(tmp_path / "other")


def test_files_are_whole_and_correct_themselves(tmp_path, sitting):
    logbook = Logbook(tmp_path / "book")
    (shot,) = keep_sitting(logbook, sitting, seed=7)
    for path in (*logbook.shots(), *logbook.recordings()):
        assert verify(path).condition is Condition.WHOLE
    truth = sitting.record(7).meta["truth"][0]["brew_temp_degc"]
    assert shot.correction == CHECKED.correction(sitting.started)
    assert shot.result.brew_temp_degc == pytest.approx(truth, abs=0.06)
    assert shot.tags["coffee"] == "Ninth Lantern"


def test_a_logbook_in_use_is_left_alone(tmp_path, sitting):
    logbook = Logbook(tmp_path / "book")
    keep_sitting(logbook, sitting, seed=7)
    before = files(tmp_path / "book")
    with pytest.raises(BadInput, match="is not empty"):
        build_week(logbook)
    assert files(tmp_path / "book") == before


MONDAY = "2031-03-03T09:00:00+00:00"


def test_the_workshop_has_a_probe_in_date_one_overdue_one_checked_late_and_one_never(tmp_path):
    logbook = Logbook(tmp_path / "book")
    keep_probes(logbook)
    kept, complaints = probes(logbook)
    assert complaints == ()
    assert kept == (OLD, CHECKED, AFTERWARDS, UNCHECKED)
    assert CHECKED.check_warning(MONDAY) is None
    assert "195 days ago" in (OLD.check_warning(MONDAY) or "")
    assert "first checked on 2031-03-08" in (AFTERWARDS.check_warning(MONDAY) or "")
    assert "never checked" in (UNCHECKED.check_warning(MONDAY) or "")


def test_the_checked_probes_history_drifts_and_rests_on_the_weather_of_each_day():
    drift = CHECKED.drift()
    assert drift is not None
    assert drift.checks == 6
    assert drift.days > 150.0
    assert 0.01 < drift.k_per_month < 0.03
    boiled = [check.points[0].reference_degc for check in CHECKED.checks]
    assert len(set(boiled)) == 6
    assert all(99.0 < temp_degc < 100.5 for temp_degc in boiled)
    assert all(check.passed for check in CHECKED.checks)
    assert [check.passed for check in OLD.checks] == [True, True, False]


@pytest.mark.parametrize("probe", [CHECKED, OLD, AFTERWARDS, UNCHECKED], ids=lambda probe: probe.name)
def test_a_shots_file_says_what_its_uncertainty_rests_on(tmp_path, sitting, probe):
    logbook = Logbook(tmp_path / "book")
    one = replace(sitting, probe=probe)
    (kept,) = keep_sitting(logbook, one, seed=7)
    (path,) = logbook.shots()
    stream = read_stream(path)
    grounds = stored_grounds(stream.meta, "T1")
    assert grounds.tolerance_class is probe.tolerance_class
    assert grounds.drift_half_width_k == pytest.approx(probe.drift_half_width_k(one.started))
    assert grounds.interface
    (shot,) = analyse_stream(stream).shots
    assert shot.correction == probe.correction(one.started)
    assert shot.grounds == kept.grounds == grounds
    # The shot's file holds less of the trace than the recording, so noise is known a little worse.
    assert shot.brew_temp_expanded_uncertainty_k == pytest.approx(
        kept.brew_temp_expanded_uncertainty_k, rel=1e-2
    )
    truth = one.record(7).meta["truth"][0]["brew_temp_degc"]
    # What its first check will find, nobody could correct yet.
    error_k = 0.64 if probe is AFTERWARDS else 0.0
    assert shot.result.brew_temp_degc == pytest.approx(truth + error_k, abs=0.06)


def test_the_better_the_check_the_smaller_the_uncertainty(tmp_path, sitting):
    widths = []
    for probe in (CHECKED, OLD, UNCHECKED):
        logbook = Logbook(tmp_path / probe.name)
        one = replace(sitting, probe=probe)
        (shot,) = keep_sitting(logbook, one, seed=7)
        widths.append(shot.brew_temp_expanded_uncertainty_k)
    assert widths == sorted(widths)
    assert widths[2] > 2.0 * widths[0]
