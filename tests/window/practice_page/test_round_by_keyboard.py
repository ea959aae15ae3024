"""A whole practice round with nothing but the keyboard, from the name to the score that is kept."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.teaching.exercise import TeacherNote
from benchtemp.teaching.marking import Part
from benchtemp.teaching.practice import RoundStage
from benchtemp.teaching.scores import history
from benchtemp.units import temp_text
from benchtemp.window.practice_page.page import NOT_KEPT
from benchtemp.window.practice_page.preparing import Prepared
from benchtemp.window.practice_page.round_head import SITTING_OPEN
from benchtemp.window.practice_page.sentences import LEAVING
from benchtemp.window.theme import DARK

ENTER, SPACE = Qt.Key.Key_Return, Qt.Key.Key_Space


@pytest.fixture
def prepared(items):
    return Prepared(items, "Three shots", "easy 11", words="Look closely.")


def answer_shot(trainee, item, *, pump_off_by_s=0.2, temp_off_by_k=0.1):
    """Answer a shot as somebody who sees well."""
    reference = item.reference
    trainee.key(ENTER)
    trainee.watch_until(reference.pump_on_s + pump_off_by_s)
    trainee.key(SPACE)
    if reference.plateau_start_s is not None:
        trainee.watch_until(reference.plateau_start_s + 0.3)
        trainee.key(ENTER)
    trainee.watch_until(item.length_s)
    if reference.brew_temp_degc is not None:
        trainee.type(f"{reference.brew_temp_degc + temp_off_by_k:.2f}")
    trainee.key(ENTER)
    if not reference.counts:
        trainee.key(Qt.Key.Key_Right)
    trainee.key(ENTER)


def test_a_whole_round_by_keyboard(qtbot, window, trainee, items, prepared):
    trainee.type("Robin")
    trainee.key(ENTER)
    trainee.begin(prepared)
    for number, item in enumerate(items, 1):
        assert trainee.panel.head.place.text().startswith(f"Shot {number} of 3")
        answer_shot(trainee, item)
        assert "hand your answer in" in trainee.step
        trainee.key(ENTER)
        marking = trainee.panel.round.view.marking
        assert marking.points > 95.0
        assert "Compare your marks" in trainee.step
        trainee.key(ENTER)
    score = trainee.page.score
    assert score.isVisible()
    assert int(score.score.text().split()[0]) > 95
    qtbot.waitUntil(lambda: score.kept.text().startswith("✓"), timeout=5000)
    kept = history(Logbook(window._book.root), "robin")
    assert [one.round.title for one in kept.whole] == ["Three shots"]
    assert kept.whole[0].score == pytest.approx(trainee.panel.round.result.score, abs=0.01)
    assert score.chart.scores == (kept.whole[0].score,)
    trainee.key(Qt.Key.Key_Escape)
    assert trainee.page.choosing.isVisible()


def test_the_sentence_leads_from_key_to_key(trainee, items, prepared):
    trainee.begin(prepared)
    reference = items[0].reference
    told = [trainee.step]
    trainee.key(ENTER)
    told.append(trainee.step)
    trainee.watch_until(reference.pump_on_s)
    trainee.key(SPACE)
    told.append(trainee.step)
    trainee.watch_until(reference.plateau_start_s)
    trainee.key(ENTER)
    told.append(trainee.step)
    trainee.key(Qt.Key.Key_End)
    told.append(trainee.step)
    trainee.type("93")
    trainee.key(ENTER)
    told.append(trainee.step)
    trainee.key(ENTER)
    told.append(trainee.step)
    trainee.key(ENTER)
    told.append(trainee.step)
    assert [sentence.split()[0] for sentence in told] == [
        "Press", "Watch", "Press", "Watch", "Type", "Does", "Press", "Compare",
    ]  # fmt: skip
    assert len(set(told)) == len(told)


def test_marks_are_beside_the_reference_afterwards_and_only_then(trainee, items, prepared):
    trainee.begin(prepared)
    answer_shot(trainee, items[0], pump_off_by_s=1.5)
    plot, reference = trainee.panel.plot, items[0].reference
    assert [(line.text, line.own) for line in plot.lines.uprights] == [("pump on", True), ("plateau", True)]
    assert not plot.shading.plateau.isVisible()
    assert plot.lines.levels == ()
    trainee.key(ENTER)
    lines = {(line.text, line.own): line.t_s for line in plot.lines.uprights}
    assert lines["pump on", True] == pytest.approx(reference.pump_on_s + 1.5, abs=0.01)
    assert lines["pump on", False] == reference.pump_on_s
    assert lines["plateau", False] == reference.plateau_start_s
    assert plot.shading.plateau.getRegion() == pytest.approx(
        (reference.plateau_start_s, reference.plateau_end_s)
    )
    levels = {level.own: level.temp for level in plot.lines.levels}
    assert levels[False] == reference.brew_temp_degc
    shown = trainee.panel.marking.parts[Part.PUMP_ON]
    assert "+1.5 s" in shown.values.text()
    assert shown.sentence.text() == trainee.panel.round.view.marking.part(Part.PUMP_ON).sentence


def test_nothing_gives_an_answer_away_before_it_is_handed_in(trainee, items, prepared, all_texts):
    trainee.begin(prepared)
    answer_shot(trainee, items[0], pump_off_by_s=1.0, temp_off_by_k=1.0)
    trainee.key(ENTER)
    trainee.key(ENTER)  # the second shot; the first one's marking must not linger
    item = items[1]
    trainee.key(ENTER)
    trainee.watch_until(item.reference.pump_on_s + 3.0)
    reference = item.reference
    texts = all_texts(trainee.panel)
    for secret in (
        temp_text(reference.brew_temp_degc, decimals=2),
        f"{reference.pump_on_s:.1f}",
        "Yours",
        " late",
        " early",
    ):
        assert not [text for text in texts if secret in text], secret
    plot = trainee.panel.plot
    assert float(plot.curves.curve(0).getData()[0][-1]) <= trainee.panel.player.position_s
    assert not plot.shading.plateau.isVisible()
    hidden = [part.sentence.text() + part.values.text() for part in trainee.panel.marking.parts.values()]
    assert not any(hidden)


def test_the_axis_s_end_does_not_give_the_shot_s_end_away(trainee, items, prepared):
    trainee.begin(prepared)
    ends = set()
    trainee.key(ENTER)
    while trainee.panel.player.playing:
        trainee.watch_until(trainee.panel.player.position_s + 2.0)
        ends.add(trainee.panel.plot.canvas.view.viewRange()[0][1])
    assert {end % 15.0 for end in ends} == {0.0}
    assert items[0].length_s not in ends


def test_a_mark_is_taken_back_and_made_anew(trainee, prepared):
    trainee.begin(prepared)
    trainee.key(SPACE)
    assert trainee.panel.form.pump_time.text() == "—", "the trace does not run yet"
    trainee.key(ENTER)
    trainee.watch_until(5.0)
    trainee.key(SPACE)
    assert trainee.panel.form.pump_time.text() == "0:05.0"
    trainee.key(Qt.Key.Key_Backspace)
    assert trainee.panel.form.pump_time.text() == "—"
    trainee.watch_until(9.0)
    trainee.key(SPACE)
    trainee.watch_until(11.0)
    trainee.key(SPACE)
    assert trainee.panel.form.pump_time.text() == "0:11.0", "a later press replaces the earlier"


def test_the_trace_may_be_watched_again_before_answering(trainee, items, prepared):
    trainee.begin(prepared)
    trainee.key(ENTER)
    trainee.watch_until(items[0].length_s)
    assert QApplication.focusWidget() is trainee.panel.form.temp
    trainee.key(Qt.Key.Key_Escape)
    trainee.key(Qt.Key.Key_Home)
    assert trainee.panel.player.playing
    assert trainee.panel.player.position_s < 1.0
    trainee.key(Qt.Key.Key_K)
    assert not trainee.panel.player.playing
    assert "Press K" in trainee.step or "Press Enter" in trainee.step


def test_a_temperature_is_typed_in_the_unit_shown(trainee, items, prepared, window):
    window.looks.next_unit()
    trainee.begin(prepared)
    trainee.key(ENTER)
    trainee.key(Qt.Key.Key_End)
    trainee.type("200.3")
    trainee.key(ENTER)
    assert trainee.panel.round.view.answer.brew_temp_degc == pytest.approx((200.3 - 32) / 1.8)
    assert trainee.panel.form.unit_label.text() == "°F"
    del items


def test_what_is_no_temperature_is_told_and_not_taken(trainee, prepared):
    trainee.begin(prepared)
    trainee.key(ENTER)
    trainee.key(Qt.Key.Key_End)
    trainee.type("900")
    trainee.key(ENTER)
    assert "20 to 130" in trainee.panel.form.complaint.text()
    assert trainee.panel.round.view.answer.brew_temp_degc is None
    assert QApplication.focusWidget() is trainee.panel.form.temp


def test_nothing_can_be_named_where_there_is_no_plateau(trainee, prepared):
    trainee.begin(prepared)
    trainee.key(ENTER)
    trainee.key(Qt.Key.Key_End)
    trainee.key(ENTER)
    assert "Does the shot count?" in trainee.step
    trainee.key(Qt.Key.Key_Right)
    trainee.key(ENTER)
    assert "hand your answer in" in trainee.step
    assert trainee.panel.round.view.answer.counts is False


def test_leaving_takes_two_presses_and_keeps_what_was_handed_in(qtbot, trainee, items, prepared):
    trainee.type("Robin")
    trainee.key(ENTER)
    trainee.begin(prepared)
    answer_shot(trainee, items[0])
    trainee.key(ENTER)
    trainee.key(Qt.Key.Key_Escape)
    assert trainee.step == LEAVING
    assert trainee.panel.round.view.stage is RoundStage.SHOWN
    trainee.key(Qt.Key.Key_Escape)
    score = trainee.page.score
    assert score.isVisible()
    assert "left before its end" in score.about.text()
    qtbot.waitUntil(lambda: score.kept.text().startswith("✓"), timeout=5000)
    assert score.chart.scores == (), "a round that was left is no progress"


def test_without_a_name_nothing_is_kept_and_that_is_said(window, trainee, items, prepared):
    trainee.begin(Prepared(prepared.items[:1], "One shot"))
    answer_shot(trainee, items[0])
    trainee.key(ENTER)
    trainee.key(ENTER)
    assert trainee.page.score.kept.text() == NOT_KEPT
    assert not (window._book.root / "practice").exists()


def test_watching_again_is_practice_and_not_scored(trainee, items, prepared):
    trainee.begin(prepared)
    trainee.key(ENTER)
    trainee.key(Qt.Key.Key_End)
    trainee.panel.form.skip_button.setFocus()
    trainee.key(ENTER)
    assert trainee.panel.marking.title.text() == "Skipped"
    trainee.panel.marking.again_button.setFocus()
    trainee.key(ENTER)
    answer_shot(trainee, items[0])
    trainee.key(ENTER)
    assert "for practice" in trainee.panel.marking.title.text()
    assert trainee.panel.round.result.items[0].score == 0.0


def test_the_teacher_s_words_stand_before_the_first_trace_and_notes_come_as_it_runs(trainee, items):
    noted = items[0].with_note(TeacherNote(t_s=6.0, text="What happens now?"))
    trainee.begin(Prepared((noted,), "Noted", words="Look closely."))
    panel = trainee.panel
    assert panel.words.isVisible()
    assert panel.note_board.isVisible()
    trainee.key(ENTER)
    trainee.watch_until(5.0)
    assert not panel.words.isVisible()
    assert panel.note_board.text.text() == ""
    trainee.watch_until(6.5)
    assert panel.note_board.text.text() == "What happens now?"


def test_the_pump_key_goes_to_the_practice_shot_and_ctrl_with_it_to_the_bench(trainee, stand, prepared):
    trainee.key(Qt.Key.Key_6, Qt.KeyboardModifier.ControlModifier)
    trainee.begin(prepared)
    stand.go_on(0.5)
    assert trainee.panel.head.sitting.text() == SITTING_OPEN
    trainee.key(ENTER)
    trainee.watch_until(4.0)
    trainee.key(SPACE)
    stand.go_on(0.5)
    assert not stand.snapshot.pump_running
    assert trainee.panel.form.pump_time.text() == "0:04.0"
    trainee.key(SPACE, Qt.KeyboardModifier.ControlModifier)
    stand.wait(lambda: stand.snapshot.pump_running)
    assert trainee.panel.form.pump_time.text() == "0:04.0"


def test_another_page_lets_the_trace_stand_still(trainee, prepared):
    trainee.begin(prepared)
    trainee.key(ENTER)
    trainee.watch_until(4.0)
    trainee.key(Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    trainee.clock.now_s += 30.0
    trainee.key(Qt.Key.Key_6, Qt.KeyboardModifier.ControlModifier)
    assert trainee.panel.player.position_s == pytest.approx(4.0)
    assert not trainee.panel.player.playing


def test_another_look_and_unit_leave_the_answer_alone(window, trainee, items, prepared):
    trainee.begin(prepared)
    answer_shot(trainee, items[0])
    before = trainee.panel.round.view.answer
    window.looks.next_unit()
    trainee.page.set_theme(DARK)
    assert trainee.panel.round.view.answer == before
    assert float(trainee.panel.form.temp.text()) == pytest.approx(before.brew_temp_degc * 1.8 + 32, abs=0.06)
    trainee.key(ENTER)
    assert "°F" in trainee.panel.marking.parts[Part.BREW_TEMP].values.text()


def test_the_band_is_hidden_where_the_exercise_says_so(trainee, items):
    trainee.begin(Prepared((replace(items[0], shows_band=False),), "No band"))
    assert not trainee.panel.plot.shading.band.isVisible()
