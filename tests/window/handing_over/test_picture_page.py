from __future__ import annotations

import pytest
from PIL import Image
from PySide6.QtCore import Qt

from benchtemp.reports.answering import Asked, Wanted
from benchtemp.studies.evidence.gathering import gather
from benchtemp.studies.evidence.shot_set import Selection, chosen
from benchtemp.studies.steadiness import steadiness
from benchtemp.units import TempUnit
from benchtemp.window.handing_over import picture_page as module
from benchtemp.window.handing_over.drawing import Kind
from benchtemp.window.handing_over.matter import Matter
from benchtemp.window.handing_over.picture_page import PicturePage

DEADLINE_MS = 60_000


@pytest.fixture
def page(qtbot, out):
    made = PicturePage()
    qtbot.addWidget(made)
    made.place.folder.setText(str(out))
    made.resize(912, 660)
    made.show()
    yield made
    made.close_down()


@pytest.fixture
def wait(qtbot, page):
    def do():
        qtbot.waitUntil(lambda: not page.busy, timeout=DEADLINE_MS)

    return do


@pytest.fixture
def choose(wait):
    def do(choice, value):
        index = choice.findData(value)
        assert index >= 0
        choice.setCurrentIndex(index)
        choice.activated.emit(index)
        wait()

    return do


@pytest.fixture
def one(page, wait, book):
    page.take(Matter((next(iter(sorted(book.shots()))),), book))
    wait()
    wait()
    return page


def subjects(page):
    return [page.subject.itemText(index) for index in range(page.subject.count())]


def test_a_shot_is_drawn_at_once_and_saved_as_it_was_seen(one, wait, out):
    assert subjects(one) == ["The shot", "Its plateau"]
    assert one.view.picture.width() == 900
    assert one.heading.text()
    one.size_choice.setEditText("640x360")
    wait()
    assert (one.view.picture.width(), one.view.picture.height()) == (640, 360)
    one.save()
    wait()
    assert one.written.parent == out
    with Image.open(one.written) as picture:
        assert picture.size == (640, 360)
    assert one.place.name.text() != one.written.stem


def test_without_a_ground_it_is_clear(one, choose):
    choose(one.look, "transparent")
    image = one.view.picture.toImage()
    assert image.hasAlphaChannel()
    assert image.pixelColor(2, 2).alpha() == 0


def test_vectors(one, choose, wait):
    choose(one.kind, "svg")
    one.heading.setText("a < b")
    one.save()
    wait()
    assert "a &lt; b" in one.written.read_text(encoding="utf-8")


def test_a_size_that_cannot_be_is_a_sentence_and_the_old_picture_goes(one, wait):
    one.size_choice.setEditText("9x9")
    wait()
    assert "cannot be made" in one.status.text()
    assert one.view.picture.isNull()
    one.save()
    assert one.written is None
    one.size_choice.setEditText("400x300")
    wait()
    assert one.status.text() == ""
    assert not one.view.picture.isNull()


def test_several_shots_are_laid_over_each_other_and_do_not_move(page, wait, book):
    page.take(Matter(tuple(sorted(book.shots())), book))
    wait()
    wait()
    assert subjects(page) == ["All shots laid over each other", "Their plateaus"]
    assert [page.kind.itemData(index) for index in range(page.kind.count())] == ["png", "svg"]
    assert not page.view.picture.isNull()


def test_the_charts_of_a_study_can_be_pictures(page, wait, book):
    shots = chosen(gather(book).used, Selection())
    study = steadiness(shots)
    page.take(Matter((book.root,), book, Selection(), Asked.STEADINESS, Wanted(), study))
    wait()
    wait()
    titles = [chart.title for chart in study.charts(TempUnit.DEGC)]
    assert subjects(page)[: len(titles)] == titles
    assert page.heading.text() == titles[0]
    assert not page.view.picture.isNull()


def test_a_film_as_pictures(one, choose, wait, out):
    choose(one.kind, "sequence")
    assert not one.view.picture.isNull()
    one.size_choice.setEditText("320x180")
    one.rate.show_value(1.0)
    wait()
    one.place.name.setText("frames")
    one.save()
    wait()
    assert one.status.text().startswith("Written")
    frames = sorted((out / "frames").glob("*.png"))
    assert len(frames) > 20
    with Image.open(frames[0]) as picture:
        assert picture.size == (320, 180)


def test_a_film_under_way_can_be_stopped(one, choose, wait, out):
    choose(one.kind, "sequence")
    one.place.name.setText("frames")
    one.save()
    one.cancel_button.click()
    wait()
    assert one.status.text().startswith("Stopped")
    assert not (out / "frames").exists()


def test_without_the_encoder_it_is_said_how_to_get_it(one, choose, monkeypatch):
    monkeypatch.setattr(module, "film_library_there", lambda: False)
    choose(one.kind, Kind.MP4.value)
    assert "pip install" in one.extra.text()
    assert not one.save_button.isEnabled()
    choose(one.kind, Kind.SEQUENCE.value)
    assert one.extra.text() == ""
    assert one.save_button.isEnabled()


def test_esc_goes_back(qtbot, page):
    with qtbot.waitSignal(page.left):
        qtbot.keyClick(page, Qt.Key.Key_Escape)
