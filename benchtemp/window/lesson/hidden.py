"""What may be seen of a sitting while its results are hidden. Pure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from benchtemp.shots.stages import Stage

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot

HIDDEN = "hidden"
HIDDEN_SENTENCE = "The results are hidden. H shows them."


def without_results(snapshot: Snapshot) -> Snapshot:
    """Return a snapshot without what was read out of the trace: shots, plateau, brew temperature.

    Temperatures and the operator's marks stay; a pump on that nobody marked was read out of the trace too.
    """
    bare = replace(
        snapshot,
        shots=(),
        plateau_start_s=None,
        running_brew_degc=None,
        running_expanded_k=None,
        stage=Stage.RISING if snapshot.stage is Stage.PLATEAU else snapshot.stage,
    )
    return bare if snapshot.pump_marked else replace(bare, pump_on_s=None, pump_off_s=None, rise_s=None)
