"""How probes are doing in a bath: each of them, and the bath as a whole."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from math import isfinite, nan
from typing import NamedTuple

import numpy as np

from benchtemp.probes.settle import (
    BathState,
    BathStatus,
    NotSettled,
    Pick,
    SettleRule,
    SettleWatch,
    settled_level,
)


class InBath(NamedTuple):
    """How one probe is doing in the bath.

    Attributes:
        name: The probe.
        temp_degc: Its last reading as reported, NaN where it gave none.
        status: State, slope, and the settled level that counts so far.
        error_k: Level minus reference, K; None before a level or without a reference.
        complaint: Why its level cannot be used, or that it is open; empty where all is well.
    """

    name: str
    temp_degc: float
    status: BathStatus
    error_k: float | None
    complaint: str


class Progress(NamedTuple):
    """How a bath is doing.

    Attributes:
        elapsed_s: Since its first reading.
        probes: In the order they were named.
        ready: Every probe has settled for long enough: its points can be taken.
        trouble: A sentence about what keeps it from going on; empty where all is well.
        lost: Waiting on is of no use unless somebody does something about the trouble.
        text: What is being waited for, in a few words.
    """

    elapsed_s: float
    probes: tuple[InBath, ...]
    ready: bool
    trouble: str
    lost: bool
    text: str


class Watched:
    """One probe in the present bath."""

    def __init__(self, name: str, rule: SettleRule, pick: Pick) -> None:
        self.name = name
        self.watch = SettleWatch(rule, pick)
        self.times = array("d")
        self.temps = array("d")
        self.open_since_s: float | None = None

    def step(self, t_s: float, temp_degc: float) -> None:
        """Take in a reading as reported, NaN where there was none."""
        self.times.append(t_s)
        self.temps.append(temp_degc)
        if self.watch.step(t_s, temp_degc) is not BathState.OPEN:
            self.open_since_s = None
        elif self.open_since_s is None:
            self.open_since_s = t_s

    @property
    def last_degc(self) -> float:
        """Return the last reading, NaN for none."""
        return self.temps[-1] if self.temps else nan

    def open_for_s(self) -> float:
        """Return for how long the probe has given nothing."""
        return 0.0 if self.open_since_s is None else self.times[-1] - self.open_since_s

    def why_not(self, rule: SettleRule, pick: Pick) -> str:
        """Return why the trace so far has no level."""
        try:
            settled_level(np.array(self.times), np.array(self.temps), rule=rule, pick=pick)
        except NotSettled as error:
            return str(error)
        return "The bath has only just settled; give it a little longer."


def open_text(name: str) -> str:
    """Return the sentence about a probe that gives nothing."""
    return f"{name} gives no temperature: the probe is open; check its plug and its wires."


def waiting_for(probes: Sequence[InBath], *, held: bool) -> str:
    """Return in a few words what a bath is waiting for; `held` once every probe has settled."""
    if held:
        return "settled"
    states = [probe.status.state for probe in probes]
    for state, text in (
        (BathState.OPEN, "no temperature"),
        (BathState.CLIMBING, "climbing"),
        (BathState.FALLING, "falling"),
        (BathState.RESTLESS, "restless"),
    ):
        if state in states:
            worst = probes[states.index(state)]
            rate = worst.status.rate_k_per_min
            moving = state in {BathState.CLIMBING, BathState.FALLING} and isfinite(rate)
            return f"{text} by {abs(rate):.1f} °C a minute" if moving else text
    return "waiting for readings" if BathState.FILLING in states else "keeps still, waiting to be sure"
