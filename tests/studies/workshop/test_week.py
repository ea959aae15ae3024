import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.virtual import virtual_machines
from benchtemp.readings.virtual.script import Enter, KnockOut, LockIn, Shot, Wait
from benchtemp.studies.workshop.sitting import Sitting, keep_sitting
from benchtemp.studies.workshop.week import CHECKED, build_week


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
        correction=CHECKED,
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
    assert shot.correction == CHECKED
    assert shot.result.brew_temp_degc == pytest.approx(truth, abs=0.06)
    assert shot.tags["coffee"] == "Ninth Lantern"


def test_a_logbook_in_use_is_left_alone(tmp_path, sitting):
    logbook = Logbook(tmp_path / "book")
    keep_sitting(logbook, sitting, seed=7)
    before = files(tmp_path / "book")
    with pytest.raises(BadInput, match="is not empty"):
        build_week(logbook)
    assert files(tmp_path / "book") == before
