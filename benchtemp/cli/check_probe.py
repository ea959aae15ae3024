"""`benchtemp check-probe`: hold a probe against a known temperature, and keep what came of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import logbook_option, open_logbook, probes_from, unit_option
from benchtemp.cli.probe_check.wishes import BATHS, METHODS, Wishes
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook


@click.command("check-probe")
@click.option("--port", help="Port of the thermocouple interface, as 'benchtemp ports' names it.")
@click.option(
    "--layout",
    "layout_name",
    default="guess",
    metavar="FILE|NAME|guess",
    help="How its lines read: a file, the name of a layout that ships, or guess (usual).",
)
@click.option("--virtual", type=click.Choice(BATHS), help="Check virtual probes in a virtual bath instead.")
@click.option("--speed", type=click.FloatRange(0.25, 1000), help="Of the virtual bath; usually 32.")
@click.option("--seed", type=click.IntRange(0, 2**31), default=0, help="Of the virtual bath's noise.")
@click.option(
    "--probe",
    "probes",
    multiple=True,
    metavar="[T1=]NAME",
    help="Name of the probe, by channel where there are several in the bath; may be repeated.",
)
@click.option(
    "--method",
    type=click.Choice(METHODS),
    help="boil (usual), ice, thermometer (a reference one), compare (several), plunge (time constant).",
)
@click.option("--pressure", help="Air pressure where the pot stands, such as 835hPa; the surest way.")
@click.option("--altitude", help="Altitude, such as 1600m or 5250ft; less sure, the weather is not in it.")
@click.option(
    "--barometer", help="Pressure reduced to sea level, as weather reports give it; needs --altitude."
)
@click.option("--pressure-within", help="How far the pressure may be off; 1hPa where not given.")
@click.option("--depth", help="How far the probe's tip is under water, such as 6cm.")
@click.option("--dissolved", help="Dissolved solids of the water, such as 0.3g/L or 300ppm.")
@click.option("--reads", "reads_degc", type=float, help="What the reference thermometer reads, °C.")
@click.option(
    "--reads-within", "reads_within_k", type=float, help="Expanded uncertainty (k = 2) of that, °C."
)
@click.option(
    "--limit", "limit_k", type=float, default=1.0, help="How far a probe may be off to pass, °C; usually 1."
)
@click.option("--longest", "longest_s", type=click.FloatRange(min=60), help="Give up after so many seconds.")
@click.option("--add-point", is_flag=True, help="Count this bath together with the probe's last check.")
@click.option("--tolerance-class", help="What the probe's packet says, such as 'IEC class 1'.")
@click.option("--operator", default="", help="Who checks.")
@click.option("--note", default="", help="Anything to keep with the check.")
@click.option("--yes", is_flag=True, help="Save without asking.")
@click.option("--list", "list_probes", is_flag=True, help="List the probes of the logbook and leave.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@logbook_option
@unit_option
def check_probe(
    *, list_probes: bool, probes: tuple[str, ...], logbook: Path | None, unit: TempUnit, **typed: Any
) -> int:
    """Check a probe in boiling water or ice, and keep its correction if you say yes.

    The check finds by itself when the reading has settled. One bath gives an offset; a second one of
    the same day, with --add-point, an offset and a slope. Several probes in one bath are compared too.
    Nothing is saved without your yes; in a terminal you are asked, otherwise --yes says so.

    \b
    Examples:
      benchtemp check-probe --port /dev/ttyUSB0 --probe "basket 1" --pressure 1006hPa --depth 5cm
      benchtemp check-probe --port COM5 --probe "basket 1" --method ice --add-point
      benchtemp check-probe --virtual pot --probe "basket 1" --limit 0.5
    """
    book = open_logbook(logbook)
    if list_probes:
        return _list(book, unit)
    wishes = Wishes(names=probes_from(probes), unit=unit, **typed)
    wishes.refuse_nonsense()
    if wishes.how == "plunge":
        from benchtemp.cli.probe_check.plunge import run_plunge

        return run_plunge(book, wishes)
    from benchtemp.cli.probe_check.bath import run_bath

    return run_bath(book, wishes)


def _list(book: Logbook, unit: TempUnit) -> int:
    """Print the probes of a logbook, one a line."""
    from benchtemp.cli.probe_check.bath import moment_now
    from benchtemp.logbook.preferences import load_preferences
    from benchtemp.logbook.probe_file import probes
    from benchtemp.probes.probe import judged_at
    from benchtemp.reports.check import probe_line

    found, complaints = probes(book)
    for complaint in complaints:
        click.echo(complaint, err=True)
    longest_days = load_preferences()[0].check_days
    now = judged_at(found, moment_now())
    for probe in found:
        click.echo(probe_line(probe, now, longest_days, unit))
    if not found and not complaints:
        click.echo(f"There are no probes in {book.root} yet; check one to make it.", err=True)
    return 1 if complaints else 0
