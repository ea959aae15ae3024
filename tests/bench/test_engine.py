from math import nan

import msgspec
import pytest

from benchtemp.bench import (
    Bench,
    MarkTaken,
    PullDismissed,
    Refused,
    ShotEnded,
    ShotRevised,
    ShotWithdrawn,
    StageChanged,
)
from benchtemp.bench.engine import Press
from benchtemp.probes.correction import Correction
from benchtemp.readings.reading import TARED_BY_SCALE, Mark, MarkKind, Notice, NoticeKind, Reading
from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.result import Origin
from benchtemp.shots.stages import Stage


def fed(bench, items):
    events = [event for item in items for event in bench.take(item)]
    return events + bench.finish()


def stages(events):
    return [event.change.stage for event in events if isinstance(event, StageChanged)]


def shots(bench):
    return bench.snapshot(0.0).shots


def test_a_marked_shot_is_read_between_its_marks(marked_shot):
    bench = Bench(("T1",))
    events = fed(bench, marked_shot)
    assert stages(events)[:3] == [Stage.RISING, Stage.PLATEAU, Stage.ENDED]
    (shot,) = shots(bench)
    assert shot.number == 1
    assert shot.result.pump_on_s == 20.0
    assert shot.result.pump_on_source is Origin.MARKED
    assert shot.result.shot_time_s == 26.0
    assert shot.result.brew_temp_degc == pytest.approx(93.0, abs=0.06)
    assert shot.counts


def test_an_unmarked_shot_is_found_and_labelled_estimated(unmarked_shot):
    bench = Bench(("T1",))
    fed(bench, unmarked_shot)
    (shot,) = shots(bench)
    assert shot.result.pump_on_source is Origin.ESTIMATED
    assert shot.result.brew_temp_degc == pytest.approx(93.0, abs=0.06)
    assert shot.result.plateau_end_s == pytest.approx(46.0, abs=1.0)


def test_shots_are_numbered_in_order(three_shots):
    bench = Bench(("T1",))
    fed(bench, three_shots)
    assert [shot.number for shot in shots(bench)] == [1, 2, 3]


def test_pump_key_alternates(marked_shot):
    bench = Bench(("T1",))
    events = []
    for item in (item for item in marked_shot if isinstance(item, Reading)):
        if item.t_s in {20.0, 46.0}:
            events += bench.take(Press(item.t_s))
        events += bench.take(item)
    taken = [event.mark.kind for event in events if isinstance(event, MarkTaken)]
    assert taken == [MarkKind.PUMP_ON, MarkKind.PUMP_OFF]
    assert len(shots(bench)) == 1


def test_feeding_the_same_items_gives_the_same_to_the_last_bit(marked_shot, three_shots):
    for items in (marked_shot, three_shots):
        first, second = Bench(("T1",)), Bench(("T1",))
        assert fed(first, items) == fed(second, items)
        assert msgspec.json.encode(shots(first)) == msgspec.json.encode(shots(second))


def test_times_never_stand_still_or_go_back():
    bench = Bench(("T1",))
    for t_s in (0.0, 1.0, 1.0, 0.5, 1.00004, 2.0):
        bench.take(Reading(t_s, (20.0,)))
    times = bench.snapshot(0.0).trace.t_s
    assert (times[1:] > times[:-1]).all()
    assert times[-1] == 2.0


def test_correction_is_applied_to_what_is_shown_and_read(marked_shot):
    plain, corrected = Bench(("T1",)), Bench(("T1",), corrections=(Correction(offset_k=0.8),))
    fed(plain, marked_shot)
    fed(corrected, marked_shot)
    assert shots(corrected)[0].result.brew_temp_degc == pytest.approx(
        shots(plain)[0].result.brew_temp_degc + 0.8, abs=0.01
    )
    assert corrected.snapshot(0.0).temps_degc[0] == pytest.approx(plain.snapshot(0.0).temps_degc[0] + 0.8)


def test_taking_back_a_wrong_pump_off_lets_the_shot_go_on(marked_shot):
    bench = Bench(("T1",))
    events = []
    for item in marked_shot:
        events += bench.take(item)
        if isinstance(item, Reading) and item.t_s == 33.0:
            events += bench.take(Mark(33.0, MarkKind.PUMP_OFF))
        if isinstance(item, Reading) and item.t_s == 35.0:
            events += bench.take(Mark(35.0, MarkKind.UNDO))
    events += bench.finish()
    assert any(isinstance(event, ShotWithdrawn) for event in events)
    (shot,) = shots(bench)
    assert shot.number == 1
    assert shot.result.pump_off_s == 46.0


