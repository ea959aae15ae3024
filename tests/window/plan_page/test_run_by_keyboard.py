"""A plan run with nothing but keys on a virtual machine, from its making to its verdict."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.ecsv import read_meta
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.preferences import load_preferences
from benchtemp.places import default_logbook_dir
from benchtemp.shots.recipe import Recipe
from benchtemp.studies.plans import kinds
from benchtemp.studies.plans.plan_file import plan_path, save_plan

CTRL = Qt.KeyboardModifier.ControlModifier


class Keys:
    """Presses keys where the focus is."""

    def __init__(self, qtbot, window):
        self.qtbot, self.window = qtbot, window

    def press(self, key=Qt.Key.Key_Space, modifier=Qt.KeyboardModifier.NoModifier):
        QApplication.processEvents()
        self.qtbot.keyClick(QApplication.focusWidget() or self.window, key, modifier)

    def type(self, text):
        self.qtbot.keyClicks(QApplication.focusWidget(), text)

    def tab_to(self, widget):
        for _ in range(80):
            if widget.hasFocus():
                return
            self.press(Qt.Key.Key_Tab)
        raise AssertionError(f"Tab does not reach {widget.accessibleName() or widget}")


@pytest.fixture
def keys(qtbot, window):
    window.activateWindow()
    return Keys(qtbot, window)


@pytest.fixture
def beeps(monkeypatch):
    heard = []
    monkeypatch.setattr(QApplication, "beep", lambda: heard.append(1))
    return heard


def pull(stand, keys, seconds=26.0):
    keys.press()
    stand.wait(lambda: stand.snapshot.pump_running)
    stand.go_on(seconds)
    keys.press()
    stand.wait(lambda: not stand.snapshot.pump_running)
    stand.go_on(8.0)


@pytest.fixture
def three(window, qtbot):
    """Return a plan of three shots, saved and taken up on the bench."""

    def take_up(**more):
        plan = msgspec.structs.replace(
            kinds.steady_series("Ferrowick Two", shots=3, interval_min=1.0), **more
        )
        logbook = Logbook(default_logbook_dir())
        save_plan(plan_path(logbook, plan), plan)
        window.planning.begin(plan)
        qtbot.waitUntil(lambda: window.planning.run.status is not None, timeout=10_000)
        return plan

    return take_up


def test_three_shots_from_the_plan_to_the_verdict(qtbot, window, stand, keys, beeps):
    stand.go_on(3.0)
    keys.press(Qt.Key.Key_2, CTRL)
    page = window.planning.plan
    qtbot.waitUntil(lambda: page.shelf.was_read and not page.shelf.busy, timeout=10_000)
    keys.tab_to(page.first_button)
    keys.press(Qt.Key.Key_Return)
    assert page.form.kind.hasFocus()
    keys.tab_to(page.form.machine)
    keys.press(Qt.Key.Key_A, CTRL)
    keys.type("Ferrowick Two")
    keys.tab_to(page.form.count)
    keys.type("3")
    keys.tab_to(page.form.interval)
    keys.type("1")
    keys.tab_to(page.form.save_button)
    keys.press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.list.count() == 1 and not page.shelf.busy, timeout=10_000)
    assert page.list.hasFocus()
    keys.press(Qt.Key.Key_Return)

    strip, run = window.bench.plan_strip, window.planning.run
    assert window.page == 0
    assert strip.isVisible()
    stand.wait(lambda: run.status is not None and stand.snapshot.tags.get("plan shot") == "1")
    assert strip.sentence.text().startswith("Begin with shot 1 of 3")
    pull(stand, keys)
    stand.wait(lambda: stand.snapshot.tags.get("plan shot") == "2")
    assert strip.sentence.text().startswith("Next is shot 2 of 3; start the pump at")
    assert 20.0 < run.wait_s < 30.0
    assert strip.figure.text().startswith("0:2")
    stand.go_on(run.wait_s - 5.0)
    assert beeps, "ten seconds before the start there is a sound"
    keys.press(Qt.Key.Key_M)
    assert strip.sound_button.text() == "Sound off (M)"
    heard = len(beeps)
    stand.go_on(5.0)
    assert len(beeps) == heard
    assert strip.figure.text() == "NOW"
    pull(stand, keys)
    stand.wait(lambda: run.status.counted == 2)
    assert run.status.done[-1].late_s == pytest.approx(0.0, abs=2.0)
    stand.go_on(run.wait_s + 20.0)
    assert strip.words.text() == "late"
    pull(stand, keys)
    stand.wait(lambda: run.status.finished)
    assert "late" in strip.last.text()
    assert "steadiness" in strip.sentence.text()
    stand.wait(lambda: "plan" not in stand.snapshot.tags)

    keys.press(Qt.Key.Key_3, CTRL)
    findings = window.planning.findings
    qtbot.waitUntil(lambda: findings.view.isVisible() and not findings.busy, timeout=20_000)
    assert "Ferrowick Two brews at" in findings.view.verdict.text()
    assert "3 shots used" in findings.view.limits.text()
    window.close()

    shots = sorted(Logbook(default_logbook_dir()).shots())
    tags = [read_meta(path)["tags"] for path in shots]
    assert sorted(tag["plan shot"] for tag in tags) == ["1", "2", "3"]
    assert {tag["plan"] for tag in tags} == {"steady series Ferrowick Two"}
    kept, _ = load_preferences()
    assert "plan" not in kept.tags
    assert kept.sound_muted


def test_a_shot_that_does_not_count_is_put_back(window, stand, keys, three):
    three()
    stand.go_on(6.0)
    pull(stand, keys, 12.0)
    run = window.planning.run
    stand.wait(lambda: bool(run.status.done))
    assert run.status.done[0].put_back
    assert run.status.counted == 0
    assert len(run.status.queue) == 3
    assert "put back" in window.bench.plan_strip.last.text()
    assert stand.snapshot.tags["plan shot"] == str(run.status.next_step.number)


def test_a_cup_that_still_fills_puts_no_shot_back(window, stand, keys, three):
    three()
    window.session.enter("dose_g=19")
    stand.go_on(6.0)
    keys.press()
    stand.wait(lambda: stand.snapshot.pump_running)
    stand.go_on(25.5)  # the machine is filled with what is entered, and 19 g flow slower
    keys.press()
    run = window.planning.run
    stand.wait(lambda: bool(run.status.done))
    ended = stand.snapshot.shots[-1]
    assert ended.filling
    assert not ended.counts
    assert not run.status.done[0].put_back
    stand.go_on(12.0)
    assert stand.snapshot.shots[-1].counts
    assert run.status.counted == 1


def test_a_pump_off_taken_back_gives_the_shot_its_own_tags_again(window, stand, keys, three):
    three()
    stand.go_on(6.0)
    keys.press()
    stand.wait(lambda: stand.snapshot.pump_running)
    stand.go_on(15.0)
    assert window.bench.plan_strip.sentence.text() == "Shot 1 of 3 is under way."
    keys.press()
    stand.wait(lambda: not stand.snapshot.pump_running)
    stand.go_on(2.0)
    stand.wait(lambda: stand.snapshot.tags.get("plan shot") == "2")
    keys.press(Qt.Key.Key_U)
    stand.wait(lambda: stand.snapshot.pump_running)
    stand.go_on(2.0)
    stand.wait(lambda: stand.snapshot.tags["plan shot"] == "1")
    stand.go_on(10.0)
    keys.press()
    stand.go_on(8.0)
    stand.wait(lambda: window.planning.run.status.counted == 1)
    (shot,) = stand.snapshot.shots
    assert shot.tags["plan shot"] == "1"


def test_left_and_taken_up_again_it_goes_on_where_it_stood(window, stand, keys, three, make_stand):
    plan = three()
    stand.go_on(6.0)
    pull(stand, keys)
    stand.wait(lambda: window.planning.run.status.counted == 1)
    assert stand.snapshot.shots[0].tags["plan shot"] == "1"
    keys.tab_to(window.bench.plan_strip.leave_button)
    keys.press(Qt.Key.Key_Return)
    assert window.bench.plan_strip.isHidden()
    stand.wait(lambda: "plan" not in stand.snapshot.tags)
    again = make_stand("dual-boiler")
    again.start()
    assert "plan shot" not in again.snapshot.tags
    window.planning.begin(plan)
    again.wait(lambda: again.snapshot.tags.get("plan shot") == "2")
    assert window.planning.run.status.counted == 1


def test_a_plan_under_way_leaves_no_tags_to_the_next_sitting(window, stand, three):
    three()
    stand.wait(lambda: stand.snapshot.tags.get("plan") is not None)
    window.session.end()
    assert "plan" not in window._choices.now.tags


def test_the_plans_recipe_holds_while_it_runs_and_the_users_own_comes_back(window, stand, keys, three):
    own = stand.snapshot.recipe
    held = Recipe(time_low_s=30.0, time_high_s=40.0, band_low_degc=88.0)
    three(recipe=held)
    stand.go_on(3.0)
    stand.wait(lambda: stand.snapshot.recipe == msgspec.structs.replace(held, dose_g=own.dose_g))
    assert window._choices.now.recipe == own, "what later sittings begin with"
    pull(stand, keys, 34.0)
    stand.wait(lambda: window.planning.run.status.counted == 1)
    assert stand.snapshot.shots[0].recipe.time_high_s == 40.0
    stand.go_on(1.0)
    keys.tab_to(window.bench.plan_strip.leave_button)
    keys.press(Qt.Key.Key_Return)
    stand.wait(lambda: stand.snapshot.recipe == own)
    assert window._choices.now.recipe == own


def test_from_one_plan_to_the_next_the_users_recipe_is_not_mistaken(window, stand, three):
    own = stand.snapshot.recipe
    first = three(recipe=Recipe(time_low_s=30.0, time_high_s=40.0))
    stand.wait(lambda: stand.snapshot.recipe.time_high_s == 40.0)
    second = msgspec.structs.replace(first, name="another", recipe=Recipe(plateau_min_s=12.0))
    window.planning.begin(second)
    stand.wait(lambda: stand.snapshot.recipe.plateau_min_s == 12.0)
    assert stand.snapshot.recipe.time_high_s == own.time_high_s
    window.planning.run.leave()
    stand.wait(lambda: stand.snapshot.recipe == own)


def test_the_large_view_counts_down_too(window, stand, keys, three):
    three()
    stand.go_on(6.0)
    keys.press(Qt.Key.Key_F11)
    strip = window.large.page.plan_strip
    assert strip.isVisible()
    assert strip.sentence.text().startswith("Begin with shot 1 of 3")
    pull(stand, keys)
    stand.wait(lambda: window.planning.run.status.counted == 1)
    assert strip.sentence.text().startswith("Next is shot 2 of 3; start the pump at")
    assert strip.figure.text() == window.bench.plan_strip.figure.text() != "—"
    usual = window.font().pointSizeF()
    assert strip.figure.font().pointSizeF() > 4.0 * usual, "to be read from two metres"
    assert strip.sentence.font().pointSizeF() > 1.5 * usual
    keys.press(Qt.Key.Key_Escape)
    assert not window.large.shown
    window.planning.run.leave()
    assert strip.isHidden()


def test_a_plan_edited_or_binned_under_way_is_followed_or_left(qtbot, window, stand, keys, three):
    three()
    stand.go_on(6.0)
    pull(stand, keys)
    stand.wait(lambda: window.planning.run.status.counted == 1)
    keys.press(Qt.Key.Key_2, CTRL)
    page = window.planning.plan
    qtbot.waitUntil(lambda: page.list.count() == 1 and not page.shelf.busy, timeout=10_000)
    keys.tab_to(page.details.edit_button)
    keys.press(Qt.Key.Key_Return)
    assert page.form.count.hasFocus()
    keys.press(Qt.Key.Key_A, CTRL)
    keys.type("5")
    keys.press(Qt.Key.Key_Tab)
    keys.tab_to(page.form.save_button)
    keys.press(Qt.Key.Key_Return)
    run = window.planning.run
    stand.wait(lambda: run.plan is not None and run.plan.count == 5 and run.status is not None)
    assert run.status.counted == 1
    stand.wait(lambda: stand.snapshot.tags.get("plan shot") == "2")
    qtbot.waitUntil(lambda: not page.shelf.busy, timeout=10_000)
    keys.tab_to(page.list)
    keys.press(Qt.Key.Key_Delete)
    stand.wait(lambda: run.plan is None)
    stand.wait(lambda: "plan" not in stand.snapshot.tags)
    assert window.bench.plan_strip.isHidden()
