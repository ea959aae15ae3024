"""Diagnosing a sealed machine: on the Bench, in its pot, and with nothing given away before it is named."""

import datetime as dt
import time

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.probe_file import change_probe
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.fault import FAULT_TEXTS, SIZED, Fault
from benchtemp.window.practice_page.case_work import AT_ONCE, CaseWork

ENTER, CTRL = Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier


def code_with(fault):
    """Return the number of a case with a fault."""
    return next(code for code in range(1, 500) if Case(code).break_seal().fault is fault)


@pytest.fixture
def take(trainee):
    """Return a function that takes a machine up by its number, typed on the Practice page."""

    def begin(code):
        choosing = trainee.page.choosing
        choosing.code.setFocus()
        trainee.type(str(code))
        trainee.key(ENTER)
        return trainee.page.diagnosing.view

    return begin


def name_fault(trainee, view, fault, size=""):
    view.naming.fault.setFocus()
    view.naming.fault.setCurrentIndex(1 + list(FAULT_TEXTS).index(fault))
    if size:
        view.naming.amount.setFocus()
        trainee.type(size)
    view.naming.name_button.setFocus()
    trainee.key(ENTER)


def secrets(code):
    """Return what would give a case away, in the words of the program."""
    sealed = Case(code).break_seal()
    found = {str(sealed.fault), FAULT_TEXTS[sealed.fault], sealed.fault.name}
    if sealed.size_k is not None:
        found |= {f"{abs(sealed.size_k):.1f} K", f"{abs(sealed.size_k):.2f} °C"}
    return found


@pytest.mark.parametrize("fault", [fault for fault in Fault if fault is not Fault.NONE])
def test_the_window_shows_nothing_of_the_fault(take, all_texts, fault):
    code = code_with(fault)
    view = take(code)
    assert view.isVisible()
    offered = {view.naming.fault.itemText(row) for row in range(view.naming.fault.count())}
    assert set(FAULT_TEXTS.values()) < offered, "all are offered alike"
    assert view.naming.fault.currentText() not in FAULT_TEXTS.values()
    brief = view.work.case.brief
    told = " ".join((*brief.sound, brief.build, brief.complaint, *brief.tests))
    for text in all_texts(view):
        for secret in secrets(code):
            if secret not in told:
                assert secret not in text, text


def test_nor_does_the_bench_or_the_recording(qtbot, window, trainee, take, all_texts):
    code = code_with(Fault.OFFSET)
    view = take(code)
    view.tests.speed.setCurrentIndex(2)
    view.tests.bench_button.setFocus()
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: window.session.snapshot is not None, timeout=10_000)
    qtbot.waitUntil(lambda: window.session.snapshot.last_s is not None, timeout=10_000)
    assert window.page == 0
    for text in all_texts(window):
        assert not [secret for secret in secrets(code) if secret in text], text
    recording = window.session.snapshot.recording
    window.session.end()
    head = "".join(line for line in recording.read_text().splitlines() if line.startswith("#"))
    sealed = Case(code).break_seal()
    for secret in ("fault", "offset_k", "sealed", f"{sealed.size_k:g}", f"{sealed.probe_error_k:g}"):
        assert secret not in head or secret == "0", secret


def test_shots_of_the_bench_are_counted_and_the_dose_is_known(qtbot, window, trainee, take):
    view = take(777)
    view.tests.speed.setCurrentIndex(2)
    view.tests.bench_button.setFocus()
    trainee.key(ENTER)
    own = window._choices.now.recipe.dose_g
    live(qtbot, window)
    qtbot.waitUntil(lambda: window.session.snapshot.recipe.dose_g == 18.0, timeout=5000)
    trainee.key(Qt.Key.Key_Space)
    wait_s(window, 26.0)
    trainee.key(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: looked(window) and len(window.session.snapshot.shots) == 1, timeout=10_000)
    trainee.key(Qt.Key.Key_6, CTRL)
    qtbot.waitUntil(lambda: view.tests.tested.text().startswith("Shot 1"), timeout=5000)
    assert "18 g to" in view.tests.tested.text()
    assert window._choices.now.recipe.dose_g == own, "the user's own recipe stays"
    window.session.end()
    trainee.page.begin_case(777)
    assert view.work.shots == ()
    trainee.page.diagnosing.view._keeping.join()
    trainee.page.begin_case(777)
    qtbot.waitUntil(lambda: len(view.work.shots) == 1, timeout=10_000)


def live(qtbot, window):
    qtbot.waitUntil(lambda: looked(window) and window.session.snapshot.last_s is not None, timeout=10_000)


def looked(window):
    window.session.look()
    return window.session.snapshot is not None


def wait_s(window, seconds):
    """Wait some seconds of the machine's own clock."""
    until_s = window.session.snapshot.now_s + seconds
    deadline_s = time.monotonic() + 20.0
    while window.session.snapshot.now_s < until_s:
        assert time.monotonic() < deadline_s
        window.session.look()
        QApplication.processEvents()
        time.sleep(0.01)


