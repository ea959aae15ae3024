"""A whole report from what was tested and what studies say of it."""

from __future__ import annotations

import datetime as dt
import hashlib
import platform
from collections.abc import Sequence
from importlib import metadata

from benchtemp import __version__
from benchtemp.reports.content import Report
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.cautions_section import cautions_section
from benchtemp.reports.sections.method_section import method_section
from benchtemp.reports.sections.phrases import days, machines, zone
from benchtemp.reports.sections.reproduction_section import reproduction_section
from benchtemp.reports.sections.shots_section import shots_section
from benchtemp.reports.sections.study_section import study_section
from benchtemp.reports.sections.tested_section import tested_section
from benchtemp.reports.sections.uncertainty_section import uncertainty_section
from benchtemp.reports.sections.verdicts import plain_answers, study_answers
from benchtemp.reports.tested import Tested
from benchtemp.studies.outcome import Study, plural
from benchtemp.units import TempUnit

TITLE_LONGEST = 120
NOTES_LONGEST = 4000


def make_report(
    tested: Tested,
    *,
    studies: Sequence[Study] = (),
    title: str = "",
    tester: str = "",
    customer: str = "",
    notes: str = "",
    unit: TempUnit = TempUnit.DEGC,
    commands: Sequence[str] = (),
    made: str | None = None,
    program: str | None = None,
) -> Report:
    """Return a report: verdict first, then what was tested, all shots, how, how sure, cautions, files.

    Args:
        tested: The shots and files it is about.
        studies: What it shall answer; what the shots say by themselves without any.
        title: Above it; made from the machines where empty.
        tester: Who tested.
        customer: For whom.
        notes: What else is to be said; lines become paragraphs.
        unit: Of all temperatures in it.
        commands: Command lines that give the same again.
        made: When it was made, as it is to be read; now where None.
        program: Name and version of the program; this one's where None.
    """
    about = machines(tested.machines) or "an espresso machine"
    when = days(tested.shots)
    byline = [f"{plural(len(tested.shots), 'shot')} on {about}" + (f", pulled {when}" if when else "")]
    people = [(tester, "tested by"), (customer, "for")]
    told = ", ".join(f"{what} {printable(name, TITLE_LONGEST)}" for name, what in people if name)
    made = made if made is not None else _now()
    number = _number(tested, made)
    byline += [told] if told else []
    byline.append(f"Report {number}" + (f", made {made}" if made else ""))
    uncertainty = uncertainty_section(tested, unit)
    named = program or program_text()
    return Report(
        title=printable(title, TITLE_LONGEST) or f"Brew temperature of {about}",
        byline=tuple(byline),
        answers=study_answers(studies, unit) if studies else plain_answers(tested, unit),
        sections=(
            tested_section(tested, tester=tester, customer=customer, notes=notes[:NOTES_LONGEST], unit=unit),
            *(study_section(study, unit) for study in studies),
            shots_section(tested, unit),
            method_section(tested, unit),
            *((uncertainty,) if uncertainty else ()),
            cautions_section(tested, unit),
            reproduction_section(tested, program=named, commands=commands),
        ),
        unit=unit,
        made=made,
        program=f"benchtemp {__version__}",
        number=number,
    )


def _now() -> str:
    now = dt.datetime.now().astimezone()
    return f"{now:%Y-%m-%d %H:%M} {zone(now.isoformat())}"


def _number(tested: Tested, made: str) -> str:
    """Return a number for a report: the day, and a digest of when it was made and of all its files."""
    digest = hashlib.sha256(made.encode())
    for file in tested.files:
        digest.update(file.sha256.encode())
    day = made[:10] if made[:4].isdigit() else ""
    return "-".join(part for part in (day, digest.hexdigest()[:6]) if part)


def program_text() -> str:
    """Return what worked the figures out: this program, Python and the libraries under the arithmetic."""
    libraries = ", ".join(f"{name} {metadata.version(name)}" for name in ("numpy", "scipy"))
    return f"benchtemp {__version__} on Python {platform.python_version()} with {libraries}"
