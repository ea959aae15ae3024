"""Probes plugged into a sitting: corrected as it runs, stored with it, and the same when replayed."""

import datetime as dt
import time

import msgspec
import pytest

from benchtemp.bench import Bench, SourceFailed
from benchtemp.bench.plugged import ProbeChoice, plugged_probes, probe_choice
from benchtemp.bench.replaying import bench_for_replay
from benchtemp.bench.sitting import start_sitting
from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.preferences import Preferences
from benchtemp.logbook.probe_file import save_probe
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import Probe
from benchtemp.probes.reference import ReferenceKind
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.readings.reading import Notice, NoticeKind
from benchtemp.shots.budget import Estimates, budget_of
from benchtemp.shots.shot import analyse_stream

INTERFACE = "0403:6001:A1B2"


class Interface:
    """An interface that gives its items at once and says it has finished."""

    name = "interface"
    has_weight = False

    def __init__(self, items, channels=("T1",)):
        self._items = [*items, Notice(1e4, NoticeKind.FINISHED, "")]
        self.channels = channels
        self.details = {"port": "COM3", "adapter_identity": f"{INTERFACE}@1-2", "units_as_sent": ["degC"]}

    def open(self):
        pass

    def read(self):
        given, self._items = self._items, []
        if not given:
            time.sleep(0.005)
        return given

    def now_s(self):
        return 0.0

    def interrupt(self):
        pass

    def close(self):
        pass


def check(name, days_ago=1.0, offset_k=-0.6):
    when = dt.datetime.now().astimezone() - dt.timedelta(days=days_ago)
    points = [
        CheckPoint(reported_degc=100.0 - offset_k, reference_degc=100.0, reference_uncertainty_k=0.1),
        CheckPoint(
            reported_degc=0.2, reference_degc=0.0, reference_uncertainty_k=0.03, kind=ReferenceKind.ICE
        ),
    ]
    return make_check(points, probe=name, checked=when.isoformat(timespec="seconds"))


@pytest.fixture
def book(tmp_path):
    book = Logbook(tmp_path / "book")
    save_probe(book, Probe(name="basket 1", checks=(check("basket 1"),)))
    save_probe(book, Probe(name="old", checks=(check("old", days_ago=93.4),)))
    save_probe(book, Probe(name="new", tolerance_class=ToleranceClass.IEC_1))
    return book


def sit(items, book, choice):
    live = start_sitting(Interface(items), logbook=book, machine="bench two", probes=choice)
    live.start()
    deadline_s = time.monotonic() + 20
    events = []
    while live.running and time.monotonic() < deadline_s:
        events += live.drain_events()
        if live.snapshot is not None and live.snapshot.status is NoticeKind.FINISHED:
            break
        time.sleep(0.005)
    live.stop()
    return live, events + live.drain_events()


def test_a_named_probe_corrects_the_sitting_and_stands_in_its_files(book, marked_shot):
    plain, _ = sit(marked_shot, book, None)
    live, _ = sit(marked_shot, book, ProbeChoice(by_channel={"T1": "Basket 1"}))
    (shot,), (uncorrected,) = live.snapshot.shots, plain.snapshot.shots
    # The probe's line runs from +0.2 °C at the ice point to +0.6 °C at the boil.
    expected_k = -(0.2 + 0.4 * 92.43 / 100.4)
    assert shot.result.brew_temp_degc - uncorrected.result.brew_temp_degc == pytest.approx(
        expected_k, abs=0.01
    )
    assert live.snapshot.probes == ("basket 1",)
    assert shot.brew_temp_expanded_uncertainty_k < 0.6 < uncorrected.brew_temp_expanded_uncertainty_k
    meta = read_stream(live.snapshot.recording).meta
    (channel,) = meta["channels"]
    assert channel["name"] == "T1"
    assert channel["unit_as_sent"] == "degC"
    assert channel["probe"] == channel["correction"]["probe"] == "basket 1"
    assert channel["drift_half_width_k"] == pytest.approx(0.3 / 1.8)
    assert meta["uncertainty"]["position_half_width_k"] == 0.5
    note = read_stream(shot.path).meta["shot"]
    assert note["brew_temp_expanded_uncertainty_k"] == shot.brew_temp_expanded_uncertainty_k


