"""`benchtemp boil`: at what temperature water boils where you are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from benchtemp.cli.options import unit_option
from benchtemp.units import TempUnit, degc_to, delta_to

if TYPE_CHECKING:
    from benchtemp.probes.reference import Reference


@click.command()
@click.option(
    "--pressure", help="Air pressure where the pot stands, such as 835hPa or 24.7inHg; the surest way."
)
@click.option("--altitude", help="Altitude, such as 1600m or 5250ft; less sure, the weather is not in it.")
@click.option("--geopotential", is_flag=True, help="The altitude is geopotential, not that of a map.")
@click.option(
    "--barometer", help="Pressure reduced to sea level, as weather reports give it; needs --altitude."
)
@click.option("--depth", help="How far the probe's tip is under water, such as 6cm.")
@click.option("--dissolved", help="Dissolved solids of the water, such as 0.3g/L or 300ppm.")
@click.option("--pressure-within", help="How far the pressure may be off; 1hPa where not given.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@unit_option
def boil(
    *,
    pressure: str | None,
    altitude: str | None,
    geopotential: bool,
    barometer: str | None,
    depth: str | None,
    dissolved: str | None,
    pressure_within: str | None,
    as_json: bool,
    unit: TempUnit,
) -> int:
    """Tell at what temperature water boils where you are, how sure that is, and why.

    Every value is typed with its unit, without a space or in quotes.

    \b
    Examples:
      benchtemp boil --altitude 1600m
      benchtemp boil --pressure 835hPa --depth 6cm
      benchtemp boil --barometer 1013hPa --altitude 5250ft
    """
    import json

    from benchtemp.errors import BadInput
    from benchtemp.probes import boiling, quantity

    if geopotential and altitude is None:
        raise BadInput(
            "--geopotential says what kind of altitude is given; give --altitude too, such as 1600m."
        )
    if pressure_within is not None and pressure is None and barometer is None:
        raise BadInput("--pressure-within says how sure a pressure is; give --pressure or --barometer too.")
    reference = boiling.boiling_reference(
        pressure_hpa=None if pressure is None else quantity.pressure_hpa(pressure),
        altitude_m=None if altitude is None else quantity.altitude_m(altitude),
        sea_level_hpa=None if barometer is None else quantity.sea_level_hpa(barometer),
        geopotential=geopotential,
        depth_cm=0.0 if depth is None else quantity.depth_cm(depth),
        dissolved_g_per_l=0.0 if dissolved is None else quantity.dissolved_g_per_l(dissolved),
        pressure_half_width_hpa=(
            boiling.PRESSURE_HALF_WIDTH_HPA
            if pressure_within is None
            else quantity.pressure_difference_hpa(pressure_within)
        ),
    )
    if as_json:
        click.echo(json.dumps(reference.to_dict(), ensure_ascii=False, indent=2))
    else:
        for line in _lines(reference, unit):
            click.echo(line)
    return 0


def _lines(reference: Reference, unit: TempUnit) -> list[str]:
    """Return the answer for reading."""
    other = TempUnit.DEGC if unit is TempUnit.DEGF else TempUnit.DEGF
    budget = reference.budget
    expanded = budget.expanded_k()

    def told(shown: TempUnit) -> str:
        return f"{degc_to(reference.temp_degc, shown):.2f} ± {delta_to(expanded, shown):.2f} {shown.symbol}"

    factor = f"coverage factor k = {budget.coverage_factor():.2f}"
    lines = [f"Water boils here at {told(unit)} ({told(other)}), {factor}."]
    lines += ["", "Working"]
    lines += [f"  {line}" for line in reference.working]
    lines += ["", "What may be wrong (standard uncertainty, k = 1)"]
    width = max(len(line.name) for line, _ in budget.ranked())
    for line, _ in budget.ranked():
        shown = delta_to(line.share_k, unit)
        estimate = " (estimate)" if line.estimate else ""
        lines.append(f"  {line.name.ljust(width)}  {shown:6.3f} {unit.symbol}  {line.note}{estimate}")
    lines.append(f"  {'together'.ljust(width)}  {delta_to(budget.uncertainty_k, unit):6.3f} {unit.symbol}")
    lines += ["", "Notes", *(f"  {note}" for note in reference.notes)]
    return lines
