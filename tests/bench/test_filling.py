"""A shot that has just ended is not judged by a cup that is still filling."""

from benchtemp.bench import Bench, ShotEnded, ShotRevised, ShotSettled
from benchtemp.readings.reading import Mark, MarkKind, Reading
from benchtemp.shots.entries import Entries
from benchtemp.shots.recipe import Recipe


def pulled(bench, *, typed_g=None):
    """Pull one shot of 25 s whose cup gains 6 g more after pump off; return its events."""
    events = []
    for row in range(500):
        t_s = row / 10
        if row == 50:
            events += bench.take(Mark(t_s, MarkKind.PUMP_ON))
        if row == 300:
            events += bench.take(Mark(t_s, MarkKind.PUMP_OFF))
        if row == 310 and typed_g is not None:
            events += bench.take(Mark(t_s, MarkKind.SET, f"shot 1 yield_g={typed_g}"))
        runs_s = max(0.0, min(t_s - 5.0, 25.0))
        temp_degc = 40.0 if t_s < 6 else (93.0 if t_s < 31 else 93.0 - 2.0 * (t_s - 31))
        weight_g = 1.2 * runs_s + min(6.0, max(0.0, 2.0 * (t_s - 30.0)))
        events += bench.take(Reading(t_s, (temp_degc + 0.05 * (row % 3),), weight_g))
    return events


def bench_with_a_scale():
    return Bench(("T1",), entries=Entries(recipe=Recipe(dose_g=18.0)), has_weight=True)


def test_the_cup_fills_until_the_shot_is_settled():
    events = pulled(bench_with_a_scale())
    (ended,) = (event.shot for event in events if isinstance(event, ShotEnded))
    (settled,) = (event.shot for event in events if isinstance(event, ShotSettled))
    assert ended.filling
    assert not settled.filling
    assert ended.yield_g < settled.yield_g
    assert "filling" not in settled.as_json()


def test_a_yield_that_is_typed_is_judged_at_once():
    events = pulled(bench_with_a_scale(), typed_g=35.5)
    revised = next(event.shot for event in events if isinstance(event, ShotRevised))
    assert revised.yield_g == 35.5
    assert not revised.filling


def test_without_a_scale_nothing_fills():
    bench = Bench(("T1",), entries=Entries(recipe=Recipe(dose_g=18.0)))
    (ended,) = (event.shot for event in pulled(bench) if isinstance(event, ShotEnded))
    assert not ended.filling
