from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.shots.result import PullKind
from benchtemp.units import TempUnit
from benchtemp.window.shot_cards import ShotCards, figures_of, verdict_of
from benchtemp.window.theme import LIGHT


def test_a_verdict_has_a_sign_and_words(make_shot):
    assert verdict_of(make_shot()) == ("✓ counts", "good")
    assert verdict_of(make_shot(yield_g=None)) == ("✓ counts; recipe not judged", "good")
    short = make_shot(shot_time_s=19.4)
    assert verdict_of(short) == ("✕ does not count: ran 19.4 s, window 22–28 s", "bad")


def test_figures_leave_out_what_is_not_known(make_shot):
    assert figures_of(make_shot()) == "25.0 s   1:2.00"
    assert figures_of(make_shot(yield_g=None, pump_off_s=None)) == "— s   1:—"


@pytest.fixture
def cards(qtbot):
    row = ShotCards()
    qtbot.addWidget(row)
    row.set_theme(LIGHT)
    row.resize(640, row.sizeHint().height())
    row.show()
    return row


def test_every_pull_has_a_card_and_a_revised_one_keeps_it(cards, make_snapshot, make_shot):
    first, flush = make_shot(1, key=1), make_shot(1, key=2, kind=PullKind.FLUSH, shot_time_s=4.0)
    cards.show_snapshot(make_snapshot(shots=(first, flush)))
    assert [card.key for card in cards.cards] == [1, 2]
    card = cards.cards[0]
    assert "93.1 °C" in card.accessibleName()
    cards.show_snapshot(make_snapshot(shots=(make_shot(1, key=1, yield_g=50.0), flush)))
    assert cards.cards[0] is card
    assert "1:2.78" in card.accessibleName()
    assert "does not count" in card.accessibleName()


def test_a_flush_is_smaller_and_no_shot(cards, make_snapshot, make_shot):
    shots = (make_shot(1, key=1), make_shot(1, key=2, kind=PullKind.FLUSH, shot_time_s=4.0))
    cards.show_snapshot(make_snapshot(shots=shots))
    shot, flush = cards.cards
    assert flush.width() < shot.width()
    assert flush.accessibleName().startswith("Flush")


def test_a_withdrawn_shot_loses_its_card(cards, make_snapshot, make_shot):
    cards.show_snapshot(make_snapshot(shots=(make_shot(1, key=1), make_shot(2, key=2))))
    cards.show_snapshot(make_snapshot(shots=(make_shot(1, key=1),)))
    assert [card.key for card in cards.cards] == [1]


def test_a_card_is_chosen_by_enter_and_by_click(qtbot, cards, make_snapshot, make_shot):
    chosen = []
    cards.shot_chosen.connect(chosen.append)
    cards.show_snapshot(make_snapshot(shots=(make_shot(1, key=1), make_shot(2, key=2))))
    qtbot.keyClick(cards.cards[1], Qt.Key.Key_Return)
    qtbot.mouseClick(cards.cards[0], Qt.MouseButton.LeftButton)
    assert [shot.number for shot in chosen] == [2, 1]


def test_arrow_keys_go_along_the_row(qtbot, cards, make_snapshot, make_shot):
    cards.show_snapshot(make_snapshot(shots=tuple(make_shot(number, key=number) for number in (1, 2, 3))))
    cards.activateWindow()
    cards.cards[0].setFocus()
    qtbot.keyClick(cards.cards[0], Qt.Key.Key_Right)
    qtbot.waitUntil(cards.cards[1].hasFocus)
    qtbot.keyClick(cards.cards[1], Qt.Key.Key_Left)
    qtbot.waitUntil(cards.cards[0].hasFocus)


def test_the_unit_is_the_one_shown(cards, make_snapshot, make_shot):
    cards.show_snapshot(make_snapshot(shots=(make_shot(),)))
    cards.set_unit(TempUnit.DEGF)
    assert "199.6 °F" in cards.cards[0].accessibleName()


def test_the_latest_card_is_in_view(qtbot, cards, make_snapshot, make_shot):
    cards.show_snapshot(make_snapshot(shots=tuple(make_shot(number, key=number) for number in range(1, 12))))
    bar = cards._scroll.horizontalScrollBar()
    qtbot.waitUntil(lambda: bar.maximum() > 0 and bar.value() == bar.maximum())


def test_no_verdict_is_cut_off(qtbot, cards, make_snapshot, make_shot):
    long_one = make_shot(1, shot_time_s=19.4, yield_g=50.0)
    assert len(long_one.reasons) == 2
    cards.show_snapshot(make_snapshot(shots=(long_one,)))
    card = cards.cards[0]
    qtbot.waitUntil(lambda: card.height() > 40)
    verdict = card._verdict
    assert verdict.heightForWidth(verdict.width()) <= verdict.height()
