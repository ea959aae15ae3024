"""The one sentence that says what to do next, made from where the bench stands. Knows no widgets."""

from __future__ import annotations

from benchtemp.bench.snapshot import Snapshot
from benchtemp.readings.reading import NoticeKind
from benchtemp.shots.plateau import COLDEST_SHOT_DEGC
from benchtemp.shots.stages import Stage

WARMS_AFTER_S = 12.0
"""Water has brought a probe near brewing temperature by then (common practice)."""

CAUTIONS = (
    "Hot water, steam and hot metal scald: keep hands and cables clear of the group and the steam wand.",
    "Mains power is near water here: keep the interface and its cables dry and away from the drip tray.",
    "Test shots are not for drinking: a probe, a drilled basket and glue in it are not food-safe.",
)
"""Shown when a sitting on a real machine begins, and always in the key list."""


def guidance(snapshot: Snapshot | None, *, virtual: bool = False, replay: bool = False) -> str:
    """Return what to do next; empty when there is nothing to say.

    Args:
        snapshot: None when no source is open or none has answered yet.
        virtual: The pump belongs to a virtual machine: Space starts it.
        replay: Nothing can be done but watch.
    """
    if snapshot is None:
        return "The source is being opened."
    if replay:
        return "A replay: marks come from the recording, nothing is written."
    if snapshot.last_s is None:
        return "The source is open; waiting for its first reading."
    if snapshot.status is NoticeKind.LOST:
        return "The shot goes on without readings; they return by themselves when the interface does."
    recipe = snapshot.recipe
    window = f"{recipe.time_low_s:g}–{recipe.time_high_s:g} s"
    if snapshot.stage is Stage.RISING:
        if virtual and not snapshot.pump_marked:
            return "The fresh basket warms up in the group. Press Space to start the virtual machine's pump."
        if only_warms(snapshot):
            return "The probe is warming up. Press Space the moment the pump starts."
        if not snapshot.pump_marked:
            return (
                "The temperature climbs. If the pump runs, press Space now; the mark counts from this moment."
            )
        return f"The water reaches the probe. Press Space when you stop the pump, at {window}."
    if snapshot.stage is Stage.PLATEAU:
        if not snapshot.pump_marked:
            return "On the plateau. The end is found by itself, or press Space to mark pump on from now."
        pump_s = snapshot.now_s - (snapshot.pump_on_s or snapshot.now_s)
        if pump_s < recipe.time_low_s:
            return f"On the plateau. Press Space to stop the pump between {window}."
        if pump_s <= recipe.time_high_s:
            return _stop_now(snapshot)
        return f"Past the recipe's window of {window}. Press Space to stop the pump."
    last = snapshot.shots[-1] if snapshot.shots else None
    if last is not None and not last.is_flush and last.yield_g is None:
        return f"Shot {last.number} is kept. Enter its yield beside the plot; Space starts the next shot."
    if last is not None:
        name = "The flush" if last.is_flush else f"Shot {last.number}"
        return f"{name} is kept. Press Space when the pump starts for the next one."
    if virtual:
        return f"Press Space to start the virtual machine's pump, and again to stop it, {window} later."
    return "Press Space the moment the pump starts, and again when it stops."


def only_warms(snapshot: Snapshot) -> bool:
    """Tell whether a climb nobody marked is too slow for water: a cold probe in a hot basket, say."""
    if snapshot.stage is not Stage.RISING or snapshot.pump_marked or snapshot.pump_on_s is None:
        return False
    known = snapshot.basket < len(snapshot.temps_degc)
    slow = snapshot.now_s - snapshot.pump_on_s > WARMS_AFTER_S
    return slow and known and snapshot.temps_degc[snapshot.basket] < COLDEST_SHOT_DEGC


def _stop_now(snapshot: Snapshot) -> str:
    target_g = snapshot.recipe.target_yield_g
    if target_g is None:
        return "In the recipe's time window. Press Space to stop the pump."
    return f"In the recipe's time window. Press Space to stop the pump at {target_g:g} g."
