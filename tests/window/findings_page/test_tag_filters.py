"""Several tags to narrow shots down by."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchtemp.window.findings_page.asking import Scope
from benchtemp.window.findings_page.tag_filters import TagFilters


@pytest.fixture
def scope(make_record):
    return Scope(
        shots=(
            make_record(1, tags={"coffee": "house", "basket": "18 g", "grinder": "flat"}),
            make_record(2, tags={"coffee": "guest", "basket": "20 g"}),
        )
    )


@pytest.fixture
def filters(qtbot, scope):
    made = TagFilters()
    qtbot.addWidget(made)
    made.show_scope(scope)
    made.resize(240, 200)
    made.show()
    return made


def offered(choice):
    return [choice.itemData(index) for index in range(choice.count())]


def test_one_empty_row_offers_every_tag(filters):
    (row,) = filters.rows
    assert offered(row.tag) == ["", "basket", "coffee", "grinder"]
    assert row.value.isHidden()
    assert filters.tags == {}


def test_a_second_tag_narrows_further_and_each_is_offered_once(qtbot, filters):
    with qtbot.waitSignal(filters.changed):
        filters.rows[0].tag.select("coffee")
    assert filters.tags == {"coffee": "guest"}
    assert len(filters.rows) == 2
    assert offered(filters.rows[1].tag) == ["", "basket", "grinder"]
    with qtbot.waitSignal(filters.changed):
        filters.rows[1].tag.select("basket")
    with qtbot.waitSignal(filters.changed):
        filters.rows[1].value.select("20 g")
    assert filters.tags == {"coffee": "guest", "basket": "20 g"}
    assert offered(filters.rows[0].tag) == ["", "coffee", "grinder"]
    assert [row.tag.accessibleName() for row in filters.rows] == ["Tag", "Tag 2", "Tag 3"]


def test_a_tag_taken_away_takes_its_row_with_it(filters):
    filters.select({"coffee": "house", "basket": "18 g"})
    assert len(filters.rows) == 3
    filters.rows[0].tag.select("")
    assert filters.tags == {"basket": "18 g"}
    assert len(filters.rows) == 2


def test_choosing_for_it_is_silent(qtbot, filters):
    with qtbot.assertNotEmitted(filters.changed):
        filters.select({"coffee": "house", "basket": "18 g", "grinder": "flat"})
    assert filters.tags == {"coffee": "house", "basket": "18 g", "grinder": "flat"}
    assert not filters.rows[-1].isVisible(), "there is no fourth tag to choose"


def test_what_is_chosen_stays_when_the_logbook_is_read_again(filters, scope):
    filters.select({"coffee": "house"})
    filters.show_scope(scope)
    assert filters.tags == {"coffee": "house"}


def test_it_can_be_done_by_keyboard(qtbot, filters):
    filters.rows[0].tag.setFocus()
    qtbot.keyClick(filters.rows[0].tag, Qt.Key.Key_Down)
    assert filters.tags == {"basket": "18 g"}
    qtbot.keyClick(filters.rows[0].value, Qt.Key.Key_Down)
    assert filters.tags == {"basket": "20 g"}
