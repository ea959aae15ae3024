from fractions import Fraction

import numpy as np
import pytest

from benchtemp.reports.film.moments import moments, picture_count
from benchtemp.shots.shot import analyse_stream

RATE = Fraction(5)


@pytest.fixture(scope="module")
def shown(recorded):
    """Return the moments of the second shot of a recording, and that shot."""
    stream = recorded(91.0, 93.0, notes=((160.0, "look here"),))
    shot = analyse_stream(stream).shots[1]
    on_s = shot.result.pump_on_s
    found = list(moments(stream, pump_on_s=on_s, from_s=on_s - 3, until_s=on_s + 35, rate=RATE))
    return found, shot


def test_pictures_are_as_far_apart_as_the_rate_says(shown):
    found, _ = shown
    assert len(found) == picture_count(0, 38, RATE) == 191
    assert [one.t_s for one in found] == pytest.approx(np.arange(-3, 35.01, 0.2))


def test_no_picture_knows_what_is_still_to_come(shown):
    found, _ = shown
    for one in found:
        assert not len(one.trace_s) or one.trace_s[-1] <= one.t_s + 1e-9
        assert not len(one.trace_s) or one.trace_s[-1] > one.t_s - 0.3
    assert found[0].trace_s[0] >= -3


def test_the_pump_runs_from_its_mark_to_its_mark_in_true_time(shown):
    found, shot = shown
    assert all(one.pump_s is None for one in found if one.t_s < -1e-9)
    running = [one for one in found if 0 <= one.t_s <= shot.result.shot_time_s - 0.01]
    assert [one.pump_s for one in running] == pytest.approx([one.t_s for one in running])
    ended = [one for one in found if one.t_s > shot.result.shot_time_s + 0.5]
    assert {one.pump_s for one in ended} == {shot.result.shot_time_s}


def test_the_brew_temperature_appears_with_the_plateau_and_ends_as_the_shots_own(shown):
    found, shot = shown
    first = next(one for one in found if one.brew_degc is not None)
    assert first.t_s > shot.result.time_to_plateau_s
    assert first.plateau_s == pytest.approx(shot.result.time_to_plateau_s, abs=1.0)
    assert not first.is_final
    last = found[-1]
    assert last.is_final
    assert last.brew_degc == pytest.approx(shot.result.brew_temp_degc, abs=0.02)
    assert last.expanded_k == pytest.approx(shot.brew_temp_expanded_uncertainty_k, abs=0.02)
    assert last.plateau_end_s - last.plateau_s == pytest.approx(shot.result.plateau_s, abs=0.1)


def test_a_note_is_shown_for_a_while(shown):
    found, _ = shown
    noted = [one.t_s for one in found if one.note]
    assert {one.note for one in found} == {"", "look here"}
    assert noted[0] == pytest.approx(10.0)
    assert noted[-1] - noted[0] == pytest.approx(3.8)


@pytest.mark.parametrize(
    ("span_s", "rate", "count"),
    [(1.0, Fraction(25), 26), (0.0, Fraction(25), 1), (1.0, Fraction(30000, 1001), 31)],
)
def test_the_first_and_the_last_moment_are_shown(span_s, rate, count):
    assert picture_count(0.0, span_s, rate) == count
