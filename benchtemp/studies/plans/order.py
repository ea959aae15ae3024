"""In which order the shots of a plan are pulled, so that a drift does not pass for an effect."""

from __future__ import annotations

import random
from enum import StrEnum


class Order(StrEnum):
    """How the settings of a plan follow each other."""

    AS_WRITTEN = "as written"
    RANDOM = "random"
    """Shuffled anew within each repeat."""
    BALANCED = "balanced"
    """Shuffled once; every other repeat runs backwards, so that a steady drift cancels."""


def shuffled(count: int, generator: random.Random) -> list[int]:
    """Return 0 to count - 1 in random order.

    Written out, as only the generator's own numbers are promised to stay the same in later Pythons.
    """
    places = list(range(count))
    for last in range(count - 1, 0, -1):
        other = int(generator.random() * (last + 1))
        places[last], places[other] = places[other], places[last]
    return places


def sequence(settings: int, repeats: int, order: Order, seed: int) -> list[tuple[int, int]]:
    """Return (repeat, setting), both from 0, in the order in which they are pulled.

    Args:
        settings: How many different settings.
        repeats: How often each.
        order: How they follow each other.
        seed: Gives the same order again.
    """
    generator = random.Random(f"order {seed}")  # noqa: S311  no secret depends on it
    found: list[tuple[int, int]] = []
    base = shuffled(settings, generator) if order is Order.BALANCED else list(range(settings))
    for repeat in range(repeats):
        places = base
        if order is Order.RANDOM:
            places = shuffled(settings, generator)
        elif order is Order.BALANCED and repeat % 2:
            places = base[::-1]
        found.extend((repeat, place) for place in places)
    return found


def order_sentence(settings: int, repeats: int, order: Order, seed: int) -> str:
    """Return what the order does against a drift, in a sentence."""
    if settings < 2:
        return "All shots are pulled at the same settings, so their order does not matter; a drift will show."
    if order is Order.RANDOM:
        within = "within each repeat" if repeats > 1 else "once"
        return f"Shuffled {within} (seed {seed}), so that a drift cannot pass for an effect of the settings."
    if order is Order.BALANCED:
        if repeats < 2:
            return (
                f"Shuffled once (seed {seed}); a second repeat, run backwards, would cancel a steady drift."
            )
        odd = "; with an even number of repeats it cancels fully" if repeats % 2 else ""
        return f"Every other repeat runs backwards (seed {seed}), so that a steady drift cancels{odd}."
    return "Pulled as written: a drift, such as warming up, would look like an effect of the settings."
