"""Practice shots: the same for the same seed, readable, and their reference true."""

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.shots.plateau import find_pulls
from benchtemp.teaching.endless import Level, practice_exercise, practice_item
from benchtemp.teaching.exercise import Basis
from benchtemp.teaching.exercise_file import exercise_bytes
from benchtemp.teaching.marking import Answer, mark_answer
from benchtemp.teaching.reference import reference_of


@pytest.fixture(scope="module", params=list(Level))
def level(request):
    return request.param


@pytest.fixture(scope="module")
def items(level):
    return [practice_item(level, 11, number) for number in range(1, 4)]


def test_the_same_seed_gives_the_same_shot(level, items):
    again = practice_item(level, 11, 2)
    assert again.reference == items[1].reference
    np.testing.assert_array_equal(again.stream.temps_degc, items[1].stream.temps_degc)


def test_shots_differ(items):
    assert len({item.reference.pump_on_s for item in items}) == len(items)
    assert len({item.reference.pump_off_s for item in items}) == len(items)


def test_a_careful_reader_gets_nearly_all_points(items):
    for item in items:
        assert item.reference.basis is Basis.TRUTH
        read = reference_of(item)
        answer = Answer(
            pump_on_s=read.pump_on_s,
            plateau_start_s=read.plateau_start_s,
            brew_temp_degc=read.brew_temp_degc,
            counts=read.counts,
        )
        assert mark_answer(item, answer).points > 95.0


def test_nothing_tells_the_truth_but_the_trace(items):
    for item in items:
        assert item.stream.marks == ()
        assert "truth" not in item.stream.meta
        assert item.title.startswith("Shot ")
        assert item.dose_g == 18.0


def test_the_reference_lies_where_the_trace_climbs(items):
    for item in items:
        reference = item.reference
        if reference.plateau_start_s is None:
            continue
        t_s, temp_degc = item.trace
        before = temp_degc[np.searchsorted(t_s, reference.pump_on_s) - 1]
        assert reference.brew_temp_degc > before + 10.0
        found = find_pulls(t_s, temp_degc).pulls
        assert any(abs(pull.pump_on_s - reference.pump_on_s) < 8.0 for pull in found)


def test_harder_is_noisier():
    def roughness(level):
        found = []
        for number in range(1, 3):
            item = practice_item(level, 4, number)
            t_s, temp_degc = item.trace
            late = temp_degc[t_s > item.reference.pump_off_s - 6.0][:6]
            found.append(np.abs(np.diff(late, 2)).mean())
        return np.median(found)

    assert roughness(Level.EASY) < 0.7 * roughness(Level.HARD)


def test_a_round_has_some_that_count_and_some_that_do_not():
    counting = [practice_item(Level.HARD, 3, number).reference.counts for number in range(1, 8)]
    assert 1 <= sum(counting) <= 6


def test_a_round_is_an_exercise_with_the_same_bytes():
    made = practice_exercise(Level.EASY, 2, 2)
    assert len(made.items) == 2
    assert exercise_bytes(made) == exercise_bytes(practice_exercise(Level.EASY, 2, 2))
    for count in (0, 61):
        with pytest.raises(BadInput, match="1 to 60"):
            practice_exercise(Level.EASY, 2, count)
