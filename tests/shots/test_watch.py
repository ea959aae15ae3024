import pytest

from benchtemp.shots import watch
from benchtemp.shots.fall import Fall
from benchtemp.shots.trail import Trail

ON_S, START_S = 0.0, 12.0
TIMES_S = tuple(14.0 + 0.4 * i for i in range(44))
FALLING = Trail(
    TIMES_S, tuple(92.0 - 0.5 * max(0.0, t - 29.0) for t in TIMES_S), 0.03, (), (TIMES_S[-1], 90.9)
)


def believed(monkeypatch, end_chance, late_chance, *, start_s=START_S, highest_degc=92.0):
    """Tell whether a fall of such chances is taken for the end."""
    fall = Fall(28.9, 2.3, 0.5, 1.1, end_chance, late_chance)
    monkeypatch.setattr(watch, "weigh_fall", lambda *_: fall)
    return watch.left_since(FALLING, ON_S, start_s, highest_degc) == fall.began_s


@pytest.mark.parametrize(
    ("end_chance", "late_chance", "expected"),
    [
        (0.995, 0.0, True),
        (0.95, 0.0, False),
        (0.6, 0.02, False),
        (0.6, 0.2, True),
        (0.6, 0.6, True),
        (0.25, 0.25, False),
    ],
    ids=["certain", "time enough", "hardly late", "maybe late", "last chance", "unlikely"],
)
def test_an_end_is_believed_where_waiting_would_cost_more(monkeypatch, end_chance, late_chance, expected):
    assert believed(monkeypatch, end_chance, late_chance) is expected


def test_more_is_asked_where_it_may_be_a_bath(monkeypatch):
    bath = {"start_s": ON_S + 5.0, "highest_degc": 96.7}
    assert not believed(monkeypatch, 0.75, 0.75, **bath)
    assert believed(monkeypatch, 0.95, 0.95, **bath)
    assert believed(monkeypatch, 0.75, 0.75, start_s=ON_S + 5.0, highest_degc=93.0)
    assert believed(monkeypatch, 0.75, 0.75, start_s=START_S, highest_degc=96.7)


def test_after_a_plateau_longer_than_any_pull_there_is_no_hurry(monkeypatch):
    long_ago_s = 28.9 - watch.LONGEST_USUAL_S - 5.0
    assert not believed(monkeypatch, 0.9, 0.9, start_s=long_ago_s)
    assert believed(monkeypatch, 0.995, 0.9, start_s=long_ago_s)
