"""`benchtemp simulate`: recordings of virtual machines, made as fast as they can be worked out."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from datetime import datetime
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from benchtemp.readings.reading import Stream
    from benchtemp.readings.virtual import Machine

_LEAD_S = 30.0
Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]


def _number(
    option: str, limits: tuple[float, float], unit: str, told: str, *, usual: float | None = None
) -> Decorator:
    """Return an option that takes a finite number within limits, in a unit."""
    low, high = limits

    def check(_ctx: click.Context, _param: click.Parameter, value: float | None) -> float | None:
        if value is not None and not (isfinite(value) and low <= value <= high):
            raise BadInput(f"{option} must be a number from {low:g} to {high:g} {unit}; {value:g} was given.")
        return value

    name = f"{option.removeprefix('--').replace('-', '_')}_{_NAMES[unit]}"
    return click.option(option, name, type=float, default=usual, callback=check, help=told)


_NAMES = {"s": "s", "min": "min", "g": "g", "Hz": "hz", "K": "k", "°C": "degc", "%": "percent"}


@click.command()
@click.option("--list", "list_machines", is_flag=True, help="List the virtual machines and leave.")
@click.option("--machine", "key", default="dual-boiler", help="Virtual machine; usually dual-boiler.")
@click.option("--out", type=click.Path(path_type=Path), help="File to write, such as shots.ecsv.")
@click.option("--shots", type=click.IntRange(1, 200), default=3, help="How many; usually 3.")
@_number("--interval", (1, 7200), "s", "Pump on to pump on, s; usually 180.", usual=180.0)
@_number("--shot-time", (1, 120), "s", "Longest pump time, s; usually 30.", usual=30.0)
@_number("--yield", (1, 200), "g", "Stop at this yield, g; usually twice the dose.")
@_number("--dose", (5, 40), "g", "Dry coffee, g; usually 18.", usual=18.0)
@_number("--idle", (1, 600), "min", "Minutes unused before the first shot; usually hours.")
@_number("--flush", (0, 60), "s", "Flush before each shot, s; usually 0.", usual=0.0)
@_number("--setpoint", (60, 130), "°C", "°C; usually the machine's own.")
@_number("--grind", (70, 140), "%", "Mean particle size, % of the usual; usually 100.", usual=100.0)
@click.option("--cold", is_flag=True, help="Begin with a cold machine, switched on at the first reading.")
@click.option(
    "--place",
    "places",
    multiple=True,
    type=click.Choice(["basket", "group", "boiler", "inlet"]),
    help="Where a probe sits; repeat it for T2, T3…",
)
@click.option("--seed", type=click.IntRange(0, 2**31), default=1, help="Of noise and beds; usually 1.")
@_number("--rate", (0.1, 200), "Hz", "Readings a second; usually 10.", usual=10.0)
@_number("--noise", (0, 5), "K", "Standard deviation, K; usually the machine's own.")
@_number("--quantum", (0, 5), "K", "Step of the values, K; 0 for none; usually the machine's own.")
@_number("--probe-offset", (-20, 20), "K", "What probes read beside the truth, K; usually 0.", usual=0.0)
@_number("--time-constant", (0.01, 60), "s", "Of probes in running water, s; usually the machine's own.")
@click.option("--marks/--no-marks", default=True, help="Keep the operator's marks (usual) or leave them out.")
@click.option("--scale/--no-scale", default=True, help="With a weight column (usual) or without.")
@click.option("--started", default="", help="Date and time with UTC offset for the header; usually now.")
@click.option("--overwrite", is_flag=True, help="Replace files that are there already.")
@click.option(
    "--again",
    type=click.Path(path_type=Path),
    help="Make this recording of a sitting at a virtual machine again, from its own marks.",
)
@click.option(
    "--demo-streams",
    "demo_dir",
    type=click.Path(path_type=Path),
    help="Make all demo streams in this folder instead.",
)
@click.pass_context
def simulate(ctx: click.Context, /, **options: Any) -> int:
    """Make a recording on a virtual machine, with the true temperatures in its header.

    \b
    Examples:
      benchtemp simulate --list
      benchtemp simulate --machine heat-exchanger --idle 30 --flush 6 --shots 1 --out flushed.ecsv
      benchtemp simulate --probe-offset -0.8 --time-constant 2 --out probe_off.ecsv
      benchtemp simulate --grind 85 --setpoint 97 --shots 5 --out finer.ecsv
      benchtemp simulate --again recording.ecsv --out again.ecsv
      benchtemp simulate --demo-streams demo_streams
    """
    if options["list_machines"]:
        return _list()
    if options["demo_dir"] is not None:
        return _make_demo_streams(options["demo_dir"], overwrite=options["overwrite"])
    if options["out"] is None:
        raise BadInput("Name the file to write, for instance --out shots.ecsv.")
    _check_target(options["out"], overwrite=options["overwrite"])
    if options["again"] is not None:
        return _make_again(options["again"], options["out"], overwrite=options["overwrite"])
    started = _started(options["started"])
    stream = _make(options, started, _command_line(ctx, started))
    from benchtemp.logbook.ecsv import write_stream

    write_stream(options["out"], stream, overwrite=options["overwrite"])
    _tell(stream, options["out"])
    return 0


def _list() -> int:
    from benchtemp.readings.virtual import virtual_machines

    for key, machine in virtual_machines().items():
        probes = ", ".join(machine.places)
        click.echo(f"{key:16} {machine.name}: {machine.kind} (probes: {probes})")
    return 0


def _make_demo_streams(folder: Path, *, overwrite: bool) -> int:
    from benchtemp.logbook.ecsv import write_stream
    from benchtemp.readings.virtual.demo import demo_streams

    if not folder.is_dir():
        raise BadInput(f"There is no folder {folder}; make it first.")
    for name, make in demo_streams().items():
        path = folder / f"{name}.ecsv"
        _check_target(path, overwrite=overwrite)
        write_stream(path, make(), overwrite=overwrite)
        click.echo(str(path))
    return 0


def _make_again(recording: Path, out: Path, *, overwrite: bool) -> int:
    import numpy as np

    from benchtemp.logbook.ecsv import read_stream, write_stream
    from benchtemp.readings.virtual.again import sitting_again

    kept = read_stream(recording)
    made = sitting_again(kept)
    write_stream(out, made, overwrite=overwrite)
    rows = min(len(kept.t_s), len(made.t_s))
    same = np.all(kept.temps_degc[:rows] == made.temps_degc[:rows], axis=1)
    if kept.weight_g is not None and made.weight_g is not None:
        same &= kept.weight_g[:rows] == made.weight_g[:rows]
    others = max(len(kept.t_s), len(made.t_s)) - int(same.sum())
    told = "all the same" if not others else f"{others} of them not the same"
    click.echo(f"{len(made.t_s)} readings made again, {told} as in {recording}")
    click.echo(str(out))
    return 0 if not others else 1


def _check_target(path: Path, *, overwrite: bool) -> None:
    """Refuse before the work is done what would be refused after it."""
    if path.exists() and not overwrite:
        raise BadInput(f"There is already a file {path}; choose another name or give --overwrite.")
    if not path.parent.is_dir():
        raise BadInput(f"There is no folder {path.parent}; make it first or choose another.")


def _started(written: str) -> str:
    if not written:
        return datetime.now().astimezone().isoformat(timespec="seconds")
    try:
        moment = datetime.fromisoformat(written)
    except ValueError:
        moment = None
    if moment is None or moment.utcoffset() is None:
        raise BadInput(
            f"'{written}' is no date and time with UTC offset; write for instance 2031-03-04T08:00:00+01:00."
        )
    return moment.isoformat()


def _command_line(ctx: click.Context, started: str) -> str:
    """Return the command that makes the same file again."""
    words = ["benchtemp", "simulate"]
    for param in ctx.command.params:
        value = ctx.params.get(param.name or "")
        if param.name in {"out", "overwrite", "started"} or not isinstance(param, click.Option):
            continue
        if value is None or value == param.get_default(ctx) or value == ():
            continue
        if param.is_flag:
            words.append((param.opts if value else param.secondary_opts)[0])
            continue
        for one in value if isinstance(value, tuple) else (value,):
            words += [param.opts[0], f"{one:g}" if isinstance(one, float) else str(one)]
    return shlex.join([*words, "--started", started, "--out", "FILE"])


def _machine(key: str, setpoint_degc: float | None) -> Machine:
    from msgspec.structs import replace

    from benchtemp.readings.virtual import virtual_machines

    machines = virtual_machines()
    if key not in machines:
        raise BadInput(f"There is no virtual machine '{key}'; there are {', '.join(machines)}.")
    machine = machines[key]
    if setpoint_degc is None:
        return machine
    control = replace(machine.boiler.control, setpoint_degc=setpoint_degc)
    return replace(machine, boiler=replace(machine.boiler, control=control))


def _make(options: dict[str, Any], started: str, command: str) -> Stream:
    from msgspec.structs import replace

    from benchtemp.readings.virtual import Place, Scale
    from benchtemp.readings.virtual import simulate as run
    from benchtemp.readings.virtual.script import Grind, series, standing

    machine = _machine(options["key"], options["setpoint_degc"])
    if options["cold"] and options["idle_min"] is not None:
        raise BadInput("A machine cannot be cold and have stood idle switched on; give --cold or --idle.")
    asked = {
        "noise_k": options["noise_k"],
        "quantum_k": options["quantum_k"],
        "offset_k": options["probe_offset_k"],
        "wet_tau_s": options["time_constant_s"],
    }
    changes = {name: value for name, value in asked.items() if value is not None}
    lead_s = _LEAD_S + options["flush_s"]
    script = series(
        options["shots"],
        interval_s=options["interval_s"],
        lead_s=lead_s,
        dose_g=options["dose_g"],
        seconds=options["shot_time_s"],
        yield_g=options["yield_g"] or 2.0 * options["dose_g"],
        flush_s=options["flush_s"],
        typed_yields=not options["scale"],
    )
    idle_min = options["idle_min"]
    return run(
        machine,
        (Grind(percent=options["grind_percent"]), *script),
        seed=options["seed"],
        rate_hz=options["rate_hz"],
        places=[Place(place) for place in options["places"]] or None,
        probe=replace(machine.probe, **changes),
        scale=Scale() if options["scale"] else None,
        marks=options["marks"],
        warm=not options["cold"],
        before=standing(idle_min * 60.0, lead_s) if idle_min is not None else (),
        started=started,
        meta={
            "scenario": _scenario(options),
            "command": command,
            "recipe": {"dose_g": options["dose_g"]},
            "tags": {
                "machine": machine.name,
                "setpoint_degc": f"{machine.boiler.control.setpoint_degc:g}",
                **({"idle_min": f"{idle_min:g}"} if idle_min is not None else {}),
                **({"grind": f"{options['grind_percent']:g} %"} if options["grind_percent"] != 100.0 else {}),
                **({"flush_s": f"{options['flush_s']:g}"} if options["flush_s"] else {}),
            },
        },
    )


def _scenario(options: dict[str, Any]) -> str:
    count = options["shots"]
    text = "one shot" if count == 1 else f"{count} shots, pump starts {options['interval_s']:g} s apart"
    return f"Simulated: {text}."


def _tell(stream: Stream, path: Path) -> None:
    for shot in stream.meta["truth"]:
        temp = shot["brew_temp_degc"]
        told = "no plateau" if temp is None else f"true brew temperature {temp:.2f} °C"
        click.echo(
            f"shot {shot['number']}: pump on {shot['pump_on_s']:.1f} s, off {shot['pump_off_s']:.1f} s, "
            f"{told}, yield {shot['yield_g']:.1f} g"
        )
    click.echo(str(path))