def test_rows_on_disk_stay_as_reported(book, marked_shot):
    live, _ = sit(marked_shot, book, ProbeChoice(by_channel={"T1": "basket 1"}))
    stream = read_stream(live.snapshot.recording)
    reported = [item.temps_degc[0] for item in marked_shot if hasattr(item, "temps_degc")]
    assert stream.temps_degc[:, 0].tolist() == reported
    trace = live.snapshot.trace
    assert trace.reported_degc[:, 0].tolist() == reported
    assert (trace.temps_degc[:, 0] < trace.reported_degc[:, 0]).all()
    times, rows = trace.reported_since(trace.rows_taken - 3)
    assert (len(times), rows.shape) == (3, (3, 1))


def test_live_replayed_and_analysed_carry_the_very_same_uncertainty(book, marked_shot):
    choice = ProbeChoice(
        by_channel={"T1": "basket 1"}, estimates=Estimates(position_half_width_k=0.3, room_degc=28.5)
    )
    live, _ = sit(marked_shot, book, choice)
    (shot,) = live.snapshot.shots
    stream = read_stream(live.snapshot.recording)
    bench = bench_for_replay(stream)
    for item in stream.items():
        bench.take(item)
    bench.finish()
    (again,) = bench.snapshot(0.0).shots
    plain = {"path": "", "recording": ""}
    assert msgspec.json.encode(msgspec.structs.replace(shot, **plain)) == msgspec.json.encode(
        msgspec.structs.replace(again, **plain)
    )
    (from_file,) = analyse_stream(read_stream(shot.path)).shots
    assert from_file.grounds == shot.grounds
    assert from_file.correction == shot.correction
    assert budget_of(from_file) == budget_of(shot)
    assert from_file.brew_temp_expanded_uncertainty_k == shot.brew_temp_expanded_uncertainty_k


def test_probes_are_remembered_by_interface_and_channel(book, marked_shot):
    preferences = Preferences().with_probe(INTERFACE, "T1", "old").with_probe("other", "T1", "new")
    live, _ = sit(marked_shot, book, probe_choice(preferences))
    assert live.snapshot.probes == ("old",)
    assert live.snapshot.check_warnings == (
        "old was last checked 93 days ago (limit 90); check it in boiling water.",
    )
    named, _ = sit(marked_shot, book, probe_choice(preferences, {"T1": "basket 1"}))
    assert named.snapshot.probes == ("basket 1",)
    assert named.snapshot.check_warnings == ()
    unplugged = preferences.with_probe(INTERFACE, "T1", "")
    assert unplugged.probes == {"other": {"T1": "new"}}


def test_an_unchecked_probe_is_warned_of_and_counts_with_its_class(book, marked_shot):
    live, _ = sit(marked_shot, book, ProbeChoice(by_channel={"T1": "new"}))
    (warning,) = live.snapshot.check_warnings
    assert "never checked" in warning
    (shot,) = live.snapshot.shots
    assert shot.correction.probe == "new"
    assert shot.grounds.tolerance_class is ToleranceClass.IEC_1
    assert 1.5 < shot.brew_temp_expanded_uncertainty_k < 2.3


def test_the_limit_of_days_is_the_users(book):
    found = plugged_probes(
        ProbeChoice(by_channel={"T1": "old"}, check_days=365.0),
        ("T1",),
        {},
        book,
        "2099-01-01T00:00:00+00:00",
    )
    assert "limit 365" in found.warnings[0]


def test_a_probe_remembered_but_gone_costs_a_warning_and_one_named_is_refused(book, marked_shot):
    preferences = Preferences().with_probe(INTERFACE, "T1", "lost")
    live, _ = sit(marked_shot, book, probe_choice(preferences))
    (warning,) = live.snapshot.check_warnings
    assert "T1 is not corrected" in warning
    assert "lost" in warning
    assert len(live.snapshot.shots) == 1
    for choice in (ProbeChoice(by_channel={"T1": "lost"}), ProbeChoice(by_channel={"T2": "new"})):
        failed, events = sit(marked_shot, book, choice)
        assert failed.snapshot is None
        assert [type(event) for event in events] == [SourceFailed]


def test_naming_a_channel_that_is_not_there_is_one_sentence(book):
    with pytest.raises(BadInput, match="only T1, T2"):
        plugged_probes(ProbeChoice(by_channel={"T3": "new"}), ("T1", "T2"), {}, book, "2031-01-01")


def test_the_running_brew_temperature_has_its_uncertainty(marked_shot):
    bench = Bench(("T1",))
    seen = []
    for item in marked_shot:
        bench.take(item)
        picture = bench.snapshot(item.t_s)
        if picture.running_brew_degc is None:
            assert picture.running_expanded_k is None
        else:
            seen.append(picture.running_expanded_k)
    (shot,) = bench.snapshot(0.0).shots
    assert seen[-1] == pytest.approx(shot.brew_temp_expanded_uncertainty_k, abs=0.02)
