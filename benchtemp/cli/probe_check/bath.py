"""A bath from a terminal: cautions, the live line, what came of it."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.keys import keyboard_there, single_keys
from benchtemp.cli.probe_check.keeping import keep_checks, known_probe, last_check, refuse_a_closed_logbook
from benchtemp.cli.probe_check.reading import Bathing, Look, Looked, reading_words
from benchtemp.errors import BadInput
from benchtemp.probes.bath_progress import InBath, Progress
from benchtemp.probes.checking import CheckRule, ProbeCheck
from benchtemp.probes.guide import guide
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.reports.check import check_json, check_lines, comparison_json, comparison_lines
from benchtemp.units import TempUnit, temp_text

if TYPE_CHECKING:
    from benchtemp.cli.probe_check.wishes import Wishes
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.check import Check
    from benchtemp.probes.reference import Reference

_LONGEST_S = 1800.0


def run_bath(book: Logbook, wishes: Wishes) -> int:
    """Check probes in one bath and keep what came of it if the user says yes.

    Raises:
        BenchtempError: The bath cannot be what it should be, never settles, or cannot be read or kept.
    """
    reference, altitude_m = wishes.reference()
    check = ProbeCheck(
        {int(channel[1:]) - 1: name for channel, name in wishes.channels.items()},
        limit_k=wishes.limit_k,
        rule=CheckRule(longest_s=wishes.longest_s or _LONGEST_S),
    )
    known = {name: known_probe(book, name) for name in wishes.names.values()}
    if known:
        refuse_a_closed_logbook(book)
    if wishes.add_point:
        for name, probe in known.items():
            check.join(name, last_check(name, probe))
    source = wishes.source()
    check.begin_bath(reference, altitude_m=altitude_m)
    bathing = Bathing(source)
    with single_keys():
        _introduce(reference)
        came_to_an_end = bathing.run(check.step, _look(check, wishes))
    if not came_to_an_end:
        raise click.Abort
    check.finish_bath()
    if reference is None:
        return _only_compared(check, wishes)

    found = check.checks(checked=moment_now(), operator=wishes.operator, note=wishes.note)
    told = _Told(check, found, _remarks(check, known, wishes), reference)
    if not wishes.as_json:
        told.as_text(wishes.unit)
    saved = keep_checks(book, found, bathing.stream(), wishes)
    if wishes.as_json:
        told.as_json(wishes.channels, saved)
    return 0


def _introduce(reference: Reference | None) -> None:
    """Say what to mind, how to go about it and what the bath should be, in this order."""
    told = guide(None if reference is None else reference.kind)
    lines = ["Mind:", *(f"  {line}" for line in told.cautions)]
    lines += ["How to go about it:", *(f"  {line}" for line in told.steps)]
    if reference is not None:
        expanded = reference.expanded_k()
        lines.append(f"Reference: {reference.kind} at {reference.temp_degc:.2f} ± {expanded:.2f} °C")
        lines += [f"  {note}" for note in reference.notes]
    lines.append(reading_words())
    click.echo("\n".join(lines), err=True)


def _remarks(check: ProbeCheck, known: dict[str, Any], wishes: Wishes) -> dict[str, tuple[str, ...]]:
    remarks = {}
    for name in check.names:
        probe = known.get(name)
        their_class = ToleranceClass.IEC_2 if probe is None else probe.tolerance_class
        remarks[name] = check.remarks(name, wishes.their_class or their_class)
    return remarks


def _look(check: ProbeCheck, wishes: Wishes) -> Look:
    """Return what looks at a check's progress: how it stands, and whether it is over."""
    someone = keyboard_there()

    def look() -> Looked:
        progress = check.progress()
        if progress.ready:
            return Looked(over=True)
        in_time = progress.elapsed_s <= (wishes.longest_s or _LONGEST_S)
        if progress.lost and not (someone and in_time and _may_come_right(progress)):
            raise BadInput(progress.trouble)
        return Looked(progress.text.partition(" ")[0], _status(progress, wishes.unit), progress.trouble)

    return look


def _may_come_right(progress: Progress) -> bool:
    """Tell whether somebody at the stove can still put it right: the bath is not yet what it should be."""
    return any(probe.status.level is not None for probe in progress.probes)


def _status(progress: Progress, unit: TempUnit) -> str:
    temps = [
        f"{probe.name} {temp_text(probe.temp_degc, unit, 2)}{_level(probe, unit)}"
        for probe in progress.probes
    ]
    return "  ".join((progress.text, *temps))


def _level(probe: InBath, unit: TempUnit) -> str:
    level = probe.status.level
    return "" if level is None else f" (level {temp_text(level.mean.value, unit, 2)})"


def _only_compared(check: ProbeCheck, wishes: Wishes) -> int:
    comparison = check.comparisons[0]
    if wishes.as_json:
        click.echo(
            json.dumps({"comparison": comparison_json(comparison), "saved": False}, ensure_ascii=False)
        )
        return 0
    click.echo("\n".join(comparison_lines(comparison, wishes.unit)))
    click.echo("Without a known temperature there is nothing to save.", err=True)
    return 0


class _Told:
    """What came of a bath, for stdout."""

    def __init__(
        self,
        check: ProbeCheck,
        found: dict[str, Check],
        remarks: dict[str, tuple[str, ...]],
        reference: Reference,
    ) -> None:
        self._check = check
        self._found = found
        self._remarks = remarks
        self._reference = reference

    def as_text(self, unit: TempUnit) -> None:
        lines: list[str] = []
        for name, one in self._found.items():
            lines += check_lines(name, one, unit)
            lines += [f"  {remark}" for remark in self._remarks[name]]
        for comparison in self._check.comparisons:
            lines += ["", *comparison_lines(comparison, unit)]
        click.echo("\n".join(lines))

    def as_json(self, channels: dict[str, str], saved: dict[str, Path]) -> None:
        by_name = {name: channel for channel, name in channels.items()}
        comparisons = self._check.comparisons
        whole = {
            "reference": self._reference.to_dict(),
            "probes": [
                {
                    **check_json(name, by_name[name], one, self._remarks[name]),
                    "saved": name in saved,
                    "file": str(saved[name]) if name in saved else None,
                }
                for name, one in self._found.items()
            ],
            "comparison": comparison_json(comparisons[0]) if comparisons else None,
        }
        click.echo(json.dumps(whole, ensure_ascii=False, allow_nan=False))


def moment_now() -> str:
    """Return the time of day as checks keep it."""
    return dt.datetime.now().astimezone().isoformat(timespec="milliseconds")
