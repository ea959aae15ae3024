"""What speaks against taking the figures at their word, and what to mind when measuring again."""

from __future__ import annotations

from benchtemp.reports.content import Bullets, Paragraph, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.tested import Tested
from benchtemp.shots.result import Origin
from benchtemp.studies.evidence.shot_set import ShotSet
from benchtemp.studies.outcome import plural
from benchtemp.studies.probe_concerns import proof_concerns
from benchtemp.units import TempUnit

GAP_WORTH_TELLING_S = 2.0
SAFETY = (
    (
        "Measuring at a brewing machine means boiling water, steam and hot metal: keep hands away from "
        "group and basket while it runs, and never loosen a portafilter under pressure."
    ),
    "Mains voltage stands near water: keep interface, cables and computer dry, and leave the machine closed.",
    (
        "A drilled or modified basket, and most glues, are not fit for food: shots pulled for measuring are "
        "not for drinking."
    ),
)


def cautions_section(tested: Tested, unit: TempUnit) -> Section:
    """Return cautions about these very figures, then those that always hold."""
    own = [printable(text, 600) for text in _own(tested, unit)]
    blocks: list[Bullets | Paragraph] = []
    if own:
        blocks += [Paragraph("About these figures:"), Bullets(tuple(own))]
    blocks += [Paragraph("When measuring again:"), Bullets(SAFETY)]
    return Section("Cautions", tuple(blocks))


def _own(tested: Tested, unit: TempUnit) -> list[str]:
    shots = tested.shots
    found: list[str] = []
    if tested.is_simulated:
        found.append("The readings were made by a virtual machine, not measured.")
    measured = tuple(one.record for one in shots if one.record.brew_temp_degc is not None)
    of_all = ShotSet(used=measured, check_days=tested.shot_set.check_days)
    found += [concern.said(unit) for concern in proof_concerns(of_all)]
    left = len(shots) - len(tested.used)
    if left:
        found.append(
            f"{plural(left, 'shot')} {'is' if left == 1 else 'are'} shown but left out of the verdict; "
            "the table says why."
        )
    estimated = [
        one
        for one in shots
        if Origin.ESTIMATED in {one.shot.result.pump_on_source, one.shot.result.pump_off_source}
    ]
    if estimated:
        found.append(
            f"In {plural(len(estimated), 'shot')} a pump time was not marked but estimated from the "
            "trace, which may be off by a second or so."
        )
    gaps = [one for one in shots if one.shot.result.longest_gap_s > GAP_WORTH_TELLING_S]
    if gaps:
        longest_s = max(one.shot.result.longest_gap_s for one in gaps)
        found.append(
            f"In {plural(len(gaps), 'shot')} readings were missing on the plateau, for up to "
            f"{longest_s:.1f} s."
        )
    found += [f"{file.name}: {file.remark}" for file in tested.files if file.remark]
    edited = [file for file in tested.files if file.edits]
    if edited:
        found.append(
            f"{plural(len(edited), 'file')} had tags, notes or the like changed after the shot; each "
            "keeps a history of that in its header. The readings cannot be changed that way."
        )
    machines = "the machine" if len(tested.machines) == 1 else "the machines"
    found.append(
        f"They hold for {machines} named above as set and placed then, and for these shots alone; another of "
        "the same make may differ."
    )
    return found + list(tested.complaints)
