from pathlib import Path

import pytest

from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index.editing import set_aside
from benchtemp.logbook.index.index import LogbookIndex
from benchtemp.readings.virtual import virtual_machines
from benchtemp.readings.virtual.script import Enter, Flush, KnockOut, LockIn, Shot, Wait
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.evidence import gathering
from benchtemp.studies.evidence.gathering import gather, gather_any, marks_in, recordings_of
from benchtemp.studies.evidence.shot_record import Known
from benchtemp.studies.evidence.shot_set import Selection
from benchtemp.studies.evidence.traces import GRID_S, aligned_traces
from benchtemp.studies.workshop.probes import OLD
from benchtemp.studies.workshop.sitting import Sitting, keep_sitting

PULL = (LockIn(), Wait(seconds=12.0), Shot(seconds=34.0, yield_g=36.0), Wait(seconds=3.0), KnockOut())


@pytest.fixture(scope="module")
def logbook(tmp_path_factory):
    folder = tmp_path_factory.mktemp("logbook")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHTEMP_CACHE", str(tmp_path_factory.mktemp("cache")))
        script = (
            Enter(text="dose_g=18"),
            *PULL,
            Wait(seconds=200.0),
            Flush(seconds=4.0),
            Wait(seconds=20.0),
            *PULL,
            Wait(seconds=30.0),
        )
        for hour in (9, 11):
            sitting = Sitting(
                recipe=Recipe(time_low_s=20.0, time_high_s=34.0),
                machine=virtual_machines()["dual-boiler"],
                started=f"2031-03-03T{hour:02d}:00:00+00:00",
                script=script,
                probe=OLD if hour == 9 else None,
            )
            keep_sitting(Logbook(folder), sitting, seed=hour)
    return Logbook(folder)


def test_shots_come_with_what_their_recording_tells(logbook):
    found = gather(logbook)
    assert found.complaints == ()
    assert len(found) == 4
    first, second, third, _ = found.used
    assert first.idle_min.value is None
    assert second.idle_min.known is Known.MEASURED
    assert second.idle_min.value == pytest.approx(210.0 / 60.0, abs=0.01)
    assert second.flush_s.value == pytest.approx(4.0)
    assert third.interval_min.known is Known.BETWEEN
    assert 110 < third.interval_min.value < 120
    assert all(shot.counts and 91 < shot.brew_temp_degc < 94 for shot in found.used)


def test_marks_alone_are_those_of_the_whole_file(logbook):
    for path in logbook.recordings():
        assert marks_in(path) == read_stream(path).marks


def test_recordings_read_anew_give_the_same_shots(logbook):
    from_headers = gather(logbook)
    anew, recordings = gather_any(logbook.recordings())
    assert [shot.brew_temp_degc for shot in anew.used] == pytest.approx(
        [shot.brew_temp_degc for shot in from_headers.used], abs=1e-9
    )
    assert set(recordings) == {path.name for path in logbook.recordings()}


def test_what_a_shots_uncertainty_rests_on_comes_with_it(logbook):
    old, *_, unnamed = gather(logbook).used
    anew = gather_any(logbook.recordings())[0].used
    for shot, same in zip(gather(logbook).used, anew, strict=True):
        assert shot.shared_k == pytest.approx(same.shared_k)
        assert shot.expanded_uncertainty_k == pytest.approx(same.expanded_uncertainty_k, rel=1e-3)
    assert old.probe == "K-03"
    (share_k,) = [k for name, k in old.shared_k.items() if name.startswith("check of K-03")]
    # Most of it is drift: the check is half a year old.
    drift_k = OLD.drift_half_width_k(old.pulled) / 3.0**0.5
    assert share_k**2 > drift_k**2 > 0.5 * share_k**2
    assert old.expanded_uncertainty_k < 1.0 < unnamed.expanded_uncertainty_k


def test_files_that_are_no_shots_are_named_and_passed_over(logbook):
    stray = logbook.shots_dir / "2031-03" / "stray.ecsv"
    stray.write_text("nothing of the kind\n", encoding="utf-8")
    try:
        found = gather(logbook)
    finally:
        stray.unlink()
    assert len(found) == 4
    assert len(found.complaints) == 1
    assert "stray.ecsv" in found.complaints[0]


@pytest.fixture
def indexed(monkeypatch):
    """Take few files for many, so that the index is asked."""
    monkeypatch.setattr(gathering, "FEW_FILES", 1)


@pytest.mark.usefixtures("indexed")
@pytest.mark.parametrize(
    "wanted",
    [
        Selection(),
        Selection(machines=("ferrowick two",)),
        Selection(since="2031-03-04"),
        Selection(tags={"operator": "x"}),
    ],
)
def test_by_the_index_it_comes_to_the_same(logbook, monkeypatch, wanted):
    stray = logbook.shots_dir / "2031-03" / "stray.ecsv"
    stray.write_text("nothing of the kind\n", encoding="utf-8")
    try:
        first, again = gather(logbook, wanted), gather(logbook, wanted)
        monkeypatch.setattr(gathering, "FEW_FILES", 1000)
        assert first == again == gather(logbook, wanted)
    finally:
        stray.unlink()
    monkeypatch.setattr(gathering, "FEW_FILES", 1)
    assert gather(logbook, wanted).complaints == ()


@pytest.mark.usefixtures("indexed")
def test_by_the_index_what_was_edited_a_moment_ago_is_seen(logbook):
    path = next(path for path in logbook.shots() if "flush" not in path.name)
    before = path.read_bytes()
    assert len(gather(logbook)) == 4
    set_aside(path, "spilt")
    try:
        found = gather(logbook)
    finally:
        path.write_bytes(before)
    assert [left.shot.set_aside for left in found.left_out] == ["spilt"]


@pytest.mark.usefixtures("indexed")
def test_without_an_index_the_files_do(logbook, monkeypatch):
    def refuse(*_args, **_more):
        raise StorageError("The index cannot be kept.")

    monkeypatch.setattr(LogbookIndex, "update", refuse)
    assert len(gather(logbook)) == 4


def test_a_missing_recording_costs_only_what_it_told(logbook, tmp_path):
    path = next(iter(logbook.recordings()))
    away = tmp_path / path.name
    path.rename(away)
    try:
        found = gather(logbook, Selection(recordings=(path.name,)))
        assert recordings_of(logbook, [path.name, "../../etc/passwd"]) == {}
    finally:
        away.rename(path)
    assert len(found) == 2
    assert "is not in" in found.complaints[0]
    assert found.used[1].idle_min.value is None


def test_an_empty_logbook_holds_nothing(tmp_path):
    assert len(gather(Logbook(tmp_path / "none"))) == 0


def test_a_named_file_that_is_no_stream_is_refused(tmp_path):
    file = tmp_path / "x.ecsv"
    file.write_text("hello", encoding="utf-8")
    with pytest.raises(BadInput):
        gather_any([file])


def test_traces_are_laid_over_each_other_at_pump_on(logbook):
    found = gather(logbook)
    traces = aligned_traces(found.used)
    assert set(traces) == {shot.path for shot in found.used}
    for shot in found.used:
        trace = traces[shot.path]
        assert trace.shape == GRID_S.shape
        settled = trace[(GRID_S > 15) & (GRID_S < 22)]
        assert settled.mean() == pytest.approx(shot.brew_temp_degc, abs=0.3)
        assert trace[GRID_S <= 0].max() < 80
    assert Path(found.used[0].path).exists()
