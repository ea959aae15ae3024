"""A recording fed back gives the same stages, shots and results as the live run, to the last bit."""

import time
from math import inf

import msgspec
import pytest

from benchtemp.bench import Bench, LiveBench, ShotEnded, SourceFailed, StageChanged
from benchtemp.bench.keeping import Keeper
from benchtemp.bench.replaying import bench_for_replay
from benchtemp.bench.sitting import start_sitting
from benchtemp.errors import PortMissing
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.shot_file import rewrite_header
from benchtemp.readings.reading import Mark, MarkKind, Notice, NoticeKind, Reading
from benchtemp.readings.replay import ReplaySource
from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.shot import analyse_stream


class ScriptedSource:
    """Gives its items in handfuls, then says it has finished; its pump obeys by noting what it was told."""

    name = "script"
    channels = ("T1",)
    has_weight = False

    def __init__(self, items):
        self._items = list(items)
        self._t_s = 0.0
        self._finished = False
        self.pumped = []
        self.closed = 0
        self.details = {"kind": "script"}

    def open(self):
        pass

    def read(self):
        handful, self._items = self._items[:37], self._items[37:]
        if not handful:
            if self._finished:
                time.sleep(0.005)
                return []
            self._finished = True
            return [Notice(self._t_s, NoticeKind.FINISHED, "")]
        self._t_s = handful[-1].t_s
        return handful

    def now_s(self):
        return self._t_s

    def pump(self, *, on, t_s):
        self.pumped.append((on, t_s))

    def interrupt(self):
        pass

    def close(self):
        self.closed += 1


def run_to_the_end(live, timeout_s=20.0):
    live.start()
    events = []
    deadline_s = time.monotonic() + timeout_s
    while live.running and time.monotonic() < deadline_s:
        events += live.drain_events()
        snapshot = live.snapshot
        if snapshot is not None and snapshot.status is NoticeKind.FINISHED:
            break
        time.sleep(0.005)
    live.stop()
    assert not live.running
    return events + live.drain_events()


def told(events):
    """What a replay must repeat: stages with their times, and shots with their figures."""
    found = []
    for event in events:
        if isinstance(event, StageChanged):
            found.append(msgspec.json.encode(event.change))
        elif isinstance(event, ShotEnded):
            found.append(msgspec.json.encode(event.shot.result))
    return found


def figures(shots):
    return [msgspec.json.encode(msgspec.structs.replace(shot, path="", recording="")) for shot in shots]


@pytest.fixture
def live_run(tmp_path, marked_shot):
    items = list(marked_shot)
    items.insert(50, Mark(4.9, MarkKind.SET, "dose_g=18.1"))
    items.insert(400, Mark(39.0, MarkKind.NOTE, 'cup moved, = 1; "quoted" # and so on'))
    items.append(Mark(71.0, MarkKind.SET, "shot 1 yield_g=36.6"))
    source = ScriptedSource(items)
    live = start_sitting(
        source,
        logbook=Logbook(tmp_path / "book"),
        entries=Entries(recipe=Recipe(dose_g=17.0), tags={"coffee": "house blend"}),
        machine="bench two",
    )
    events = run_to_the_end(live)
    return live, events, source


def test_live_and_replay_agree_to_the_last_bit(live_run):
    live, events, _ = live_run
    (shot,) = live.snapshot.shots
    assert shot.counts
    assert (shot.dose_g, shot.yield_g, shot.tags) == (18.1, 36.6, {"coffee": "house blend"})
    stream = read_stream(live.snapshot.recording)
    assert stream.warnings == ()

    bench = bench_for_replay(stream)
    replayed = [event for item in stream.items() for event in bench.take(item)] + bench.finish()
    assert told(replayed) == told(events)
    assert figures(bench.snapshot(0.0).shots) == figures(live.snapshot.shots)

    threaded = start_sitting(ReplaySource(stream, "again", speed=inf), logbook=None)
    assert told(run_to_the_end(threaded)) == told(events)
    assert figures(threaded.snapshot.shots) == figures(live.snapshot.shots)


