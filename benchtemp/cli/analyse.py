"""`benchtemp analyse`: read every shot out of files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import click

from benchtemp.cli.options import logbook_option, open_logbook, recipe_from, recipe_options, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.probes.check import Check
    from benchtemp.probes.probe import Probe
    from benchtemp.readings.reading import Stream
    from benchtemp.shots.recipe import Recipe
    from benchtemp.shots.shot import Analysis, Shot

_FILES_PER_PROCESS = 8
"""Below this many files a second process costs more than it saves."""


@dataclass(frozen=True, slots=True)
class _Read:
    """One file's outcome: its analysis, or the sentence about why there is none."""

    file: str
    analysis: Analysis | None
    complaint: str = ""


@dataclass(frozen=True, slots=True)
class _Way:
    """How files are read: by another recipe, by another check of their probe."""

    recipe: Recipe | None = None
    probe: Probe | None = None
    check: Check | None = None

    def analysis(self, stream: Stream) -> Analysis:
        from benchtemp.shots.shot import analyse_stream

        if self.probe is None:
            return analyse_stream(stream, recipe=self.recipe)
        from benchtemp.shots.reapply import reapplied

        channel = str(stream.meta.get("basket_channel", stream.channels[0]))
        applied = reapplied(stream.meta, channel, self.probe, self.check)
        return analyse_stream(
            stream, recipe=self.recipe, correction=applied.correction, grounds=applied.grounds
        )


def _read_file(way: _Way, file: str) -> _Read:
    from benchtemp.errors import BenchtempError
    from benchtemp.logbook.ecsv import read_stream

    try:
        return _Read(file, way.analysis(read_stream(Path(file))))
    except BenchtempError as error:
        return _Read(file, None, str(error))


def _files_in(paths: Iterable[str]) -> list[str]:
    """Return the files named, and all ECSV files below the folders named, each once, in order."""
    found: dict[str, None] = {}
    for path in paths:
        if Path(path).is_dir():
            found.update(dict.fromkeys(str(file) for file in sorted(Path(path).rglob("*.ecsv"))))
        else:
            found[path] = None
    return list(found)


def _read_all(files: list[str], way: _Way, jobs: int) -> Iterator[_Read]:
    """Give each file's outcome in the order of `files`, as soon as it and all before it are done."""
    read = partial(_read_file, way)
    if jobs <= 1 or len(files) < 2 * _FILES_PER_PROCESS:
        yield from map(read, files)
        return
    import multiprocessing

    # Spawned, not forked: a fork copies whatever threads hold, and is not to be had everywhere.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=jobs, mp_context=context) as pool:
        waiting = iter(files)
        # A bounded number in flight: thousands of results need not wait in memory for a slow reader.
        running = [pool.submit(read, file) for file in islice(waiting, 32 * jobs)]
        try:
            while running:
                yield running.pop(0).result()
                running.extend(pool.submit(read, file) for file in islice(waiting, 1))
        finally:
            for left in running:
                left.cancel()


