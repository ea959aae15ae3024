"""`benchtemp study`: what shots say about a machine, in one sentence, with tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.cli.selecting import selection_from, selection_options
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.readings.reading import Stream
    from benchtemp.studies.evidence.shot_set import ShotSet
    from benchtemp.studies.outcome import Study, Table

Command = TypeVar("Command", bound=Callable[..., Any])


def _temperature(_ctx: click.Context, param: click.Parameter, value: str) -> float:
    from benchtemp.studies.evidence.typed import temp_from

    found = temp_from(value)
    if found is None:
        raise BadInput(f"--{param.name} {value} is no temperature; write for instance 93 or 200F.")
    return found


_target = click.option(
    "--target",
    "target_degc",
    default="93",
    callback=_temperature,
    help="Brew temperature wanted, such as 93 or 200F; usually 93.",
)


def _selecting(command: Command) -> Command:
    """Add what every study asks: which shots, and how to print."""
    for option in reversed(
        [
            click.argument("files", metavar="[FILE]...", nargs=-1, type=click.Path(path_type=Path)),
            selection_options,
            click.option("--json", "as_json", is_flag=True, help="Print one JSON object."),
            click.option("--charts", is_flag=True, help="With --json: the charts' data too."),
            logbook_option,
            unit_option,
        ]
    ):  # fmt: skip
        command = option(command)
    return command


class _Asked:
    """The shots a command was asked about, and how to print what comes of them."""

    def __init__(self, options: dict[str, Any]) -> None:
        self.unit: TempUnit = options["unit"]
        self._as_json: bool = options["as_json"]
        self._charts: bool = options["charts"]
        self._files: tuple[Path, ...] = options["files"]
        self._folder: Path | None = options["logbook"]
        self.selection = selection_from(options)
        self._streams: dict[str, Stream] = {}

    @property
    def logbook(self) -> Logbook:
        """Return the logbook to look in."""
        return open_logbook(self._folder)

    def shots(self) -> ShotSet:
        """Return the shots meant."""
        from benchtemp.studies.evidence.gathering import gather, gather_any

        if self._files:
            found, self._streams = gather_any(_ecsv(self._files), self.selection)
            return found
        return gather(self.logbook, self.selection)

    def recordings(self, shots: ShotSet) -> dict[str, Stream]:
        """Return the recordings of these shots, and those that were named."""
        from benchtemp.studies.evidence.gathering import recordings_of

        if self._files:
            return self._streams
        names = [*self.selection.recordings, *(shot.recording for shot in shots.used)]
        names += [left.shot.recording for left in shots.left_out]
        return recordings_of(self.logbook, names)

    def show(self, study: Study) -> None:
        """Print a study."""
        if self._as_json:
            import json

            plain = study.to_plain(charts=self._charts)
            click.echo(json.dumps(plain, ensure_ascii=False, allow_nan=False))
            return
        for line in study_lines(study, self.unit):
            click.echo(line)


def _ecsv(paths: Iterable[Path]) -> list[Path]:
    found: list[Path] = []
    for path in paths:
        found += sorted(path.rglob("*.ecsv")) if path.is_dir() else [path]
    return found


def study_lines(study: Study, unit: TempUnit) -> list[str]:
    """Return a study as text: verdict, what speaks against it, tables."""
    import textwrap

    verdict = study.verdict(unit)
    lines = [study.title, "", *textwrap.wrap(verdict.sentence, 100)]
    lines += textwrap.wrap(f"({'; '.join(verdict.limits)})", 100)
    for concern in verdict.concerns:
        lines += textwrap.wrap(f"! {concern}", 100, subsequent_indent="  ")
    for table in study.tables(unit):
        lines += ["", table.title, *table_lines(table)]
    if study.left_out:
        lines += ["", "Left out"]
        lines += [
            f"  {left.shot.name}: {'; '.join(left.reasons)}" for left in study.left_out if not left.beside
        ]
        lines += [
            f"  {count} more: {reason}"
            for reason, count in Counter(left.reasons[0] for left in study.left_out if left.beside).items()
        ]
    return lines


def table_lines(table: Table) -> list[str]:
    """Return a table as lines, the first column to the left and figures to the right."""
    rows = [table.headings, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.headings))]
    return [
        "  "
        + "  ".join(
            cell.ljust(width) if column == 0 or column == len(row) - 1 else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


@click.group()
def study() -> None:
    """Say what shots tell about a machine.

    Shots come from the logbook, or from the shot files, recordings or folders named.

    \b
    Examples:
      benchtemp study steadiness --machine "Ferrowick Two"
      benchtemp study routine --idle 10 --target 93
      benchtemp study comparison --by machine --json
    """


@study.command()
@_selecting
def steadiness(**options: Any) -> None:
    """Tell how alike shots are, one after another and within each.

    \b
    Example:
      benchtemp study steadiness --plan "steady series Ferrowick Two"
    """
    from benchtemp.studies.steadiness import steadiness as study_steadiness

    asked = _Asked(options)
    asked.show(study_steadiness(asked.shots()))


@study.command()
@_target
@_selecting
def setpoint(*, target_degc: float, **options: Any) -> None:
    """Tell what the machine brews at for what its display says.

    \b
    Example:
      benchtemp study setpoint --machine "Ferrowick Two" --target 93
    """
    from benchtemp.studies.setpoint import setpoint as study_setpoint

    asked = _Asked(options)
    asked.show(study_setpoint(asked.shots(), target_degc=target_degc))


@study.command()
@click.option("--idle", "idle_min", type=float, default=10.0, help="Minutes idle to answer for; usually 10.")
@_target
@_selecting
def routine(*, idle_min: float, target_degc: float, **options: Any) -> None:
    """Tell what idle time and flush do, and how much to flush.

    \b
    Example:
      benchtemp study routine --machine "Ostrel Long Arm" --idle 10 --target 93
    """
    from benchtemp.studies.routine import routine as study_routine

    asked = _Asked(options)
    asked.show(study_routine(asked.shots(), idle_min=idle_min, target_degc=target_degc))


@study.command(name="warm-up")
@click.option(
    "--within", "within_k", type=float, default=0.5, help="How close counts as settled, K; usually 0.5."
)
@click.option(
    "--channel", default="", help="Watch this channel of one recording instead of shots, such as T2."
)
@_selecting
def warm_up(*, within_k: float, channel: str, **options: Any) -> None:
    """Tell how long the machine takes to settle after switching on.

    \b
    Examples:
      benchtemp study warm-up --machine "Ferrowick Two"
      benchtemp study warm-up --channel T2 recording.ecsv
    """
    from benchtemp.studies.warm_up import warm_up as study_warm_up
    from benchtemp.studies.warm_up import warm_up_channel

    asked = _Asked(options)
    shots = asked.shots()
    if not channel:
        asked.show(study_warm_up(shots, within_k=within_k))
        return
    recordings = {
        name: stream for name, stream in asked.recordings(shots).items() if channel in stream.channels
    }
    if len(recordings) != 1:
        raise BadInput(
            f"A channel's warm-up is read from one recording; {len(recordings)} of those meant have channel "
            f"{channel}. Name the file, or choose with --recording or --plan."
        )
    asked.show(warm_up_channel(next(iter(recordings.values())), channel, within_k=within_k))


@study.command()
@click.option("--channel", default="T2", help="Channel that watches boiler or group; usually T2.")
@_target
@_selecting
def cycle(*, channel: str, target_degc: float, **options: Any) -> None:
    """Tell how the thermostat's cycle swings, and when in it to start.

    \b
    Example:
      benchtemp study cycle --machine "Pindlebay One" --channel T2
    """
    from benchtemp.studies.cycle import heating_cycle

    asked = _Asked(options)
    shots = asked.shots()
    recordings = {
        name: stream for name, stream in asked.recordings(shots).items() if channel in stream.channels
    }
    if not recordings:
        raise BadInput(
            f"None of the recordings meant has a channel {channel}; put a probe at the boiler or the group "
            "and record it beside the basket's, or name another channel."
        )
    shots = shots.keeping(
        lambda shot: shot.recording in recordings, f"its recording has no channel {channel}"
    )
    asked.show(heating_cycle(recordings, channel, shots, target_degc=target_degc))


@study.command()
@click.option(
    "--by", "factor", default="machine", help="What tells the groups apart: machine, date, any tag."
)
@click.option("--matters", "matters_k", type=float, default=0.5, help="Smallest difference that matters, K.")
@_selecting
def comparison(*, factor: str, matters_k: float, **options: Any) -> None:
    """Tell whether machines, settings or dates differ, and by how much.

    \b
    Examples:
      benchtemp study comparison --by machine --plan "friday contest"
      benchtemp study comparison --by operator
    """
    from benchtemp.studies.comparison import comparison as study_comparison
    from benchtemp.studies.evidence.traces import aligned_traces

    asked = _Asked(options)
    shots = asked.shots()
    own = {shot.recording for shot in shots.used if "#" in shot.path}
    traces = aligned_traces(shots.used, asked.recordings(shots) if own else None)
    asked.show(study_comparison(shots, factor, traces=traces, matters_k=matters_k))


@study.command()
@_selecting
def testers(**options: Any) -> None:
    """Tell how much of the scatter comes from who, or which probe, measured.

    \b
    Example:
      benchtemp study testers --plan "three hands Ferrowick Two"
    """
    from benchtemp.studies.repeatability import repeatability

    asked = _Asked(options)
    asked.show(repeatability(asked.shots()))
