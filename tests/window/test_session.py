from __future__ import annotations

from benchtemp.bench.snapshot import MarkTaken
from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.window.panel import SourceChoice
from benchtemp.window.session import IDLE_TICK_MS, TICK_MS, Session


class Source:
    name = "a source"


class Live:
    """A live bench that does nothing but remember."""

    def __init__(self):
        self.calls = []
        self.waiting = []
        self.running = False
        self.snapshot = None

    def start(self):
        self.running = True

    def stop(self):
        self.running = False

    def press(self):
        self.calls.append("press")

    def tare(self):
        self.calls.append("tare")

    def mark(self, kind, text="", t_s=None):
        self.calls.append((kind, text) if t_s is None else (kind, text, t_s))

    def drain_events(self):
        drained, self.waiting = self.waiting, []
        return drained


def make(qapp, live, refuse=None):
    def start_bench(_choice):
        if refuse:
            raise refuse
        return live

    return Session(start_bench, qapp)


def test_commands_reach_the_bench(qapp):
    live = Live()
    session = make(qapp, live)
    session.begin(SourceChoice(Source()))
    session.press()
    session.undo()
    session.note("a note")
    session.note("   ")
    session.enter("dose_g=18")
    session.tare()
    assert live.calls == [
        "press",
        (MarkKind.UNDO, ""),
        (MarkKind.NOTE, "a note"),
        (MarkKind.SET, "dose_g=18"),
        "tare",
    ]
    session.close()


def test_without_a_sitting_commands_do_nothing(qapp):
    session = make(qapp, Live())
    session.press()
    session.undo()
    session.tare()
    session.enter("dose_g=18")
    session.close()
    assert not session.running


def test_snapshots_and_events_are_handed_round(qapp, make_snapshot):
    live = Live()
    session = make(qapp, live)
    looked, happened = [], []
    session.looked.connect(looked.append)
    session.happened.connect(happened.append)
    session.begin(SourceChoice(Source()))
    live.snapshot = make_snapshot()
    event = MarkTaken(Mark(1.0, MarkKind.PUMP_ON))
    live.waiting = [event]
    session.look()
    assert looked == [live.snapshot]
    assert happened == [event]
    session.close()
    assert looked[-1] is None


def test_it_looks_often_only_while_there_is_something_to_see(qapp):
    session = make(qapp, Live())
    assert session._timer.interval() == IDLE_TICK_MS
    session.begin(SourceChoice(Source()))
    assert session._timer.interval() == TICK_MS
    session.end()
    assert session._timer.interval() == IDLE_TICK_MS
    session.close()


def test_a_refusal_to_begin_is_told(qapp):
    session = make(qapp, Live(), refuse=BadInput("The source has no channel T9."))
    told = []
    session.failed.connect(told.append)
    session.begin(SourceChoice(Source()))
    assert told == ["The source has no channel T9."]
    assert not session.running
    session.close()


def test_a_bench_that_died_ends_the_sitting(qapp):
    live = Live()
    session = make(qapp, live)
    ended = []
    session.ended.connect(lambda: ended.append(1))
    session.begin(SourceChoice(Source()))
    live.running = False
    session.look()
    assert ended == [1]
    session.close()


def test_a_new_reading_is_shown_at_once_and_the_clock_now_and_then(qapp, make_snapshot, monkeypatch):
    now_s = [50.0]
    monkeypatch.setattr("benchtemp.window.session.time.perf_counter", lambda: now_s[0])
    live = Live()
    session = make(qapp, live)
    looked = []
    session.looked.connect(
        lambda snapshot: looked.append((round(now_s[0], 3), snapshot.last_s)) if snapshot else None
    )
    session.begin(SourceChoice(Source()))
    for tick in range(10):  # 0.2 s; a reading every 0.1 s
        live.snapshot = make_snapshot(last_s=round(0.1 * (tick // 5), 1))
        session._tick()
        now_s[0] += 0.02
    assert looked[0] == (50.0, 0.0)
    assert (50.1, 0.1) in looked, "a reading waited for the next tick"
    assert len(looked) <= 6
    session.close()


def test_a_fast_source_does_not_flood_the_window(qapp, make_snapshot, monkeypatch):
    now_s = [50.0]
    monkeypatch.setattr("benchtemp.window.session.time.perf_counter", lambda: now_s[0])
    live = Live()
    session = make(qapp, live)
    looked = []
    session.looked.connect(looked.append)
    session.begin(SourceChoice(Source()))
    for tick in range(50):  # 1 s at 100 readings a second
        live.snapshot = make_snapshot(last_s=tick * 0.02)
        session._tick()
        now_s[0] += 0.02
    assert 15 <= len(looked) <= 26
    session.close()
