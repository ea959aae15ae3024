import pytest

from benchtemp.studies.plans.order import Order, order_sentence, sequence


def test_as_written():
    assert sequence(3, 2, Order.AS_WRITTEN, 1) == [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)]


@pytest.mark.parametrize("order", [Order.RANDOM, Order.BALANCED])
@pytest.mark.parametrize("seed", [1, 2, 99])
def test_every_repeat_holds_every_setting_once(order, seed):
    found = sequence(5, 4, order, seed)
    for repeat in range(4):
        assert sorted(place for other, place in found if other == repeat) == [0, 1, 2, 3, 4]
    assert [repeat for repeat, _ in found] == sorted(repeat for repeat, _ in found)
    assert found == sequence(5, 4, order, seed)


def test_an_order_stays_the_same_for_ever():
    # What is stored is the seed: these places must never change.
    assert [place for _, place in sequence(5, 2, Order.RANDOM, 1)] == [2, 1, 4, 0, 3, 1, 2, 0, 3, 4]
    assert [place for _, place in sequence(4, 2, Order.BALANCED, 5)] == [0, 1, 3, 2, 2, 3, 1, 0]


def test_balanced_cancels_a_steady_drift():
    found = sequence(4, 2, Order.BALANCED, 7)
    middles = [
        sum(position for position, (_, place) in enumerate(found) if place == setting) for setting in range(4)
    ]
    assert len(set(middles)) == 1


def test_seeds_give_different_orders():
    assert len({tuple(sequence(6, 1, Order.RANDOM, seed)) for seed in range(20)}) > 15


def test_the_sentence_says_what_protects_from_drift():
    assert "seed 3" in order_sentence(4, 3, Order.RANDOM, 3)
    assert "backwards" in order_sentence(4, 2, Order.BALANCED, 3)
    assert "would look like an effect" in order_sentence(4, 2, Order.AS_WRITTEN, 3)
    assert "does not matter" in order_sentence(1, 10, Order.RANDOM, 3)
