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

from benchtemp.cli.options import recipe_from, recipe_options, unit_option
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.shots.recipe import Recipe
    from benchtemp.shots.shot import Analysis

_FILES_PER_PROCESS = 8
"""Below this many files a second process costs more than it saves."""


@dataclass(frozen=True, slots=True)
class _Read:
    """One file's outcome: its analysis, or the sentence about why there is none."""

    file: str
    analysis: Analysis | None
    complaint: str = ""


def _read_file(recipe: Recipe | None, file: str) -> _Read:
    from benchtemp.errors import BenchtempError
    from benchtemp.logbook.ecsv import read_stream
    from benchtemp.shots.shot import analyse_stream

    try:
        return _Read(file, analyse_stream(read_stream(Path(file)), recipe=recipe))
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


def _read_all(files: list[str], recipe: Recipe | None, jobs: int) -> Iterator[_Read]:
    """Give each file's outcome in the order of `files`, as soon as it and all before it are done."""
    read = partial(_read_file, recipe)
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
@recipe_options
@unit_option
def analyse(
    paths: tuple[str, ...], *, as_json: bool, jobs: int | None, unit: TempUnit, **recipe: float | None
) -> int:
    """Read every shot out of recordings, shot files or folders of them.

    Files whose name ends otherwise than .ecsv are read too if their content is ECSV with a
    `t` column and at least one temperature column in deg_C. A file that cannot be read is named on
    stderr and the others are read all the same; the exit code is then 1.

    \b
    Examples:
      benchtemp analyse demo_streams/*.ecsv
      benchtemp analyse --json "my logbook/shots" > shots.jsonl
    """
    import os

    held_to = recipe_from(recipe)
    files = _files_in(paths)
    if not files:
        click.echo(
            f"There are no .ecsv files in {', '.join(paths)}; name a file or another folder.", err=True
        )
        return 1
    bad = 0
    outcomes = _read_all(files, held_to, jobs or os.cpu_count() or 1)
    for outcome in _with_progress(outcomes, len(files)):
        if outcome.analysis is None:
            bad += 1
            click.echo(outcome.complaint, err=True)
            continue
        for warning in outcome.analysis.warnings:
            click.echo(f"{outcome.file}: {warning}", err=True)
        if as_json:
            click.echo(_json_line(outcome.file, outcome.analysis))
        else:
            for line in _text_lines(outcome.file, outcome.analysis, unit):
                click.echo(line)
    return 1 if bad else 0


def _with_progress(outcomes: Iterator[_Read], total: int) -> Iterator[_Read]:
    """Show a bar on stderr where a person watches and there is something to wait for."""
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    if total < 2 * _FILES_PER_PROCESS or not console.is_terminal:
        return outcomes
    return iter(track(outcomes, description="reading", total=total, console=console, transient=True))


def _json_line(file: str, analysis: Analysis) -> str:
    import json

    return json.dumps(
        {
            "file": file,
            "shots": [shot.as_json() for shot in analysis.shots],
            "flushes": [shot.as_json() for shot in analysis.flushes],
            "reasons": list(analysis.reasons),
            "warnings": list(analysis.warnings),
        },
        ensure_ascii=False,
        allow_nan=False,
    )


def _text_lines(file: str, analysis: Analysis, unit: TempUnit) -> list[str]:
    from benchtemp.reports.terminal import shots_table

    pulls = sorted((*analysis.shots, *analysis.flushes), key=lambda shot: shot.result.pump_on_s)
    lines = shots_table(pulls, unit)
    if not lines:
        lines = ["no shot" + (": " + "; ".join(analysis.reasons) if analysis.reasons else " found")]
    elif analysis.reasons:
        lines.append("note: " + "; ".join(analysis.reasons))
    return [file, *(f"  {line}" for line in lines), ""]
