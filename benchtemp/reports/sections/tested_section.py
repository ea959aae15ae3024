"""What was tested, by whom, when and under which conditions."""

from __future__ import annotations

from benchtemp.reports.content import Facts, Paragraph, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.phrases import counted, days, span_text, zone
from benchtemp.reports.tested import Tested
from benchtemp.studies.evidence.shot_record import Known
from benchtemp.studies.evidence.typed import (
    FLUSH_TAGS,
    IDLE_TAGS,
    OPERATOR_TAGS,
    PLAN_SHOT_TAG,
    PLAN_TAG,
    SETPOINT_TAGS,
    SINCE_ON_TAGS,
)
from benchtemp.studies.outcome import plural
from benchtemp.units import TempUnit, degc_to

NOTE_LONGEST = 1000
"""Characters of one paragraph."""

TOLD_ELSEWHERE = {
    "machine",
    "probe",
    PLAN_TAG,
    PLAN_SHOT_TAG,
    *SETPOINT_TAGS,
    *IDLE_TAGS,
    *FLUSH_TAGS,
    *SINCE_ON_TAGS,
    *OPERATOR_TAGS,
}


def tested_section(tested: Tested, *, tester: str, customer: str, notes: str, unit: TempUnit) -> Section:
    """Return machine, shots, time, people and conditions."""
    shots = tested.shots
    left = len(shots) - len(tested.used)
    told = plural(len(shots), "shot")
    if left:
        told += f", of which {left} {'does' if left == 1 else 'do'} not count"
    if tested.flushes:
        flushes = "1 flush" if tested.flushes == 1 else f"{tested.flushes} flushes"
        told += f"; besides, {flushes}, not listed"
    rows = [
        ("Customer", printable(customer, 120)),
        ("Machine", counted(one.record.machine or "not named" for one in shots)),
        ("Shots", told),
        ("Pulled", _pulled(tested)),
        ("Tested by", printable(tester, 120) or counted(one.record.operator for one in shots)),
    ]
    if tester:
        rows.append(("Pulled by", counted(one.record.operator for one in shots)))
    rows += _conditions(tested, unit)
    names: dict[str, str] = {}
    for one in shots:
        names |= {name.casefold(): name for name in one.record.tags}
    for key, name in names.items():
        if key not in TOLD_ELSEWHERE:
            shown = printable(name, 60)
            rows.append((shown[:1].upper() + shown[1:], counted(one.record.label(name) for one in shots)))
    blocks: list[Facts | Paragraph] = []
    if tested.is_simulated:
        blocks.append(
            Paragraph(
                "These readings come from a virtual machine: they show how the measurement works and "
                "say nothing of a real machine."
            )
        )
    blocks.append(Facts(tuple((name, value) for name, value in rows if value)))
    blocks += [Paragraph(printable(line, NOTE_LONGEST)) for line in notes.splitlines() if line.strip()]
    return Section("What was tested", tuple(blocks))


def _pulled(tested: Tested) -> str:
    """Return when shots were pulled, with the difference to UTC where it is the same for all."""
    zones = {zone(one.record.pulled) for one in tested.shots}
    when = days(tested.shots)
    if not when:
        return "not known"
    return f"{when} ({zones.pop()})" if len(zones) == 1 and "" not in zones else when


def _conditions(tested: Tested, unit: TempUnit) -> list[tuple[str, str]]:
    records = [one.record for one in tested.shots]

    def known(values: list[float | None]) -> list[float]:
        return [value for value in values if value is not None]

    setpoints = [degc_to(value, unit) for value in known([record.setpoint_degc for record in records])]
    # From one sitting to the next is no interval that anybody kept.
    measured = known([one.interval_min.value for one in records if one.interval_min.known is Known.MEASURED])
    return [
        ("Setpoint", span_text(setpoints, 1, unit.symbol)),
        ("Time between pump starts", span_text(measured, 1, "min")),
        ("Idle before the shot", span_text(known([one.idle_min.value for one in records]), 1, "min")),
        ("Flush before the shot", _flushes(known([one.flush_s.value for one in records]))),
        ("Since switch-on", span_text(known([one.since_on_min.value for one in records]), 0, "min")),
        ("Dose", span_text(known([one.shot.dose_g for one in tested.shots]), 1, "g")),
        ("Yield", span_text(known([one.shot.yield_g for one in tested.shots]), 1, "g")),
    ]


def _flushes(seconds: list[float]) -> str:
    return "none" if seconds and not any(seconds) else span_text(seconds, 1, "s")
