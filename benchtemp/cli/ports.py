"""`benchtemp ports`: what is plugged in."""

from __future__ import annotations

import click


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line.")
def ports(*, as_json: bool) -> int:
    """List the serial ports of this computer, with names a person knows them by.

    \b
    Example:
      benchtemp ports
    """
    import json

    from benchtemp.readings.ports import list_ports

    found = list_ports()
    if not found:
        click.echo(
            "No serial port was found; plug the interface in, or try 'benchtemp demo', which needs none.",
            err=True,
        )
    width = max((len(port.device) for port in found), default=0)
    for port in found:
        if as_json:
            click.echo(json.dumps({"device": port.device, "name": port.name}, ensure_ascii=False))
        else:
            click.echo(f"{port.device.ljust(width)}  {port.name}")
    return 0