@click.command()
@click.argument("paths", metavar="FILE...", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line, one for each file.")
@click.option("--jobs", type=click.IntRange(1, 256), help="Processes to use; as many as there are cores.")
@click.option("--budget", is_flag=True, help="Show for each shot what makes its brew temperature uncertain.")
@click.option(
    "--with-probe",
    "probe_name",
    metavar="NAME|FILE",
    help="Apply this probe's newest check instead of the correction stored in the files.",
)
@click.option("--as-of", default="", metavar="DATE", help="With --with-probe: its last check by this date.")
@click.option("--never", is_flag=True, help="With --with-probe: take it as never checked.")
@click.option(
    "--lag-removed",
    "lag_removed",
    type=click.Path(path_type=Path),
    metavar="OUT",
    help="Write the one FILE's trace with the probe's lag removed beside it, to look at.",
)
@click.option(
    "--time-constant", "tau_s", type=float, metavar="SECONDS", help="Of the probe, for --lag-removed."
)
@logbook_option
@recipe_options
@unit_option
def analyse(
    paths: tuple[str, ...],
    *,
    as_json: bool,
    jobs: int | None,
    budget: bool,
    probe_name: str | None,
    as_of: str,
    never: bool,
    lag_removed: Path | None,
    tau_s: float | None,
    logbook: Path | None,
    unit: TempUnit,
    **recipe: float | None,
) -> int:
    """Read every shot out of recordings, shot files or folders of them.

    Files whose name ends otherwise than .ecsv are read too if their content is ECSV with a
    `t` column and at least one temperature column in deg_C. A file that cannot be read is named on
    stderr and the others are read all the same; the exit code is then 1.

    \b
    Examples:
      benchtemp analyse demo_streams/*.ecsv
      benchtemp analyse --json "my logbook/shots" > shots.jsonl
      benchtemp analyse --budget --with-probe "basket 1" shot.ecsv
    """
    import os

    probe, check = _probe_to_apply(probe_name, logbook, as_of=as_of, never=never)
    way = _Way(recipe_from(recipe), probe, check)
    files = _files_in(paths)
    if not files:
        click.echo(
            f"There are no .ecsv files in {', '.join(paths)}; name a file or another folder.", err=True
        )
        return 1
    if lag_removed is not None:
        if len(files) > 1:
            raise BadInput("--lag-removed writes one file's curves; name one file.")
        _write_lag_removed(files[0], lag_removed, way, tau_s)
    elif tau_s is not None:
        raise BadInput("--time-constant is for --lag-removed; give that too.")
    bad = 0
    for outcome in _with_progress(_read_all(files, way, jobs or os.cpu_count() or 1), len(files)):
        if outcome.analysis is None:
            bad += 1
            click.echo(outcome.complaint, err=True)
            continue
        for warning in outcome.analysis.warnings:
            click.echo(f"{outcome.file}: {warning}", err=True)
        if as_json:
            click.echo(_json_line(outcome.file, outcome.analysis, budget=budget))
        else:
            for line in _text_lines(outcome.file, outcome.analysis, unit, budget=budget):
                click.echo(line)
    return 1 if bad else 0


def _probe_to_apply(
    name: str | None, logbook: Path | None, *, as_of: str, never: bool
) -> tuple[Probe | None, Check | None]:
    """Return the probe named and its check to apply."""
    if name is None:
        if as_of or never:
            raise BadInput("--as-of and --never choose one of a probe's checks; give --with-probe too.")
        return None, None
    if as_of and never:
        raise BadInput("--as-of and --never contradict each other; give only one of them.")
    from benchtemp.logbook.probe_file import load_probe, load_probe_file
    from benchtemp.shots.reapply import chosen_check

    is_file = name.endswith(".toml") or Path(name).is_file()
    probe = load_probe_file(Path(name)) if is_file else load_probe(open_logbook(logbook), name)
    return probe, chosen_check(probe, as_of=as_of, never=never)


def _write_lag_removed(file: str, out: Path, way: _Way, tau_s: float | None) -> None:
    """Write both curves of a file as ECSV, and tell what the second one is."""
    from benchtemp.logbook.ecsv import read_stream, write_stream
    from benchtemp.shots.reapply import reapplied
    from benchtemp.shots.water_curve import water_curve

    stream = read_stream(Path(file))
    correction = None
    if way.probe is not None:
        channel = str(stream.meta.get("basket_channel", stream.channels[0]))
        correction = reapplied(stream.meta, channel, way.probe, way.check).correction
        if tau_s is None and way.probe.time_constant is not None:
            tau_s = way.probe.time_constant.tau_s
    curve = water_curve(stream, tau_s=tau_s, correction=correction)
    try:
        write_stream(out, curve.as_stream(Path(file).name))
    except FileExistsError as error:
        raise BadInput(f"There is already a file {out}; choose another name.") from error
    click.echo(
        f"{out}: {curve.label}, worked out with a time constant of {curve.tau_s:g} s; its noise is "
        f"{curve.noise_gain:.2g} times that of the readings. Brew temperatures are never read from it.",
        err=True,
    )


def _with_progress(outcomes: Iterator[_Read], total: int) -> Iterator[_Read]:
    """Show a bar on stderr where a person watches and there is something to wait for."""
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    if total < 2 * _FILES_PER_PROCESS or not console.is_terminal:
        return outcomes
    return iter(track(outcomes, description="reading", total=total, console=console, transient=True))


def _json_line(file: str, analysis: Analysis, *, budget: bool) -> str:
    import json

    def told(shot: Shot) -> dict[str, object]:
        found = shot.as_json()
        if budget:
            from benchtemp.reports.budget import budget_json
            from benchtemp.shots.budget import budget_of

            whole = budget_of(shot)
            found["budget"] = None if whole is None else budget_json(whole)
        return found

    return json.dumps(
        {
            "file": file,
            "shots": [told(shot) for shot in analysis.shots],
            "flushes": [told(shot) for shot in analysis.flushes],
            "reasons": list(analysis.reasons),
            "warnings": list(analysis.warnings),
        },
        ensure_ascii=False,
        allow_nan=False,
    )


def _text_lines(file: str, analysis: Analysis, unit: TempUnit, *, budget: bool) -> list[str]:
    from benchtemp.reports.terminal import correction_text, shots_table

    pulls = sorted((*analysis.shots, *analysis.flushes), key=lambda shot: shot.result.pump_on_s)
    lines = shots_table(pulls, unit)
    if not lines:
        lines = ["no shot" + (": " + "; ".join(analysis.reasons) if analysis.reasons else " found")]
    elif analysis.reasons:
        lines.append("note: " + "; ".join(analysis.reasons))
    if pulls:
        lines.append(f"probe: {correction_text(pulls[0].correction, unit)}")
    if budget:
        lines += _budget_lines(analysis, unit)
    return [file, *(f"  {line}".rstrip() for line in lines), ""]


def _budget_lines(analysis: Analysis, unit: TempUnit) -> list[str]:
    """Return each shot's budget, and what differs between shots with what they share left out."""
    import sys

    from benchtemp.reports.budget import budget_lines, cure_lines, difference_line, result_text
    from benchtemp.shots.budget import budget_of, difference_of

    unicode = "utf" in (getattr(sys.stdout, "encoding", "") or "").lower()
    lines: list[str] = []
    for shot in analysis.shots:
        budget = budget_of(shot)
        if budget is None:
            continue
        lines += ["", f"shot {shot.number}: {result_text(budget.value, budget.expanded_k(), unit)}"]
        lines += [f"  {line}" for line in budget_lines(budget, unit, unicode=unicode)]
        lines += [f"  {line}" for line in cure_lines(budget, unit)]
    settled = [shot for shot in analysis.shots if shot.result.brew_temp_degc is not None]
    if len(settled) > 1:
        lines.append("")
    for shot in settled[1:]:
        difference = difference_of(settled[0], shot)
        if difference is not None:
            what = f"shot {shot.number} minus shot {settled[0].number}"
            lines.append(difference_line(what, difference, unit))
    return lines
