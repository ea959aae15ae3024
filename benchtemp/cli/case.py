"""`benchtemp case`: find out what is wrong with a virtual machine."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.teaching.cases.case import Case

_code = click.argument("code", type=click.IntRange(1, 999_999))
_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")


def _place(code: int, logbook: Path | None) -> tuple[Case, Path]:
    from benchtemp.teaching.cases.case import Case
    from benchtemp.teaching.cases.case_folder import case_folder

    found = Case(code)
    return found, case_folder(open_logbook(logbook), found)


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


@click.group()
def case() -> None:
    """Find out what is wrong with a virtual machine, if anything is: a case, by its number.

    Pull shots, check the probe, look at the evidence, name the fault. Any number from 1 to 999999 is a case.

    \b
    Examples:
      benchtemp case brief 4711
      benchtemp case pull 4711 --shots 6
      benchtemp case boil 4711
      benchtemp case name 4711 offset --size -1.2
    """


@case.command()
@_code
@_json
@unit_option
def brief(code: int, *, as_json: bool, unit: TempUnit) -> None:
    """Tell what the owner says, what a sound machine does, and what can be done.

    \b
    Example:
      benchtemp case brief 4711
    """
    import msgspec

    from benchtemp.cli.teaching_text import brief_lines
    from benchtemp.teaching.cases.case import Case
    from benchtemp.teaching.cases.fault import FAULT_TEXTS

    found = Case(code).brief
    if as_json:
        faults = {str(fault): text for fault, text in FAULT_TEXTS.items()}
        plain = {**msgspec.to_builtins(found), "faults": faults}
        click.echo(json.dumps(plain, ensure_ascii=False))
        return
    lines = [*brief_lines(found, unit), "", "What it may be"]
    lines += [f"  {fault!s:11} {text}" for fault, text in FAULT_TEXTS.items()]
    click.echo("\n".join(lines))


@case.command()
@_code
@click.option("--shots", type=int, default=6, help="How many; usually 6.")
@click.option(
    "--interval", "interval_s", type=float, default=180.0, help="Pump on to pump on, s; usually 180."
)
@click.option("--setpoint", "setpoint_degc", type=float, help="What its display is set to, °C; as found.")
@click.option("--dose", "dose_g", type=float, default=18.0, help="Dry coffee, g; usually 18.")
@click.option(
    "--grind", "grind_percent", type=float, default=100.0, help="Particle size, % of the usual; usually 100."
)
@click.option("--even", is_flag=True, help="Keep all intervals alike; usually they differ by up to 35 %.")
@logbook_option
def pull(
    code: int,
    *,
    shots: int,
    interval_s: float,
    setpoint_degc: float | None,
    dose_g: float,
    grind_percent: float,
    even: bool,
    logbook: Path | None,
) -> None:
    """Pull shots in one sitting, at once, and keep the recording in the logbook's folder for the case.

    Each sitting finds the machine as its owner left it.

    \b
    Examples:
      benchtemp case pull 4711 --shots 8 --interval 240
      benchtemp case pull 4711 --shots 2 --grind 125
    """
    from benchtemp.teaching.cases.case_folder import keep_sitting, next_sitting

    found, folder = _place(code, logbook)
    number = next_sitting(folder)
    stream = found.pull(
        shots,
        interval_s=interval_s,
        irregular=not even,
        setpoint_degc=setpoint_degc,
        dose_g=dose_g,
        grind_percent=grind_percent,
        sitting=number,
        started=_now(),
    )
    click.echo(str(keep_sitting(folder, number, stream)))


@case.command()
@_code
@logbook_option
@unit_option
def boil(code: int, *, logbook: Path | None, unit: TempUnit) -> None:
    """Hold the case's probe into boiling water, at once, and keep the check beside the recordings.

    \b
    Example:
      benchtemp case boil 4711
    """
    from benchtemp.reports.check import check_lines
    from benchtemp.teaching.cases.case import PROBE
    from benchtemp.teaching.cases.case_folder import keep_check, next_check

    found, folder = _place(code, logbook)
    number = next_check(folder)
    check = found.boil(sitting=number, checked=_now())
    click.echo("\n".join(check_lines(PROBE, check, unit)))
    click.echo(str(keep_check(folder, number, check)))


@case.command()
@_code
@_json
@logbook_option
@unit_option
def evidence(code: int, *, as_json: bool, logbook: Path | None, unit: TempUnit) -> None:
    """Tell what all shots and checks show so far; what follows from it is yours to say.

    \b
    Example:
      benchtemp case evidence 4711
    """
    import msgspec

    from benchtemp.cli.teaching_text import evidence_lines
    from benchtemp.teaching.cases.case_folder import work_in
    from benchtemp.teaching.cases.evidence import evidence_from

    found, folder = _place(code, logbook)
    tests = work_in(folder, found)
    seen = evidence_from(found.brief, tests.shots, tests.checks, unit=unit)
    if as_json:
        plain = msgspec.to_builtins(seen)
        del plain["candidates"]
        click.echo(json.dumps(plain, ensure_ascii=False, allow_nan=False))
        return
    click.echo("\n".join(evidence_lines(seen)))


@case.command()
@_code
@click.argument("fault")
@click.option(
    "--size",
    "size_k",
    type=float,
    help="K: how far it brews above (+) or below (-) its display, or "
    "how far the probe reads beside the truth.",
)
@click.option("--trainee", default="", help="Keep the result under this name.")
@_json
@logbook_option
@unit_option
def name(
    code: int,
    fault: str,
    *,
    size_k: float | None,
    trainee: str,
    as_json: bool,
    logbook: Path | None,
    unit: TempUnit,
) -> None:
    """Name the fault; then the case is opened, with what pointed to it and what would have told it apart.

    \b
    Examples:
      benchtemp case name 4711 thermostat
      benchtemp case name 4711 probe-low --size -0.8
    """
    from math import isfinite

    import msgspec

    from benchtemp.cli.teaching_text import case_marking_lines
    from benchtemp.teaching.cases.case_folder import work_in
    from benchtemp.teaching.cases.diagnosis import mark_diagnosis
    from benchtemp.teaching.cases.fault import Diagnosis, Fault
    from benchtemp.teaching.scores import keep_case

    if fault not in tuple(Fault):
        raise BadInput(f"'{fault}' is no fault to name; there are {', '.join(Fault)}.")
    if size_k is not None and not (isfinite(size_k) and abs(size_k) <= 50.0):
        raise BadInput(f"A size of {size_k:g} K cannot be meant; give for instance --size -0.8.")
    found, folder = _place(code, logbook)
    tests = work_in(folder, found)
    if not tests.shots and not tests.checks:
        raise BadInput(f"Nothing was tested yet; begin with 'benchtemp case pull {code}'.")
    diagnosis = Diagnosis(fault=Fault(fault), size_k=size_k)
    marking = mark_diagnosis(found, diagnosis, tests.shots, tests.checks, unit=unit)
    if trainee:
        click.echo(f"Kept in {keep_case(open_logbook(logbook), trainee, code, diagnosis, marking)}", err=True)
    if as_json:
        click.echo(json.dumps(msgspec.to_builtins(marking), ensure_ascii=False, allow_nan=False))
        return
    click.echo("\n".join(case_marking_lines(marking)))
