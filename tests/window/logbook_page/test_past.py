"""What can be undone, step by step."""

from __future__ import annotations

import pytest

from benchtemp.errors import StorageError
from benchtemp.window.logbook_page.deeds import Deed
from benchtemp.window.logbook_page.past import Past


class Box:
    """Something that is put in and taken out, which can be refused or stopped half way."""

    def __init__(self):
        self.inside = []
        self.broken = False

    def put(self, things, _progress, cancelled):
        if self.broken:
            raise StorageError("The disk is full.")
        reached = things[: len(things) // 2] if cancelled() else things
        left = things[len(reached) :]
        self.inside += reached
        return self._deed(reached, left, self.take, self.put)

    def take(self, things, _progress, cancelled):
        if self.broken:
            raise StorageError("The disk is full.")
        reached = things[: len(things) // 2] if cancelled() else things
        left = things[len(reached) :]
        self.inside = [thing for thing in self.inside if thing not in reached]
        return self._deed(reached, left, self.put, self.take)

    def _deed(self, reached, left, opposite, same):
        return Deed(
            f"{len(reached)} moved.",
            words=f"moving {reached}",
            undo=(lambda *how: opposite(reached, *how)) if reached else None,
            rest=(lambda *how: same(left, *how)) if left else None,
        )


HOW = (lambda _done, _total: None, lambda: False)
STOPPED = (lambda _done, _total: None, lambda: True)


@pytest.fixture
def box():
    return Box()


@pytest.fixture
def past(box):
    made = Past(most=3)
    for thing in "abcd":
        made.do(lambda *how, thing=thing: box.put([thing], *how), *HOW)
    return made


def test_steps_are_undone_in_turn_and_only_so_many_are_remembered(past, box):
    words = []
    while past.undo_words:
        words.append(past.undo_words)
        past.undo(*HOW)
    assert words == ["moving ['d']", "moving ['c']", "moving ['b']"]
    assert box.inside == ["a"]
    assert past.undo(*HOW).said == "There is nothing to undo."


def test_what_was_undone_is_done_again_until_something_else_is_done(past, box):
    past.undo(*HOW)
    past.undo(*HOW)
    assert past.redo_words == "moving ['c']"
    past.redo(*HOW)
    assert box.inside == ["a", "b", "c"]
    past.do(lambda *how: box.put(["e"], *how), *HOW)
    assert past.redo_words == ""
    assert past.redo(*HOW).said == "There is nothing to do again."


def test_what_was_not_reached_can_still_be_undone(past, box):
    past.do(lambda *how: box.put(["x", "y"], *how), *HOW)
    past.undo(*STOPPED)
    assert box.inside[-1] == "y"
    assert past.undo_words == past.redo_words == "moving ['x', 'y']"
    past.undo(*HOW)
    assert box.inside == ["a", "b", "c", "d"]


def test_a_step_that_could_not_be_tried_is_not_lost(past, box):
    box.broken = True
    with pytest.raises(StorageError):
        past.undo(*HOW)
    box.broken = False
    past.undo(*HOW)
    assert box.inside == ["a", "b", "c"]


def test_nothing_done_is_nothing_to_undo(past):
    before = past.undo_words
    past.undo(*HOW)
    past.do(lambda *_how: Deed("", ("It was refused.",)), *HOW)
    assert past.redo_words == before
