"""`benchtemp study`: what shots say about a machine, in one sentence, with tables."""

from __future__ import annotations

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
    from benchtemp.studies.outcome import Study

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


class _Shots:
    """The shots a command was asked about, and how to print what comes of them."""

    def __init__(self, options: dict[str, Any]) -> None:
        self.unit: TempUnit = options["unit"]
        self._as_json: bool = options["as_json"]
        self._charts: bool = options["charts"]
        self._files: tuple[Path, ...] = options["files"]
        self._folder: Path | None = options["logbook"]
        self.selection = selection_from(options)
        self._streams: dict[str, Stream] = {}

    def say(self, asked: str, **wanted: Any) -> None:
        """Do a study and print it."""
        from functools import partial

        from benchtemp.logbook.preferences import load_preferences
        from benchtemp.reports.answering import Asked, Wanted, answer

        shots = self._gathered()
        wanted["check_days"] = load_preferences()[0].check_days
        recordings = partial(self._recordings, shots)
        self._print(
            answer(Asked(asked), shots, Wanted(**wanted), recordings=recordings, streams=self._streams)
        )

    @property
    def _logbook(self) -> Logbook:
        return open_logbook(self._folder)

    def _gathered(self) -> ShotSet:
        from benchtemp.studies.evidence.gathering import gather, gather_any

        if self._files:
            found, self._streams = gather_any(_ecsv(self._files), self.selection)
            return found
        return gather(self._logbook, self.selection)

    def _recordings(self, shots: ShotSet) -> dict[str, Stream]:
        from benchtemp.studies.evidence.gathering import recordings_of

        if self._files:
            return self._streams
        names = [*self.selection.recordings, *(shot.recording for shot in shots.used)]
        names += [left.shot.recording for left in shots.left_out]
        return recordings_of(self._logbook, names)

    def _print(self, study: Study) -> None:
        if self._as_json:
            import json

            plain = study.to_plain(charts=self._charts)
            click.echo(json.dumps(plain, ensure_ascii=False, allow_nan=False))
            return
        from benchtemp.reports.study_text import study_lines

        for line in study_lines(study, self.unit):
            click.echo(line)


def _ecsv(paths: Iterable[Path]) -> list[Path]:
    found: list[Path] = []
    for path in paths:
        found += sorted(path.rglob("*.ecsv")) if path.is_dir() else [path]
    return found


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
    _Shots(options).say("steadiness")


@study.command()
@_target
@_selecting
def setpoint(*, target_degc: float, **options: Any) -> None:
    """Tell what the machine brews at for what its display says.

    \b
    Example:
      benchtemp study setpoint --machine "Ferrowick Two" --target 93
    """
    _Shots(options).say("setpoint", target_degc=target_degc)


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
    _Shots(options).say("routine", idle_min=idle_min, target_degc=target_degc)


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
    _Shots(options).say("warm-up", within_k=within_k, settling_channel=channel)


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
    _Shots(options).say("cycle", channel=channel, target_degc=target_degc)


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
    _Shots(options).say("comparison", by=factor, matters_k=matters_k)


@study.command()
@_selecting
def testers(**options: Any) -> None:
    """Tell how much of the scatter comes from who, or which probe, measured.

    \b
    Example:
      benchtemp study testers --plan "three hands Ferrowick Two"
    """
    _Shots(options).say("testers")
