"""`benchtemp logbook`: find, look at, mark, check and hand on what the logbook holds."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.choosing import find_file, for_each, indexed, progress_bar, query_from, query_options
from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.errors import BadInput, BenchtempError
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook


@click.group()
def logbook() -> None:
    """Find, look at, mark, check and hand on what the logbook holds.

    \b
    Examples:
      benchtemp logbook search --machine "Kestrel Two" --since 2025-11 channelled
      benchtemp logbook edit 20251125-101502_Kestrel-Two_shot-003 --tag coffee="house blend"
      benchtemp logbook export --format csv --to shots.csv
    """


@logbook.command()
@query_options
@click.option("--limit", type=click.IntRange(0, 2**31), default=50, help="At most so many; usually 50.")
@click.option("--offset", type=click.IntRange(0, 2**31), default=0, help="Pass over so many first.")
@click.option("--all", "everything", is_flag=True, help="All of them, however many.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line.")
@click.option("--files", "as_files", is_flag=True, help="Print only the files, for other commands.")
@unit_option
@logbook_option
def search(
    *,
    limit: int,
    offset: int,
    everything: bool,
    as_json: bool,
    as_files: bool,
    unit: TempUnit,
    logbook: Path | None,
    **options: Any,
) -> int:
    """List shots and recordings, all of them or those that are asked for.

    WORDS must all occur in notes, tags, machine, probes or file name; parts of words will do, and case and
    accents do not matter. Several values of one option mean any of them. Days are written 2025-11-25, whole
    months 2025-11.

    \b
    Sort by moment, file, kind, machine, probe, number, "brew temperature", sd, drift,
    "time to plateau", plateau, "shot time", dose, yield, "brew ratio", "in band",
    verdict, counts, or tag.NAME.

    \b
    Examples:
      benchtemp logbook search
      benchtemp logbook search steam "house blend" --does-not-count --since 2025
      benchtemp logbook search --tag setpoint --sort tag.setpoint --json
    """
    from benchtemp.cli.listing import rows_table

    query = query_from(options, limit=None if everything else limit, offset=offset)
    index = indexed(logbook)
    if as_files:
        for path in index.paths(query):
            click.echo(str(path))
        return 0
    page = index.search(query)
    if as_json:
        for row in page.rows:
            click.echo(_json_line(row))
        return 0
    for line in rows_table(page.rows, unit):
        click.echo(line)
    left = page.total - offset - len(page.rows)
    told = f"{page.total} found" if page.total else "nothing found"
    click.echo(told + (f", {left} more: see --limit, --offset and --all" if left > 0 else ""), err=True)
    return 0


logbook.add_command(search, "list")


def _json_line(row: Any) -> str:
    import msgspec

    return msgspec.json.encode(msgspec.structs.asdict(row)).decode()


@logbook.command()
@click.argument("names", metavar="FILE...", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line.")
@unit_option
@logbook_option
def show(names: tuple[str, ...], *, as_json: bool, unit: TempUnit, logbook: Path | None) -> int:
    """Show all that is known of a file, with the history of its edits.

    FILE is a path, a path within the logbook, or just the file's name.

    \b
    Example:
      benchtemp logbook show 20251125-101502_Kestrel-Two_shot-003
    """
    from benchtemp.cli.listing import row_lines
    from benchtemp.logbook.ecsv import read_meta
    from benchtemp.logbook.index.editing import history

    index = indexed(logbook)
    bad = 0
    for name in names:
        try:
            path = find_file(index.logbook, name)
            row = index.row(path)
            if row is None:
                raise BadInput(f"{path} is not among the logbook's recordings and shots; see 'analyse'.")
            if as_json:
                click.echo(_json_line(row))
                continue
            edits = () if row.complaint else history(read_meta(path))
            for line in [*row_lines(row, unit, edits), ""]:
                click.echo(line)
        except BenchtempError as error:
            bad += 1
            click.echo(str(error), err=True)
    return 1 if bad else 0


@logbook.command()
@logbook_option
def rebuild(*, logbook: Path | None) -> int:
    """Make the logbook's list anew from its files.

    It is brought up to date by itself; this is for when it seems to be wrong all the same. No file of the
    logbook is touched.

    \b
    Example:
      benchtemp logbook rebuild
    """
    import time

    from benchtemp.logbook.index import LogbookIndex

    index = LogbookIndex(open_logbook(logbook))
    since_s = time.perf_counter()
    with progress_bar("reading") as told:
        updated = index.rebuild(told)
    took_s = time.perf_counter() - since_s
    click.echo(f"{updated.files} files in {took_s:.1f} s")
    return 0


@logbook.command()
@click.option("--mend", is_flag=True, help="Mend what can be; originals are kept in the bin.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line, for every file.")
@logbook_option
def check(*, mend: bool, as_json: bool, logbook: Path | None) -> int:
    """Hold every recording and shot against the digest written with it.

    Damage is told and nothing is changed, unless --mend asks for it: then recordings that were never closed
    are closed, and of files whose rows are damaged those that can be read are written anew, while the
    original is kept in the logbook's bin. The exit code is 1 where damage is left.

    \b
    Examples:
      benchtemp logbook check
      benchtemp logbook check --mend
    """
    import json
    from collections import Counter

    from benchtemp.logbook.index.checking import check as check_files
    from benchtemp.logbook.shot_file import Condition

    opened = open_logbook(logbook)
    counted: Counter[Condition] = Counter()
    damaged = []
    with progress_bar("checking") as told:
        for checked in check_files(opened, told):
            counted[checked.condition] += 1
            if checked.is_damaged or checked.condition is Condition.NOT_CLOSED:
                damaged.append(checked)
            if as_json:
                found = {"file": checked.path, "condition": str(checked.condition), "text": checked.text}
                click.echo(json.dumps(found, ensure_ascii=False))
            elif checked.condition not in {Condition.WHOLE, Condition.NO_DIGEST}:
                click.echo(f"{checked.condition}: {checked.text}")
    counts = ", ".join(f"{number} {condition}" for condition, number in counted.most_common())
    click.echo(f"{counted.total()} files: {counts}" if counted else "There are no files yet.", err=True)
    left = sum(checked.is_damaged for checked in damaged)
    if mend:
        left -= _mend_all(opened, [checked.path for checked in damaged])
    return 1 if left else 0


def _mend_all(opened: Logbook, paths: list[str]) -> int:
    """Mend what can be mended; return how many damaged files that made whole."""
    from benchtemp.logbook.index import LogbookIndex
    from benchtemp.logbook.index.checking import mend

    mended = 0
    for path in paths:
        try:
            done = mend(opened, opened.root / path)
        except BenchtempError as error:
            click.echo(str(error), err=True)
            continue
        mended += 1
        kept = f" The original is {done.original}." if done.original else ""
        click.echo(f"{done.text}{kept}")
    LogbookIndex(opened).refresh(opened.root / path for path in paths)
    return mended


@logbook.command()
@query_options
@click.option(
    "--format", "form", type=click.Choice(["csv", "json", "parquet"]), default="csv", help="Usually csv."
)
@click.option("--to", type=click.Path(path_type=Path), help="File, or for Parquet the dataset's folder.")
@click.option("--bench", default="", help="Name of this bench; the logbook folder's name if not given.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there already.")
@logbook_option
def export(
    *, form: str, to: Path | None, bench: str, overwrite: bool, logbook: Path | None, **options: Any
) -> int:
    """Hand shots on to other programs: one row for each, with its figures, tags and notes.

    WORDS and options choose shots as in 'logbook search'; add --kind flush for flushes. Temperatures are
    always °C. CSV and JSON go to stdout where --to is not given.

    Parquet makes one dataset for many benches, in folders by machine and month. Each logbook replaces only
    what it had exported before, so a chain of workshops can all export into one shared folder and question
    it with any engine that reads Parquet. It needs: python -m pip install 'benchtemp[parquet]'

    \b
    Examples:
      benchtemp logbook export --to shots.csv
      benchtemp logbook export --format json --machine "Kestrel Two" > shots.json
      benchtemp logbook export --format parquet --to all-benches --bench "North workshop"
    """
    from benchtemp.logbook.export.parquet import require_parquet, write_dataset
    from benchtemp.logbook.export.record import records
    from benchtemp.logbook.export.text import csv_text, json_text, write_text

    if form == "parquet":
        if to is None:
            raise BadInput("Parquet is written into a folder; name it with --to.")
        require_parquet()
    index = indexed(logbook)
    name = bench or index.logbook.root.resolve().name
    found = records(index, query_from(options), bench=name)
    if form == "parquet":
        assert to is not None
        written = write_dataset(to, found, bench=name, logbook=index.logbook)
        click.echo(f"{written.shots} shots in {written.files} files below {to}", err=True)
        return 0
    parts = csv_text(found) if form == "csv" else json_text(found)
    if to is None:
        for part in parts:
            sys.stdout.write(part)
        return 0
    write_text(to, parts, overwrite=overwrite, instead="add --overwrite")
    return 0


@logbook.command()
@click.argument("names", metavar="FILE...", nargs=-1, required=True)
@click.option("--tag", "tags", multiple=True, metavar="NAME=VALUE", help="Set this tag.")
@click.option("--untag", "gone", multiple=True, metavar="NAME", help="Take this tag away.")
@click.option("--notes", help="The notes as they shall be; '-' reads them from stdin, '' takes them away.")
@click.option("--add-note", "more", default="", metavar="TEXT", help="Add a line to the notes.")
@logbook_option
def edit(
    names: tuple[str, ...],
    *,
    tags: tuple[str, ...],
    gone: tuple[str, ...],
    notes: str | None,
    more: str,
    logbook: Path | None,
) -> int:
    """Change tags and notes of shots and recordings, whenever they were made.

    Readings stay as they are, and the file remembers what stood there before ('logbook show').

    \b
    Examples:
      benchtemp logbook edit 20251125-101502_Kestrel-Two_shot-003 --tag coffee="house blend"
      benchtemp logbook edit shots/2025-11/*.ecsv --untag draft --add-note "new gasket"
    """
    from benchtemp.logbook.index.editing import edit as edit_file

    wanted: dict[str, str | None] = dict.fromkeys(gone)
    for tag in tags:
        name, equals, value = tag.partition("=")
        if not equals or not name.strip():
            raise BadInput(f"'{tag}' is no tag; write --tag NAME=VALUE, such as --tag coffee='house blend'.")
        wanted[name] = value
    if not wanted and notes is None and not more.strip():
        raise BadInput(
            "Say what shall change: --tag NAME=VALUE, --untag NAME, --notes TEXT or --add-note TEXT."
        )
    written = sys.stdin.read() if notes == "-" else notes

    def work(opened: Logbook, path: Path) -> str:
        edit_file(path, tags=wanted, notes=written, more_notes=more)
        opened.remember_tags({name: value for name, value in wanted.items() if value})
        return f"edited {path}"

    return for_each(logbook, names, work)


@logbook.command("set-aside")
@click.argument("names", metavar="FILE...", nargs=-1, required=True)
@click.option("--reason", required=True, help="Why; it is shown wherever the shot is.")
@logbook_option
def set_aside(names: tuple[str, ...], *, reason: str, logbook: Path | None) -> int:
    """Leave shots out of studies; they stay in the logbook, with the reason.

    \b
    Example:
      benchtemp logbook set-aside 20251125-101502_Kestrel-Two_shot-003 --reason channelled
    """
    from benchtemp.logbook.index.editing import set_aside as put_aside

    def work(_opened: Logbook, path: Path) -> str:
        put_aside(path, reason)
        return f"set aside {path}"

    return for_each(logbook, names, work)


@logbook.command("take-back")
@click.argument("names", metavar="FILE...", nargs=-1, required=True)
@logbook_option
def take_back(names: tuple[str, ...], *, logbook: Path | None) -> int:
    """Take back shots that were set aside, or files that were moved to the bin.

    \b
    Examples:
      benchtemp logbook take-back 20251125-101502_Kestrel-Two_shot-003
      benchtemp logbook take-back bin/shots/2025-11/20251125-101502_Kestrel-Two_shot-003.ecsv
    """
    from benchtemp.logbook.index import LogbookIndex
    from benchtemp.logbook.index.editing import from_bin
    from benchtemp.logbook.index.editing import take_back as take_shot_back

    def work(opened: Logbook, path: Path) -> str:
        if opened.bin_dir.resolve() not in path.parent.resolve().parents:
            take_shot_back(path)
            return f"taken back {path}"
        now = from_bin(opened, path)
        LogbookIndex(opened).refresh([now])
        return f"taken back {now}"

    return for_each(logbook, names, work)


@logbook.command("bin")
@click.argument("names", metavar="FILE...", nargs=-1, required=True)
@logbook_option
def to_bin(names: tuple[str, ...], *, logbook: Path | None) -> int:
    """Move files to the logbook's bin, under the place they come from; nothing is ever deleted.

    \b
    Example:
      benchtemp logbook bin 20251125-101502_Kestrel-Two_shot-003
    """

    def work(opened: Logbook, path: Path) -> str:
        return f"moved to {opened.to_bin(path)}"

    return for_each(logbook, names, work)
