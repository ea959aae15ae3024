"""Exercises, markings and cases as lines for a terminal, and as plain objects for --json."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from benchtemp.cli.listing import one_line
from benchtemp.units import TempUnit, delta_to, temp_text

if TYPE_CHECKING:
    from benchtemp.teaching.cases.case import Brief
    from benchtemp.teaching.cases.diagnosis import CaseMarking
    from benchtemp.teaching.cases.evidence import Evidence
    from benchtemp.teaching.exercise import Exercise, Item
    from benchtemp.teaching.marking import Marking

WIDTH = 100
_BARS = 40


def exercise_lines(exercise: Exercise, number: int | None, unit: TempUnit, *, answers: bool) -> list[str]:
    """Return an exercise, or one shot of it, as lines."""
    by = f" by {one_line(exercise.teacher)}" if exercise.teacher else ""
    lines = [f"{one_line(exercise.title)}{by}"]
    for words in exercise.words.splitlines():
        lines += textwrap.wrap(one_line(words), WIDTH)
    for place, item in enumerate(exercise.items, start=1):
        if number in (None, place):
            lines.append(f"  {place:2d}  {one_line(item.title)}  {item.length_s:.1f} s  {_told(item)}")
            if answers:
                lines.append(f"      {reference_line(item, unit)}")
    return lines


def _told(item: Item) -> str:
    told = [
        f"{name} {grams:.1f} g"
        for name, grams in (("dose", item.dose_g), ("yield", item.yield_g))
        if grams is not None
    ]
    return ", ".join(told)


def reference_line(item: Item, unit: TempUnit) -> str:
    """Return a reference in one line."""
    reference = item.reference
    told = [f"pump on {reference.pump_on_s:.1f} s"]
    if reference.plateau_start_s is None or reference.plateau_end_s is None:
        told.append("no plateau")
    else:
        told.append(f"plateau {reference.plateau_start_s:.1f} to {reference.plateau_end_s:.1f} s")
        within = delta_to(2.0 * reference.brew_temp_uncertainty_k, unit)
        told.append(f"brew {temp_text(reference.brew_temp_degc, unit, 2)} ± {within:.2f}")
    told.append("counts" if reference.counts else "does not count: " + "; ".join(reference.reasons))
    return f"{', '.join(told)} ({reference.basis})"


def trace_lines(item: Item, every_s: float, unit: TempUnit) -> list[str]:
    """Return a shot's trace as lines with bars, and the teacher's notes where they come."""
    t_s, temp_degc = item.trace
    known = temp_degc[np.isfinite(temp_degc)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    lines, notes = [], list(item.notes)
    for at_s in np.arange(0.0, item.length_s + 1e-9, every_s):
        row = min(int(np.searchsorted(t_s, at_s - 1e-6)), len(t_s) - 1)
        while notes and notes[0].t_s <= at_s:
            lines.append(f"{'':>8}  — {one_line(notes.pop(0).text)}")
        share = (float(temp_degc[row]) - low) / max(high - low, 1e-9)
        bar = "#" * (round(_BARS * share) if np.isfinite(share) else 0)
        lines.append(f"{t_s[row]:6.1f} s  {temp_text(float(temp_degc[row]), unit, 2):>10}  {bar}".rstrip())
    lines += [f"{'':>8}  — {one_line(note.text)}" for note in notes]
    return lines


def exercise_json(exercise: Exercise, number: int | None, *, answers: bool) -> dict[str, Any]:
    """Return an exercise as a plain object; a single shot with its trace."""
    shots = []
    for place, item in enumerate(exercise.items, start=1):
        if number not in (None, place):
            continue
        told: dict[str, Any] = {
            "number": place,
            "title": item.title,
            "length_s": item.length_s,
            "dose_g": item.dose_g,
            "yield_g": item.yield_g,
            "shows_band": item.shows_band,
            "tolerance": msgspec.to_builtins(item.tolerance),
        }
        if number is not None:
            t_s, temp_degc = item.trace
            told["t_s"] = t_s.tolist()
            told["temp_degc"] = [temp if np.isfinite(temp) else None for temp in temp_degc.tolist()]
        if number is not None or answers:
            told["notes"] = msgspec.to_builtins(item.notes)
        if answers:
            told["reference"] = msgspec.to_builtins(item.reference)
        shots.append(told)
    return {
        "title": exercise.title,
        "teacher": exercise.teacher,
        "words": exercise.words,
        "digest": exercise.digest,
        "shots": shots,
    }


def marking_lines(marking: Marking) -> list[str]:
    """Return a marking as lines: points, and what to learn."""
    lines = [f"{marking.points:.0f} of 100 points"]
    for part in marking.parts:
        head = f"  {part.points:4.1f} of {part.points_max:.0f}  "
        lines += textwrap.wrap(
            one_line(part.sentence), WIDTH, initial_indent=head, subsequent_indent=" " * len(head)
        )
    return lines


def marking_json(marking: Marking) -> dict[str, Any]:
    """Return a marking as a plain object."""
    return {"points": round(marking.points, 1), **_plain(marking)}


def brief_lines(brief: Brief, unit: TempUnit) -> list[str]:
    """Return what a trainee is told of a case."""
    low_s, high_s = brief.shot_time_s
    recipe = f"{brief.dose_g:g} g to {brief.yield_g:g} g in {low_s:g} to {high_s:g} s"
    lines = [
        f"Case {brief.code}: {brief.machine}, {brief.build}",
        f"Its display says {temp_text(brief.display_degc, unit)}. Recipe: {recipe}.",
        "",
        *_paragraph(f"Its owner says: {brief.complaint}"),
    ]
    for heading, sentences in (
        ("A sound machine of this build", brief.sound),
        ("What you can do", brief.tests),
    ):
        lines += ["", heading]
        for sentence in sentences:
            lines += _paragraph(sentence, "  ")
    return lines


def evidence_lines(evidence: Evidence) -> list[str]:
    """Return what a trainee's tests show, without saying what follows from it."""
    shots = "1 shot" if evidence.shots == 1 else f"{evidence.shots} shots"
    checks = "1 check" if evidence.checks == 1 else f"{evidence.checks} checks"
    lines = [f"So far: {shots}, {checks} of the probe."]
    for finding in evidence.findings:
        lines += _paragraph(finding.sentence, "  ")
    return lines


def case_marking_lines(marking: CaseMarking) -> list[str]:
    """Return what became of a diagnosis as lines."""
    lines = [*_paragraph(marking.verdict), f"{marking.points:.0f} of 100 points", "", "What pointed to it"]
    for sentence in marking.pointers:
        lines += _paragraph(sentence, "  ")
    if marking.separating:
        lines += ["", "What would have told it from the others"]
        for sentence in marking.separating:
            lines += _paragraph(sentence, "  ")
    shots = "1 shot" if marking.shots == 1 else f"{marking.shots} shots"
    checks = "1 check" if marking.checks == 1 else f"{marking.checks} checks"
    return [*lines, "", f"Used: {shots}, {checks} of the probe."]


def _paragraph(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _plain(value: Any) -> dict[str, Any]:
    found = msgspec.to_builtins(value)
    assert isinstance(found, dict)
    return found
