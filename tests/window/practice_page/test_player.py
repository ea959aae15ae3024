import pytest

from benchtemp.window.practice_page.player import Player


@pytest.fixture
def clock():
    return [10.0]


@pytest.fixture
def player(clock):
    return Player(20.0, clock=lambda: clock[0])


def test_it_stands_still_until_it_plays(player, clock):
    clock[0] += 5.0
    assert player.position_s == 0.0
    player.play()
    clock[0] += 5.0
    assert player.position_s == pytest.approx(5.0)
    player.pause()
    clock[0] += 5.0
    assert player.position_s == pytest.approx(5.0)


def test_it_ends_at_the_end_and_begins_again_from_there(player, clock):
    player.play()
    clock[0] += 50.0
    assert player.position_s == 20.0
    assert player.over
    assert not player.playing
    player.toggle()
    assert player.position_s == 0.0
    assert player.playing


def test_another_speed_counts_from_where_it_is(player, clock):
    player.play()
    clock[0] += 4.0
    player.set_speed(2.0)
    clock[0] += 3.0
    assert player.position_s == pytest.approx(10.0)


def test_it_goes_to_a_moment_and_keeps_playing_or_not(player, clock):
    player.seek(7.0)
    clock[0] += 1.0
    assert player.position_s == 7.0
    player.play()
    player.seek(99.0)
    assert player.position_s == 20.0
    player.seek(-1.0)
    assert player.position_s == 0.0


def test_another_shot_stands_at_its_beginning(player, clock):
    player.play()
    clock[0] += 4.0
    player.load(12.0)
    clock[0] += 4.0
    assert player.position_s == 0.0
    assert player.length_s == 12.0
