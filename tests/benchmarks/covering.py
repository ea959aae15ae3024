"""How often intervals hold a known truth: simulations counted, one row an interval."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

Row = dict[str, bool]
"""By interval, whether it held the truth of one simulated machine."""
Simulate = Callable[[np.random.Generator], Row]


@dataclass(frozen=True, slots=True)
class Asked:
    """What a run is asked for."""

    machines: int
    seed: int
    only: str


@dataclass(frozen=True, slots=True)
class Covered:
    """One interval of a study: how many of them held the truth, and what one machine took."""

    study: str
    interval: str
    held: int
    count: int
    each_s: float


def asked_for(doc: str, machines: int) -> Asked:
    """Return what the command line asks for.

    Args:
        doc: Of the benchmark; its first line is the help.
        machines: How many of them where nothing else is said.
    """
    parser = argparse.ArgumentParser(description=doc.splitlines()[0])
    parser.add_argument("--machines", type=int, default=machines, help="machines per study")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="only this study")
    return Asked(**vars(parser.parse_args()))


def covered(simulations: Mapping[str, Simulate], asked: Asked) -> Iterator[Covered]:
    """Give each interval of each study as soon as its machines are done."""
    for study, simulate in simulations.items():
        if asked.only and asked.only != study:
            continue
        rng = np.random.default_rng([asked.seed, len(study)])
        hits: dict[str, list[bool]] = {}
        began = time.perf_counter()
        for _ in range(asked.machines):
            for interval, held in simulate(rng).items():
                hits.setdefault(interval, []).append(bool(held))
        each_s = (time.perf_counter() - began) / asked.machines
        for interval, held in hits.items():
            yield Covered(study, interval, sum(held), len(held), each_s)