def test_nothing_to_take_back_is_said():
    bench = Bench(("T1",))
    bench.take(Reading(0.0, (20.0,)))
    (event,) = bench.take(Mark(1.0, MarkKind.UNDO))
    assert isinstance(event, Refused)


def test_entries_reach_the_shot_and_its_verdict(marked_shot):
    bench = Bench(("T1",), entries=Entries(recipe=Recipe(dose_g=18.0)))
    fed(bench, marked_shot)
    assert shots(bench)[0].verdict == "not given"
    events = bench.take(Mark(80.0, MarkKind.SET, "shot 1 yield_g=36"))
    assert any(isinstance(event, ShotRevised) for event in events)
    assert shots(bench)[0].verdict == "within"
    bench.take(Mark(81.0, MarkKind.SET, "shot 1 yield_g=60"))
    assert shots(bench)[0].verdict == "outside"
    assert not shots(bench)[0].counts
    (refused,) = bench.take(Mark(82.0, MarkKind.SET, "shot 1 yield_g=lots"))
    assert isinstance(refused, Refused)
    assert shots(bench)[0].yield_g == 60


def test_yield_comes_from_the_scale(marked_shot):
    bench = Bench(("T1",), has_weight=True)
    items = []
    for item in marked_shot:
        items.append(item)
        if isinstance(item, Reading):
            poured_g = 36.0 * min(max(item.t_s - 26.0, 0.0) / 20.0, 1.0)
            items.append(Reading(item.t_s + 0.03, (), 120.0 + round(poured_g, 1)))
    events = fed(bench, items)
    assert sum(isinstance(event, ShotEnded) for event in events) == 1
    assert shots(bench)[0].yield_g == pytest.approx(36.0, abs=0.2)
    assert shots(bench)[0].result.readings_missing == 0


def test_idle_is_no_shot():
    bench = Bench(("T1",))
    events = fed(bench, [Reading(second / 5, (70.0 + (second % 7) * 0.05,)) for second in range(3000)])
    assert not shots(bench)
    assert not any(isinstance(event, ShotEnded | PullDismissed) for event in events)


def test_rewinding_begins_anew(marked_shot):
    bench = Bench(("T1",))
    fed(bench, marked_shot)
    before = shots(bench)
    bench.take(Notice(0.0, NoticeKind.REWOUND, ""))
    assert shots(bench) == ()
    assert bench.snapshot(0.0).last_s is None
    fed(bench, marked_shot)
    assert shots(bench) == before


def test_stale_is_told_by_the_sources_own_rhythm():
    bench = Bench(("T1",))
    assert bench.snapshot(0.0).stale
    for row in range(20):
        bench.take(Reading(row * 1.0, (93.0,)))
    assert not bench.snapshot(20.0).stale
    assert bench.snapshot(22.5).stale
    bench.take(Reading(23.0, (nan,), reasons=("open circuit",)))
    assert bench.snapshot(23.0).reasons == ("open circuit",)


def test_a_yield_taken_back_gives_way_to_the_scales(marked_shot):
    bench = Bench(("T1",), has_weight=True)
    items = []
    for item in marked_shot:
        items.append(item)
        if isinstance(item, Reading):
            poured_g = 36.0 * min(max(item.t_s - 26.0, 0.0) / 20.0, 1.0)
            items.append(Reading(item.t_s + 0.03, (), round(poured_g, 1)))
    fed(bench, items)
    bench.take(Mark(80.0, MarkKind.SET, "shot 1 yield_g=40"))
    assert shots(bench)[0].yield_g == 40
    bench.take(Mark(81.0, MarkKind.SET, "shot 1 yield_g="))
    assert shots(bench)[0].yield_g == pytest.approx(36.0, abs=0.2)


def test_tare_shows_zero_whoever_tares():
    bench = Bench(("T1",), has_weight=True)
    bench.take(Reading(0.0, (), 210.0))
    bench.take(Mark(0.5, MarkKind.TARE))
    assert bench.snapshot(0.5).weight_g == 0.0
    bench.take(Mark(1.0, MarkKind.TARE, TARED_BY_SCALE))
    bench.take(Reading(1.5, (), 0.4))
    assert bench.snapshot(1.5).weight_g == 0.4