def test_the_shots_file_reads_as_the_shot_did(live_run):
    live, _, _ = live_run
    (shot,) = live.snapshot.shots
    (again,) = analyse_stream(read_stream(shot.path)).shots
    assert again.result == shot.result
    assert (again.number, again.dose_g, again.yield_g, again.tags) == (1, 18.1, 36.6, shot.tags)
    assert again.verdict == shot.verdict
    assert again.started == shot.started != ""


def test_the_whole_recording_reads_as_the_shot_did(live_run):
    live, _, _ = live_run
    (shot,) = live.snapshot.shots
    (again,) = analyse_stream(read_stream(live.snapshot.recording)).shots
    assert again.result.brew_temp_degc == pytest.approx(shot.result.brew_temp_degc, abs=0.005)
    assert again.as_json()["yield_g"] == 36.6


def test_the_sources_own_pump_obeys_the_marks(live_run):
    assert live_run[2].pumped == [(True, 20.0), (False, 46.0)]
    assert live_run[2].closed >= 1


def test_a_source_that_does_not_open_is_said(tmp_path):
    class Missing(ScriptedSource):
        def open(self):
            raise PortMissing("There is no port 'nowhere'; plug the interface in and choose it again.")

    live = start_sitting(Missing([]), logbook=Logbook(tmp_path))
    live.start()
    live.stop()
    (event,) = live.drain_events()
    assert event == SourceFailed("There is no port 'nowhere'; plug the interface in and choose it again.")
    assert live.snapshot is None
    assert not list(tmp_path.rglob("*.ecsv"))


def test_a_scale_beside_the_source_is_put_on_its_clock():
    class Scale(ScriptedSource):
        name = "scale"
        channels = ()
        has_weight = True

        def now_s(self):
            return self._t_s + 1000.0

    scale = Scale([Reading(1000.0 + second, (), 5.0 + second) for second in range(10)])
    bench = Bench(("T1",), has_weight=True)
    live = LiveBench(ScriptedSource([Reading(0.0, (20.0,))]), lambda _: bench, scale=scale)
    live.start()
    deadline_s = time.monotonic() + 5
    while len(live.snapshot.trace.t_s if live.snapshot else ()) < 11 and time.monotonic() < deadline_s:
        time.sleep(0.005)
    live.stop()
    trace = live.snapshot.trace
    assert len(trace.t_s) == 11
    assert trace.t_s.max() < 20.0


def test_a_note_has_the_time_it_was_begun_at():
    bench = Bench(("T1",))
    live = LiveBench(
        ScriptedSource([Reading(float(second), (20.0,)) for second in range(9)]), lambda _: bench
    )
    live.start()
    deadline_s = time.monotonic() + 5
    while (live.snapshot is None or live.snapshot.last_s != 8.0) and time.monotonic() < deadline_s:
        time.sleep(0.005)
    live.mark(MarkKind.NOTE, "begun at three", 3.0)
    live.mark(MarkKind.NOTE, "now")
    live.stop()
    assert [(mark.t_s, mark.text) for mark in live.snapshot.marks] == [(3.0, "begun at three"), (8.0, "now")]


def test_an_edit_made_elsewhere_survives_what_is_entered_later(tmp_path, marked_shot):
    book = Logbook(tmp_path / "book")
    keeper = Keeper(book, None, {"started": "2026-03-01T10:00:00+01:00"})
    bench = Bench(("T1",), keeper=keeper, entries=Entries(tags={"coffee": "house blend", "cup": "blue"}))
    for item in marked_shot:
        bench.take(item)
    bench.finish()
    (path,) = book.shots()
    rewrite_header(
        path,
        lambda meta: {
            **meta,
            "tags": {**meta["tags"], "coffee": "another", "note": "mine"},
            "shot": {**meta["shot"], "set_aside": "cup moved"},
        },
    )
    bench.take(Mark(90.0, MarkKind.SET, "shot 1 yield_g=36"))
    bench.take(Mark(91.0, MarkKind.SET, "shot 1 tag.cup="))
    meta = read_stream(path).meta
    assert meta["tags"] == {"coffee": "another", "note": "mine"}
    assert meta["shot"]["set_aside"] == "cup moved"
    assert meta["shot"]["yield_g"] == 36