def test_a_probe_is_found_low_in_its_own_pot_and_named(qtbot, trainee, take):
    code = code_with(Fault.PROBE_LOW)
    size_k = Case(code).break_seal().size_k
    view = take(code)
    assert view.work.case.code == code
    view.tests.boil_button.setFocus()
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: bool(view.work.checks), timeout=20_000)
    assert " low at " in view.tests.tested.text()
    view.tests.pull_button.setFocus()
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: len(view.work.shots) == AT_ONCE, timeout=20_000)
    view.tests.says_button.setFocus()
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: "probe" in view.tests.findings.text(), timeout=20_000)
    name_fault(trainee, view, Fault.PROBE_LOW, f"{abs(size_k):.2f}")
    qtbot.waitUntil(view.verdict.isVisible, timeout=10_000)
    assert view.verdict.verdict.text().startswith("✓")
    assert "100 of 100" in view.verdict.verdict.text()
    assert view.verdict.reasons.text()
    assert not view.tests.pull_button.isEnabled()


def test_a_wrong_name_is_told_with_what_spoke_against_it(qtbot, trainee, take):
    view = take(code_with(Fault.COLD_GROUP))
    view.tests.pull_button.click()
    qtbot.waitUntil(lambda: bool(view.work.shots), timeout=20_000)
    name_fault(trainee, view, Fault.NONE)
    qtbot.waitUntil(view.verdict.isVisible, timeout=10_000)
    assert view.verdict.verdict.text().startswith("✕")
    assert "0 of 100" in view.verdict.verdict.text()
    trainee.key(ENTER)
    assert view.naming.isVisible(), "another machine"
    assert not view.verdict.verdict.text()
    assert view.tests.tested.text() == "Nothing was tested yet."


def test_only_faults_with_a_size_are_asked_for_one(take):
    view = take(1)
    for row, fault in enumerate(FAULT_TEXTS, 1):
        view.naming.fault.setCurrentIndex(row)
        assert view.naming.amount.isVisible() == (fault in SIZED)
    view.naming.fault.setCurrentIndex(0)
    assert not view.naming.name_button.isEnabled()


def test_the_guided_check_uses_the_case_s_own_pot(qtbot, window, trainee, take):
    view = take(code_with(Fault.PROBE_LOW))
    view.tests.check_button.setFocus()
    trainee.key(ENTER)
    qtbot.waitUntil(lambda: window.page == 3 and window.probes._stack.has("check"), timeout=5000)
    check = window.probes.check
    qtbot.waitUntil(check.isVisible, timeout=5000)
    assert view.work.probe in check.title.text()
    check.source_step._use_virtual()
    qtbot.waitUntil(lambda: window.probes.source.choice is not None, timeout=5000)
    pot = window.probes.source.choice.source
    assert pot.channels == ("T1",), "one probe: the very one of the basket"
    check.leave()
    window.probes.begin_check(view.work.probe)


def test_a_check_saved_on_the_probes_page_counts_as_a_test(qtbot, window, take):
    view = take(code_with(Fault.PROBE_LOW))
    work = view.work
    made = work.case.boil(checked=dt.datetime.now().astimezone().isoformat(timespec="seconds"))
    change_probe(window._book, work.probe, lambda probe: probe.with_check(made))
    window._shelf.read()
    qtbot.waitUntil(lambda: len(work.checks) == 1, timeout=5000)
    assert view.tests.tested.text().startswith("Check 1, reads")


def test_checks_kept_before_the_machine_was_taken_up_do_not_count(tmp_path):
    work = CaseWork(Case(5), Logbook(tmp_path))
    old = work.case.boil(checked="2020-01-01T08:00:00+00:00")
    new = work.boil()
    work.take_guided((old, new))
    assert work.checks == (new,)


def test_what_was_tested_is_there_another_day_and_the_name_is_kept(qtbot, window, trainee, take):
    trainee.type("Robin")
    trainee.key(ENTER)
    code = code_with(Fault.SLOW_FLOW)
    view = take(code)
    name_fault(trainee, view, Fault.NONE)
    assert "Nothing was tested yet" in view.said.text()
    view.tests.boil_button.click()
    qtbot.waitUntil(lambda: len(view.work.checks) == 1, timeout=20_000)
    view.tests.pull_button.click()
    qtbot.waitUntil(lambda: len(view.work.shots) == AT_ONCE, timeout=20_000)
    trainee.page.begin_case(code)
    assert view.work.shots == ()
    qtbot.waitUntil(lambda: len(view.work.shots) == AT_ONCE, timeout=10_000)
    assert len(view.work.checks) == 1
    name_fault(trainee, view, Fault.SLOW_FLOW)
    qtbot.waitUntil(view.verdict.isVisible, timeout=10_000)
    assert view.said.text() == "✓ Kept among the scores of Robin."
    kept = (window._book.root / "practice").glob("*.jsonl")
    assert f'"case":{code}' in next(kept).read_text()


def test_the_picker_of_sources_offers_an_unknown_machine(window, trainee):
    window.show_page(0)
    card = window.start.picker.virtual
    card.unknown_button.setFocus()
    trainee.key(ENTER)
    assert window.page == 5
    assert QApplication.focusWidget() is trainee.page.choosing.case_button
    trainee.key(ENTER)
    assert trainee.page.diagnosing.view.isVisible()


def test_a_number_that_is_none_is_refused(trainee):
    choosing = trainee.page.choosing
    choosing.code.setFocus()
    trainee.type("1000000")
    trainee.key(ENTER)
    assert choosing.isVisible()
    assert "999999" in choosing.code_complaint.text()
