"""`benchtemp report`: shots and studies as a document, HTML or PDF."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.cli.selecting import selection_from, selection_options
from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from benchtemp.reports.tested import Tested

STUDIES = ("steadiness", "setpoint", "routine", "warm-up", "cycle", "comparison", "testers")
ENDINGS = (".html", ".htm", ".pdf")


def _target(_ctx: click.Context, _param: click.Parameter, value: str) -> float:
    from benchtemp.studies.evidence.typed import temp_from

    found = temp_from(value)
    if found is None:
        raise BadInput(f"--target {value} is no temperature; write for instance 93 or 200F.")
    return found


@click.command()
@click.argument("paths", metavar="[FILE|FOLDER]...", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--study",
    "studies",
    multiple=True,
    type=click.Choice(STUDIES),
    help="What the report shall answer; repeatable.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="File to write, .html or .pdf; named after the machine where not given.",
)
@click.option("--title", default="", help="Above the report.")
@click.option("--tester", default="", help="Who tested.")
@click.option("--customer", default="", help="For whom.")
@click.option("--notes", default="", help="What else is to be said, below the facts.")
@click.option(
    "--target",
    "target_degc",
    default="93",
    callback=_target,
    help="Brew temperature wanted, such as 93 or 200F; usually 93.",
)
@click.option("--by", default="machine", help="What a comparison compares: machine (usual), date, any tag.")
@click.option(
    "--idle", "idle_min", type=float, default=10.0, help="Idle time for the routine, min; usually 10."
)
@click.option("--channel", default="T2", help="Channel at boiler or group, for the cycle; usually T2.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Of a PDF; usually a4.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there already.")
@selection_options
@logbook_option
@unit_option
@click.pass_context
def report(ctx: click.Context, /, **options: Any) -> int:
    """Write a report: the verdict, what was tested and how, all shots, how sure it is.

    It is made from shot files, recordings, folders of them, or a logbook; without any, from your logbook.
    The HTML file needs no network and prints well; the PDF says the same.

    \b
    Examples:
      benchtemp report demo_streams/series_three_minutes.ecsv --study steadiness
      benchtemp report "my logbook" --machine "Ferrowick Two" --study steadiness --out ferrowick.pdf
      benchtemp report --plan "friday contest" --study comparison --tester "Ilva" --title "Friday contest"
    """
    from benchtemp.cli.choosing import progress_bar
    from benchtemp.logbook.atomic import write_whole
    from benchtemp.logbook.preferences import load_preferences
    from benchtemp.logbook.regular_file import shown
    from benchtemp.reports.answering import Asked, Wanted, answers
    from benchtemp.reports.gathering import read_tested
    from benchtemp.reports.report import make_report

    out: Path | None = options["out"]
    if out is not None:
        _check_target(out, overwrite=options["overwrite"])
    logbook = open_logbook(options["logbook"]) if options["logbook"] or not options["paths"] else None
    paths = options["paths"] or (logbook.root,) if logbook is not None else options["paths"]
    with progress_bar("reading shots") as told:
        tested = read_tested(
            paths,
            selection=selection_from(options),
            logbook=logbook,
            progress=told,
            check_days=load_preferences()[0].check_days,
        )
    for complaint in tested.complaints:
        click.echo(complaint, err=True)
    wanted = Wanted(
        target_degc=options["target_degc"],
        idle_min=options["idle_min"],
        by=options["by"],
        channel=options["channel"],
    )
    studies = answers([Asked(name) for name in options["studies"]], tested, wanted)
    content = make_report(
        tested,
        studies=studies,
        title=options["title"],
        tester=options["tester"],
        customer=options["customer"],
        notes=options["notes"],
        unit=options["unit"],
        commands=(_command_line(ctx),),
    )
    target = out or _free_name(tested)
    if target.suffix.casefold() == ".pdf":
        from benchtemp.reports.pdf import Paper, pdf_bytes

        written = pdf_bytes(content, paper=Paper(options["paper"]))
    else:
        from benchtemp.reports.html import html_bytes

        written = html_bytes(content)
    try:
        write_whole(target, [written], overwrite=options["overwrite"])
    except FileExistsError:
        raise BadInput(f"There is already a {shown(target)}; choose another name.") from None
    click.echo(str(target))
    return 0


def _check_target(out: Path, *, overwrite: bool) -> None:
    from benchtemp.logbook.regular_file import shown

    if out.suffix.casefold() not in ENDINGS:
        raise BadInput(f"{shown(out)} is neither .html nor .pdf; end the name with one of them.")
    if out.is_dir():
        raise BadInput(f"{shown(out)} is a folder; name a file in it.")
    if out.exists() and not overwrite:
        raise BadInput(f"There is already a {shown(out)}; choose another name or give --overwrite.")
    if not out.parent.is_dir():
        raise BadInput(f"There is no folder {shown(out.parent)}; make it first.")


def _free_name(tested: Tested) -> Path:
    """Return a name in the current folder, made from the machine and the day, that nothing has yet."""
    from benchtemp.logbook.names import free_paths, safe_part

    machine = tested.machines[0] if len(tested.machines) == 1 else "machines"
    day = max((one.record.date for one in tested.shots), default="")
    name = "-".join(part for part in ("report", safe_part(machine), safe_part(day, "")) if part)
    return next(path for path in free_paths(Path(f"{name}.html")) if not path.exists())


def _command_line(ctx: click.Context) -> str:
    """Return the command that gives the same figures again."""
    told: list[str] = ["benchtemp", "report"]
    for param in ctx.command.params:
        name = param.name or ""
        value = ctx.params.get(name)
        source = ctx.get_parameter_source(name)
        if source is None or source.name != "COMMANDLINE" or name in {"out", "overwrite"}:
            continue
        flag = param.opts[0] if isinstance(param, click.Option) else ""
        values = value if isinstance(value, tuple) else (value,)
        for one in values:
            if one is True:
                told.append(flag)
            elif one is not None and one is not False:
                told += [flag, _as_typed(one)] if flag else [_as_typed(one)]
    return shlex.join(told)


def _as_typed(value: object) -> str:
    from benchtemp.units import TempUnit

    if isinstance(value, TempUnit):
        return "F" if value is TempUnit.DEGF else "C"
    # A file's folder is nobody's business who gets the report.
    return value.name if isinstance(value, Path) else str(value)
