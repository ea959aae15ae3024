from __future__ import annotations

from benchtemp.window.key_list import by_topic
from benchtemp.window.keys import KEYS, MORE_KEYS
from benchtemp.window.practice_page.keys import PRACTICE_KEYS
from benchtemp.window.sources.replay_bar import key_help


def test_every_key_stands_once_under_a_heading():
    topics = dict(by_topic(pages=6))
    listed = [shown for keys in topics.values() for shown, _ in keys]
    every = [key.shown for key in KEYS] + [shown for shown, _ in (*MORE_KEYS, *key_help(), *PRACTICE_KEYS)]
    assert sorted(listed) == sorted(every)


def test_the_pump_comes_first_and_a_heading_is_not_said_again():
    topics = by_topic(pages=6)
    assert topics[0][1][0][0] == "Space"
    plot = dict(topics)["Plot"]
    assert ("F", "Back to the live trace.") in plot
    assert not any(meaning.startswith("Plot") for _, meaning in plot)


def test_pages_that_are_not_there_have_no_key():
    shown = [shown for _, keys in by_topic(pages=4) for shown, _ in keys]
    assert "Ctrl+4" in shown
    assert "Ctrl+5" not in shown
