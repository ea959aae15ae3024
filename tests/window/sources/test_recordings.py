from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt

from benchtemp.logbook.ecsv import write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.window.sources import recordings as recordings_module
from benchtemp.window.sources.recordings import recordings_to_offer
from benchtemp.window.sources.recordings_card import RecordingsCard


@pytest.fixture
def logbook(tmp_path, stream):
    made = Logbook(tmp_path / "logbook")
    made.recordings_dir.mkdir(parents=True)
    for name in ("20251123-080000_a.ecsv", "20251124-080000_b.ecsv"):
        write_stream(made.recordings_dir / name, stream)
    (made.recordings_dir / "20251125-080000_broken.ecsv").write_bytes(b"no header at all")
    return made


@pytest.fixture(autouse=True)
def demos(tmp_path, stream, monkeypatch):
    folder = tmp_path / "demos"
    folder.mkdir()
    write_stream(folder / "steady.ecsv", stream)
    monkeypatch.setattr(recordings_module, "demo_streams_dir", lambda: folder)
    return folder


def test_recent_first_then_the_logbook_newest_first_then_demos(logbook, recording):
    recent = [str(recording), str(recording.with_name("gone.ecsv"))]
    offers = recordings_to_offer(logbook, recent)
    assert [(offer.group, offer.path.name) for offer in offers] == [
        ("Opened lately", "morning.ecsv"),
        ("In the logbook", "20251124-080000_b.ecsv"),
        ("In the logbook", "20251123-080000_a.ecsv"),
        ("Demo streams", "steady.ecsv"),
    ]
    assert offers[0].title == "Kestle Bench"
    assert offers[0].detail == "2025-11-24 10:15, house blend, morning.ecsv"


def test_a_recording_is_offered_once(logbook):
    recent = [str(logbook.recordings_dir / "20251123-080000_a.ecsv")]
    assert len(recordings_to_offer(logbook, recent)) == 3


@pytest.mark.parametrize(
    ("scenario", "title", "detail"),
    [
        ("Four probes: T1 basket, T2 group.", "Four probes", "T1 basket, T2 group."),
        ("Six shots, in steps of 0.25 °C.", "Six shots", "In steps of 0.25 °C."),
        ("One shot.", "One shot", "Kestle Bench"),
    ],
)
def test_a_demo_is_called_by_what_it_shows(tmp_path, stream, scenario, title, detail):
    path = tmp_path / "demo.ecsv"
    write_stream(path, replace(stream, meta={**stream.meta, "scenario": scenario}))
    offer = recordings_to_offer(None, [str(path)])[0]
    assert (offer.title, offer.detail) == (title, detail)


def test_without_a_logbook_there_are_the_demos():
    assert [offer.group for offer in recordings_to_offer(None, ())] == ["Demo streams"]


@pytest.fixture
def card(show, logbook):
    made = show(RecordingsCard(), width_px=300)
    made.show_offers(recordings_to_offer(logbook, ()))
    return made


def test_nothing_is_chosen_to_begin_with_and_headings_never_are(qtbot, card):
    assert not card.replay_button.isEnabled()
    card.list.setFocus()
    qtbot.keyClick(card.list, Qt.Key.Key_Home)
    assert card.chosen_path is not None


def test_enter_in_the_list_and_the_button_replay_what_is_chosen(qtbot, card):
    card.list.setFocus()
    qtbot.keyClick(card.list, Qt.Key.Key_Down)
    wanted = card.chosen_path
    with qtbot.waitSignal(card.picked) as caught:
        qtbot.keyClick(card.list, Qt.Key.Key_Return)
    assert caught.args == [wanted]
    card.replay_button.setFocus()
    with qtbot.waitSignal(card.picked) as caught:
        qtbot.keyClick(card.replay_button, Qt.Key.Key_Return)
    assert caught.args == [wanted]


def test_the_choice_survives_a_new_list(qtbot, card, logbook):
    card.list.setFocus()
    qtbot.keyClick(card.list, Qt.Key.Key_Down)
    wanted = card.chosen_path
    card.show_offers(recordings_to_offer(logbook, ()))
    assert card.chosen_path == wanted
