"""A round from press to press, without a clock."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.teaching.marking import Answer, Part
from benchtemp.teaching.practice import Round, RoundStage
from benchtemp.units import TempUnit


@pytest.fixture
def played(exercise):
    return Round(exercise.items, title=exercise.title, exercise="abc")


def answer_right(played):
    reference = played.item.reference
    played.replay_at(reference.pump_on_s)
    played.press()
    played.replay_at(reference.plateau_start_s)
    played.press()
    played.say_brew_temp(reference.brew_temp_degc)
    played.say_counts(reference.counts)


def test_a_whole_round_with_one_key(played):
    for number in (1, 2, 3):
        assert played.view.number == number
        assert played.view.next_part is Part.PUMP_ON
        answer_right(played)
        assert played.view.ready
        assert played.view.next_part is None
        assert played.submit().points == pytest.approx(100.0)
        assert played.view.stage is RoundStage.SHOWN
        played.go_on()
    assert played.view.stage is RoundStage.OVER
    result = played.result
    assert result.score == pytest.approx(100.0)
    assert (result.title, result.exercise, result.count, result.aborted) == ("First shots", "abc", 3, False)
    assert [item.tries for item in result.items] == [1, 1, 1]


def test_the_key_marks_pump_on_then_the_plateau_then_nothing(played):
    for t_s in (10.0, 20.0, 30.0):
        played.replay_at(t_s)
        played.press()
    assert played.view.answer == Answer(pump_on_s=10.0, plateau_start_s=20.0)


def test_presses_can_be_taken_back_and_made_anew(played):
    played.press(Part.PUMP_ON, 10.0)
    played.press(Part.PUMP_ON, 11.0)
    assert played.view.answer.pump_on_s == 11.0
    played.take_back()
    assert played.view.answer.pump_on_s == 10.0
    played.take_back()
    played.take_back()
    assert played.view.answer == Answer()
    assert played.view.next_part is Part.PUMP_ON


def test_notes_come_and_go_with_the_replay(played):
    assert played.replay_at(4.0).notes == ()
    assert len(played.replay_at(5.0).notes) == 1
    assert len(played.replay_at(60.0).notes) == 2
    assert played.replay_at(0.0).notes == ()
    assert played.replay_at(float("nan")).t_s == 0.0


def test_skipping_scores_nothing_and_shows_the_reference(played):
    answer_right(played)
    marking = played.skip()
    assert marking.points == 0.0
    assert marking.skipped
    assert all(part.sentence for part in marking.parts)
    played.go_on()
    answer_right(played)
    played.submit()
    assert played.result.score == pytest.approx(50.0)
    assert played.view.scores == (0.0, pytest.approx(100.0))


def test_watching_again_is_practice_only(played):
    played.press(Part.PUMP_ON, 1.0)
    first = played.submit()
    played.watch_again()
    assert played.view.stage is RoundStage.WATCHING
    assert played.view.answer == Answer()
    assert played.view.marking is None
    answer_right(played)
    assert played.submit().points == pytest.approx(100.0)
    assert played.view.tries == 2
    item = played.result.items[0]
    assert item.tries == 2
    assert item.score == pytest.approx(first.points)


def test_watching_again_before_handing_in_only_rewinds(played):
    played.press(Part.PUMP_ON, 12.0)
    played.replay_at(30.0)
    view = played.watch_again()
    assert view.t_s == 0.0
    assert view.answer.pump_on_s == 12.0


def test_a_shot_watched_again_may_be_left_unanswered(played):
    played.submit()
    played.watch_again()
    assert played.go_on().number == 2


def test_leaving_keeps_what_was_handed_in(played):
    answer_right(played)
    played.submit()
    assert played.abort().stage is RoundStage.OVER
    assert played.result.aborted
    assert played.result.count == 3
    assert len(played.result.items) == 1
    assert played.result.score == pytest.approx(100.0)


def test_leaving_after_the_last_answer_just_ends(exercise):
    played = Round(exercise.items[:1])
    played.submit()
    played.abort()
    assert not played.result.aborted
    empty = Round(exercise.items[:1])
    empty.abort()
    assert empty.result.aborted
    assert empty.result.score is None


def test_what_cannot_be_done_now_is_one_sentence(played):
    with pytest.raises(BadInput, match="not handed in yet"):
        played.go_on()
    with pytest.raises(BadInput, match="not timed"):
        played.press(Part.BREW_TEMP)
    with pytest.raises(BadInput, match="outside the shot"):
        played.press(Part.PUMP_ON, 1e6)
    with pytest.raises(BadInput, match="cannot be"):
        played.say_brew_temp(float("nan"))
    played.submit()
    for act in (played.press, played.take_back, played.submit, played.skip):
        with pytest.raises(BadInput, match="handed in"):
            act()
    played.abort()
    for act in (played.press, played.submit, played.watch_again):
        with pytest.raises(BadInput, match="over"):
            act()
    assert played.go_on().stage is RoundStage.OVER
    with pytest.raises(BadInput, match="at least one shot"):
        Round([])


def test_sentences_follow_the_unit(played):
    answer_right(played)
    played.submit()
    assert "°C" in played.view.marking.part(Part.BREW_TEMP).sentence
    played.use_unit(TempUnit.DEGF)
    assert "°F" in played.view.marking.part(Part.BREW_TEMP).sentence
    assert played.view.marking.points == pytest.approx(100.0)


_ACTS = st.sampled_from(
    ["press", "take_back", "submit", "skip", "watch_again", "go_on", "abort", "temp", "counts", "replay"]
)


@given(acts=st.lists(st.tuples(_ACTS, st.floats(0.0, 60.0)), max_size=40))
def test_any_order_of_acts_keeps_the_books(exercise, acts):
    played = Round(exercise.items)
    for act, value in acts:
        try:
            if act == "press":
                played.press(None, value)
            elif act == "temp":
                played.say_brew_temp(value + 50.0)
            elif act == "counts":
                played.say_counts(value > 30.0)
            elif act == "replay":
                played.replay_at(value)
            else:
                getattr(played, act)()
        except BadInput:
            continue
        view, result = played.view, played.result
        assert (view.marking is not None) == (view.stage is RoundStage.SHOWN) or view.stage is RoundStage.OVER
        assert len(result.items) <= view.number <= view.count == result.count == 3
        assert result.aborted <= (view.stage is RoundStage.OVER)
        assert result.score is None or 0.0 <= result.score <= 100.0
