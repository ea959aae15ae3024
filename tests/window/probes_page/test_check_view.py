"""Checks that do not go by the book: other sources, baths that are none, disks that refuse."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchtemp.errors import StorageError
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.probe_file import load_probe
from benchtemp.places import demo_streams_dir
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.reference import ReferenceKind
from benchtemp.readings.layout import Channel, Layout
from benchtemp.readings.ports import PortIdentity, PortInfo
from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.virtual.pot import POT_BOILS_DEGC, PROBES, Bath, VirtualPot
from benchtemp.window.app import choice_of
from benchtemp.window.panel import SourceChoice
from benchtemp.window.probes_page.caution_step import CHECKS, Method, cautions_of, steps_of
from benchtemp.window.probes_page.texts import now_text
from benchtemp.window.sources.serial_card import SerialPick


def to_source_step(pots, probe="basket 1"):
    pots.to_a_new_probe(probe)
    pots.press()
    pots.press()
    return pots.page.check


def to_bath(pots, check, **typed):
    pots.tab_to(check.source_step.go_on_button)
    pots.press()
    for name, text in typed.items():
        check.conditions.fields[name].setText(text)
    pots.tab_to(check.conditions.go_on_button)
    pots.press()
    assert check.bath.isVisible()


def test_a_check_on_the_open_source_rests_on_its_recording(pots, window, logbook):
    pots.open_as_sitting()
    pots.to_a_new_probe()
    pots.go_on(3)
    pots.press()
    pots.press()
    check = pots.page.check
    assert check.source_step.go_on_button.hasFocus()  # the open source is taken without asking
    to_bath(pots, check, pressure="1006hPa", depth="5cm")
    pots.until_settled()
    pots.press()
    pots.tab_to(check.result.save_button)
    pots.press()
    pots.wait(lambda: bool(load_probe(logbook, "basket 1").checks), "saving")
    (made,) = load_probe(logbook, "basket 1").checks
    recording = window.session.snapshot.recording
    assert made.recording == recording.name
    assert window.session.running  # the sitting goes on
    window.session.end()
    assert [path.name for path in logbook.recordings()] == [recording.name]
    stream = read_stream(recording)
    (point,) = made.points
    inside = (stream.t_s >= point.start_s) & (stream.t_s <= point.end_s)
    assert stream.temps_degc[inside, 0].mean() == pytest.approx(point.reported_degc, abs=0.05)


def test_another_source_in_the_middle_of_a_bath_ends_the_bath(pots, window):
    pots.open_as_sitting()
    pots.to_a_new_probe()
    pots.go_on(3)
    pots.press()
    pots.press()
    check = pots.page.check
    to_bath(pots, check, pressure="1006hPa")
    pots.go_on(12)
    window.session.end()
    assert "closed or another one opened" in check.bath.trouble.text()
    assert not check.bath.take_button.isEnabled()


def test_a_replay_is_not_checked_against(pots, window):
    path = min(demo_streams_dir().glob("*.ecsv"))
    window.session.begin(choice_of(ReplaySource(read_stream(path), path.name, paused=True)))
    pots.wait(lambda: window.session.snapshot is not None)
    check = to_source_step(pots)
    assert not check.source_step.current_button.isEnabled()
    assert not check.source_step.go_on_button.isEnabled()


def test_a_simmering_pot_gives_a_sentence_and_no_level(pots, monkeypatch):
    simmer = VirtualPot(Bath.SIMMER, PROBES, seed=7, clock=pots.clock)
    monkeypatch.setattr(pots, "bath", None)
    pots.pots.append(simmer)
    check = to_source_step(pots)
    monkeypatch.setattr(
        "benchtemp.window.probes_page.source_step.virtual_bath",
        lambda *_: SourceChoice(simmer, keep=False),
    )
    pots.press()
    pots.wait(lambda: bool(check.source_step.rows.values))
    pots.go_on(2)
    to_bath(pots, check)
    for _ in range(30):
        pots.go_on(6)
        if "should be at" in check.bath.trouble.text():
            break
    assert "rolling boil" in check.bath.trouble.text()
    assert not check.bath.take_button.isEnabled()
    pots.tab_to(check.bath.stop_button)
    pots.press()
    assert check.conditions.isVisible()


def test_a_disk_that_refuses_costs_nothing(pots, logbook, monkeypatch):
    pots.to_a_new_probe()
    pots.through_a_boil()
    result = pots.page.check.result

    def refuse(*_args):
        raise StorageError("The disk is full; make room and save again.")

    with monkeypatch.context() as patched:
        patched.setattr("benchtemp.logbook.probe_file.change_probe", refuse)
        pots.tab_to(result.save_button)
        pots.press()
        pots.wait(lambda: "disk is full" in result.complaint.text())
    assert result.isVisible()
    pots.wait(result.save_button.hasFocus)
    pots.press()
    pots.wait(lambda: bool(load_probe(logbook, "basket 1").checks), "saving")
    assert len(list(logbook.recordings())) == 1  # its readings were kept at the first try already
    (made,) = load_probe(logbook, "basket 1").checks
    assert made.recording == next(iter(logbook.recordings())).name


def test_an_earlier_ice_bath_can_count_too(pots, keep, make_probe):
    point = CheckPoint(
        reported_degc=0.25, reference_degc=0.0, reference_uncertainty_k=0.03, kind=ReferenceKind.ICE
    )
    keep(
        make_probe("basket 1", ()).with_check(
            make_check([point], probe="basket 1", checked=now_text(), operator="Ada")
        )
    )
    pots.window.activateWindow()
    pots.window.bring("Probes")
    pots.wait(lambda: pots.page.shelf.was_read)
    pots.tab_to(pots.page.details.check_button)
    pots.through_a_boil(operator="")
    result = pots.page.check.result
    (join,) = result.join_buttons
    assert "ice bath" in join.text()
    pots.tab_to(join)
    pots.press()
    (made,) = result.checks.values()
    assert len(made.points) == 2
    assert made.correction.slope_k_per_k
    assert not result.join_buttons


def test_while_a_bath_runs_the_list_keeps_still(pots):
    check = to_source_step(pots)
    pots.press()
    pots.wait(lambda: bool(check.source_step.rows.values))
    pots.go_on(2)
    assert pots.page.list.isEnabled()
    to_bath(pots, check)
    assert not pots.page.list.isEnabled()
    pots.window.show_page(0)
    pots.go_on(6)  # the bath goes on while another page is looked at
    pots.window.bring("Probes")
    assert check.bath.isVisible()
    assert check.bath.progress.elapsed_s > 4.0
    pots.tab_to(check.bath.stop_button)
    pots.press()
    assert pots.page.list.isEnabled()


def test_esc_goes_back_step_by_step(pots):
    check = to_source_step(pots)
    pots.press(Qt.Key.Key_Escape)
    assert check.caution.isVisible()
    pots.press(Qt.Key.Key_Escape)
    assert pots.page.details.isVisible()


def test_what_was_typed_for_the_virtual_pot_is_not_kept_for_another_source(pots):
    pots.open_as_sitting()
    pots.to_a_new_probe()
    pots.go_on(3)
    pots.press()
    pots.press()
    check = pots.page.check
    pots.tab_to(check.source_step.virtual_button)
    pots.press()
    pots.wait(lambda: len(check.source_step.rows.values) == len(PROBES))
    pots.go_on(2)
    pots.tab_to(check.source_step.go_on_button)
    pots.press()
    assert check.conditions.fields["pressure"].text() == "1006hPa"
    pots.press(Qt.Key.Key_Escape)
    other = SourceChoice(VirtualPot(seed=1, clock=pots.clock), keep=True)
    check.conditions.fields["altitude"].setText("300m")
    check._source._own.choice = other
    check._to_conditions({0: "basket 1"})
    assert not check.conditions.fields["altitude"].text()


def test_a_serial_interface_is_opened_for_the_check_alone(pots, monkeypatch, window):
    check = to_source_step(pots)
    step = check.source_step
    pot = VirtualPot(Bath.POT, PROBES[:1], seed=7, clock=pots.clock)
    pots.pots.append(pot)
    asked = []

    def serial(port, layout):
        asked.append((port, layout))
        return SourceChoice(pot, hardware=True)

    monkeypatch.setattr("benchtemp.window.probes_page.source_step.serial_choice", serial)
    pots.tab_to(step.serial_button)
    pots.press()
    assert step.ports.serial.isVisible()
    assert not step.ports.serial.machine_field.isVisible()
    assert not step.go_on_button.isVisible()
    identity = PortIdentity.parse("1A86:7523:X1@1-2")
    port, layout = (
        PortInfo("/dev/ttyX", "Bench interface", identity),
        Layout(name="own", channels=(Channel(field=1),)),
    )
    step.ports.serial.picked.emit(SerialPick(port, layout))
    assert asked == [(port, layout)]
    pots.wait(lambda: step._channels == ("T1",))
    pots.go_on(1)
    assert step.go_on_button.isVisible()
    assert not window.session.running
    assert str(identity) in window._choices.now.layouts


def test_a_check_on_a_real_serial_port_down_to_the_file(pots, logbook, pot_on_a_wire, window):
    wire = pot_on_a_wire(PROBES[:1])
    check = to_source_step(pots)
    step = check.source_step
    pots.tab_to(step.serial_button)
    pots.press()
    layout = Layout(name="own", channels=(Channel(label="T1"),))
    # A pseudo-terminal is in no list of ports; from the choice on everything is as with an adapter.
    step.ports.serial.picked.emit(SerialPick(PortInfo(wire.device, "Bench interface"), layout))
    pots.wait(lambda: step.go_on_button.isEnabled() and bool(step.rows.values), "the first reading")
    to_bath(pots, check, pressure="1006hPa", depth="5cm")
    pots.wait(check.bath.take_button.isEnabled, "settling")
    pots.wait(check.bath.take_button.hasFocus)
    pots.press()
    pots.tab_to(check.result.save_button)
    pots.press()
    pots.wait(lambda: bool(load_probe(logbook, "basket 1").checks), "saving")
    (made,) = load_probe(logbook, "basket 1").checks
    error_k = PROBES[0].offset_k + PROBES[0].slope_k_per_k * POT_BOILS_DEGC
    assert made.verdict.error_k == pytest.approx(error_k, abs=made.verdict.expanded_k)
    stream = read_stream(logbook.recordings_dir / made.recording)
    assert stream.meta["source"]["port"] == wire.device
    pots.wait(pots.page.details.isVisible)
    assert not window.session.running
    assert pots.page.source.choice is None  # the port is free again


def test_a_port_that_does_not_open_says_why(pots, monkeypatch):
    check = to_source_step(pots)
    pot = VirtualPot(Bath.POT, PROBES[:1], seed=7, clock=pots.clock)

    def busy():
        raise StorageError("Another program holds the port; close it and choose the port again.")

    monkeypatch.setattr(pot, "open", busy)
    check.source_step._begin(SourceChoice(pot))
    pots.wait(lambda: "Another program" in check.source_step.complaint.text())
    assert pots.page.source.choice is None
    assert not check.source_step.go_on_button.isEnabled()


@pytest.mark.parametrize("method", [*CHECKS, Method.PLUNGE])
def test_every_way_has_cautions_local_rules_and_steps(method):
    assert "workplace" in cautions_of(method)[-1]
    assert len(cautions_of(method)) >= 2
    assert steps_of(method)


def test_a_layout_beside_its_raw_lines_finds_room_in_the_least_window(pots, window):
    check = to_source_step(pots)
    step = check.source_step
    assert window.width() == 1024
    step.ports.take(SerialPick(PortInfo("/dev/no-such-port", "Bench interface"), None))
    pots.wait(lambda: not step.ports.layout_view._guessing.busy)
    assert step.ports.layout_view.isVisible()
    assert not pots.page.list.isVisible()
    assert window.width() == 1024
    pots.press(Qt.Key.Key_Escape)
    step.go_back()
    QApplication.processEvents()
    assert pots.page.list.isVisible()
    assert window.width() == 1024
