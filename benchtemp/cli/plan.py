"""`benchtemp plan`: make a test plan, check it, and see where it stands."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.studies.plans.plan import Plan

_KINDS = ("steady", "idle", "flush", "setpoint", "warm-up", "before-after", "machines")


def _numbers(_ctx: click.Context, param: click.Parameter, value: str) -> tuple[float, ...]:
    try:
        return tuple(float(part) for part in value.split(",") if part.strip())
    except ValueError:
        raise BadInput(
            f"--{param.name} {value} is no list of numbers; write them with commas between, such as 2,5,10."
        ) from None


@click.group()
def plan() -> None:
    """Make test plans, check them, and see where they stand.

    \b
    Examples:
      benchtemp plan new steady --machine "Ferrowick Two"
      benchtemp plan check week/plans/friday-contest.toml
      benchtemp plan status "steady series Ferrowick Two"
    """


@plan.command()
@click.argument("kind", type=click.Choice(_KINDS))
@click.option("--machine", "machines", multiple=True, help="Machine under test; repeat it for 'machines'.")
@click.option("--name", default="", help="Of the plan; made from kind and machine where not given.")
@click.option("--purpose", default="", help="In a sentence, for the report.")
@click.option("--shots", type=click.IntRange(1, 500), help="How many (steady, before-after).")
@click.option("--interval", "interval_min", type=float, help="Minutes from pump start to pump start.")
@click.option("--rest", "rest_min", type=float, help="Minutes between repeats.")
@click.option("--repeats", type=click.IntRange(1, 500), help="How often each setting.")
@click.option("--idle", default="", callback=_numbers, help="Idle times in min, such as 2,5,10,20.")
@click.option("--flush", default="", callback=_numbers, help="Flushes in s, such as 0,2,4,6.")
@click.option("--flush-grams", default="", callback=_numbers, help="Flushes in g instead.")
@click.option(
    "--setpoints", default="", callback=_numbers, help="Displayed setpoints in °C, such as 90,92,94."
)
@click.option("--minutes", default="", callback=_numbers, help="Minutes since switch-on, such as 5,10,15.")
@click.option("--change", default="change", help="What is changed (before-after), such as gasket.")
@click.option("--order", type=click.Choice(["as written", "random", "balanced"]), help="How settings follow.")
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, help="Of the order; usually 1.")
@click.option("--out", type=click.Path(path_type=Path), help="File to write instead of one in the logbook.")
@click.option("--print", "only_print", is_flag=True, help="Print the plan and write nothing.")
@logbook_option
def new(*, out: Path | None, only_print: bool, logbook: Path | None, **options: Any) -> None:
    """Make a plan of a ready-made kind and write it as a TOML file.

    \b
    Examples:
      benchtemp plan new steady --machine "Ferrowick Two" --shots 12 --interval 4
      benchtemp plan new flush --machine "Ostrel Long Arm" --idle 10 --flush 0,3,6
      benchtemp plan new machines --machine "Ferrowick Two" --machine "Pindlebay One"
    """
    from benchtemp.studies.plans.plan_file import plan_path, plan_text, save_plan

    made = _made(options)
    if only_print:
        click.echo(plan_text(made), nl=False)
        return
    path = out or plan_path(open_logbook(logbook), made)
    save_plan(path, made)
    click.echo(made.summary())
    click.echo(made.order_sentence())
    click.echo(f"Plan: {path}")


def _made(options: dict[str, Any]) -> Plan:
    import msgspec

    from benchtemp.studies.plans import kinds
    from benchtemp.studies.plans.order import Order

    machines: tuple[str, ...] = options["machines"]
    kind: str = options["kind"]
    if kind != "machines" and len(machines) > 1:
        raise BadInput(
            f"A plan of kind '{kind}' is about one machine; for several choose the kind 'machines'."
        )
    machine = machines[0] if machines else ""
    given: dict[str, Any] = {"name": options["name"]}

    def take(option: str, argument: str) -> None:
        if options[option] not in (None, ()):
            given[argument] = options[option]

    if kind in {"idle", "flush", "setpoint", "machines"}:
        take("repeats", "repeats")
        given["seed"] = options["seed"]
    if kind in {"steady", "before-after"}:
        take("shots", "shots")
    if kind in {"steady", "before-after", "setpoint"}:
        take("interval_min", "interval_min")
    match kind:
        case "steady":
            made = kinds.steady_series(machine, **given)
        case "idle":
            take("idle", "idles_min")
            made = kinds.idle_series(machine, **given)
        case "flush":
            if options["idle"]:
                given["idle_min"] = options["idle"][0]
            take("flush", "flushes_s")
            take("flush_grams", "flushes_g")
            made = kinds.flush_series(machine, **given)
        case "setpoint":
            take("setpoints", "setpoints_degc")
            made = kinds.setpoint_series(machine, **given)
        case "warm-up":
            take("minutes", "minutes")
            made = kinds.warm_up_series(machine, **given)
        case "before-after":
            made = kinds.before_after(machine, change=options["change"], **given)
        case _:
            made = kinds.machine_against_machine(machines, **given)
    changes: dict[str, Any] = {}
    if options["order"]:
        changes["order"] = Order(options["order"])
    if options["rest_min"] is not None:
        changes["rest_min"] = options["rest_min"]
    if options["purpose"]:
        changes["purpose"] = options["purpose"]
    return msgspec.structs.replace(made, **changes) if changes else made


@plan.command()
@click.argument("file", type=click.Path(path_type=Path))
@unit_option
def check(*, file: Path, unit: TempUnit) -> None:
    """Read a plan's file, say what is wrong with it, or list its shots in order.

    \b
    Example:
      benchtemp plan check week/plans/friday-contest.toml
    """
    from benchtemp.studies.plans.plan_file import load_plan

    found = load_plan(file)
    click.echo(f"{found.name}: {found.summary(unit)}")
    if found.purpose:
        click.echo(found.purpose)
    click.echo(found.order_sentence())
    for step in found.sequence():
        repeat = f"  repeat {step.repeat}" if found.repeats > 1 and len(found.shots) > 1 else ""
        click.echo(f"  {step.number:3}{repeat}  {step.shot.said(unit)}".rstrip())


@plan.command()
@click.argument("file", type=click.Path(path_type=Path))
@logbook_option
@unit_option
def add(*, file: Path, logbook: Path | None, unit: TempUnit) -> None:
    """Check a plan's file and put it into the logbook, where the window finds it.

    \b
    Example:
      benchtemp plan add friday-contest.toml
    """
    from benchtemp.studies.plans.plan_file import load_plan, plan_path, plans_in, save_plan

    found, book = load_plan(file), open_logbook(logbook)
    plans, _ = plans_in(book)
    if any(other.name.casefold() == found.name.casefold() for other in plans.values()):
        raise BadInput(f"There is already a plan called {found.name} in the logbook; choose another name.")
    path = plan_path(book, found)
    save_plan(path, found)
    click.echo(f"{found.name}: {found.summary(unit)}")
    click.echo(f"Plan: {path}")


@plan.command()
@click.argument("name")
@logbook_option
def remove(*, name: str, logbook: Path | None) -> None:
    """Move a plan to the logbook's bin; its shots stay.

    NAME is the plan's name in the logbook, or its file there.

    \b
    Example:
      benchtemp plan remove "steady series Ferrowick Two"
    """
    from benchtemp.studies.plans.plan_file import find_plan, plans_in

    book = open_logbook(logbook)
    wanted = find_plan(book, name).name.casefold()
    plans, _ = plans_in(book)
    path = next((path for path, found in plans.items() if found.name.casefold() == wanted), Path(name))
    click.echo(f"moved to {book.to_bin(path)}")


@plan.command()
@click.argument("name")
@click.option("--now", default="", help="Moment to look from, ISO 8601; usually now.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@logbook_option
@unit_option
def status(*, name: str, now: str, as_json: bool, logbook: Path | None, unit: TempUnit) -> None:
    """Tell where a plan stands: what was pulled, what is next and when.

    NAME is the plan's name in the logbook, or its file.

    \b
    Example:
      benchtemp plan status "steady series Ferrowick Two" --logbook week
    """
    from benchtemp.studies.evidence.gathering import gather
    from benchtemp.studies.evidence.shot_set import Selection
    from benchtemp.studies.plans.plan_file import find_plan
    from benchtemp.studies.plans.status import where_it_stands

    try:
        moment = dt.datetime.fromisoformat(now) if now else dt.datetime.now().astimezone()
    except ValueError as error:
        raise BadInput(f"'{now}' is no moment; write it as 2025-11-20T09:30:00.") from error
    if moment.tzinfo is None:
        moment = moment.astimezone()
    book = open_logbook(logbook)
    found = find_plan(book, name)
    shots = gather(book, Selection(plan=found.name))
    stands = where_it_stands(found, [*shots.used, *(left.shot for left in shots.left_out)], moment)
    if as_json:
        import json

        click.echo(json.dumps(stands.to_plain(moment), ensure_ascii=False, allow_nan=False))
        return
    click.echo(f"{found.name}: {stands.counted} of {found.count} shots done")
    for done in stands.done:
        remarks = f"  {'; '.join(done.remarks)}" if done.remarks else ""
        said = done.step.shot.said(unit)
        click.echo(f"  {done.step.number:3}  {done.shot.name}{'  ' + said if said else ''}{remarks}")
    click.echo(stands.sentence(unit))


@plan.command(name="list")
@logbook_option
def list_plans(*, logbook: Path | None) -> None:
    """List the logbook's plans.

    \b
    Example:
      benchtemp plan list --logbook week
    """
    from benchtemp.studies.plans.plan_file import plans_in

    plans, complaints = plans_in(open_logbook(logbook))
    for complaint in complaints:
        click.echo(complaint, err=True)
    for found in plans.values():
        click.echo(f"{found.name}: {found.summary()}")
    if not plans:
        click.echo("There is no plan yet; make one with 'benchtemp plan new'.", err=True)
