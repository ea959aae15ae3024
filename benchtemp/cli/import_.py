"""`benchtemp import`: take text files of other instruments into the logbook."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from benchtemp.cli.options import entries_from, logbook_option, open_logbook
from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.importing import Given, Imported, PreviewRow, Question, TableGuess, TableLayout
    from benchtemp.readings.layout import ChannelUnit

_DECIMALS: dict[str, Literal[".", ","]] = {"point": ".", "comma": ","}
_DELIMITERS = {
    "comma": ",",
    "semicolon": ";",
    "tab": "\t",
    "bar": "|",
    "space": "",
    "spaces": "",
    "two spaces": "  ",
    "\\t": "\t",
    " ": "",
}
_UNITS: dict[str, ChannelUnit] = {"C": "degC", "F": "degF", "K": "K", "MV": "mV"}
_ORDERS = {"dmy": "--day-first", "mdy": "--month-first", "ymd": "--year-first"}
_CURES = {
    "interval_s": "--interval",
    "unit": "--unit",
    "elapsed_unit": "--elapsed-unit",
    "temperature_columns": "--temperature-columns",
    "junction_degc": "--junction or --junction-column",
}
_SHOWN_RAW = 60


@click.command(name="import")
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--layout", "layout_name", metavar="NAME|FILE", help="A layout that was saved, instead of a guess."
)
@click.option(
    "--delimiter", metavar="SIGN", help="comma, semicolon, tab, bar, space, 'two spaces', or the sign."
)
@click.option("--decimal", type=click.Choice(["point", "comma"]), help="The sign before decimals.")
@click.option("--encoding", default="", help="Encoding of the text, such as utf-8 or cp1252.")
@click.option("--skip-lines", type=click.IntRange(0, 100_000), help="Lines at the beginning to pass over.")
@click.option("--day-first", "order", flag_value="dmy", help="Dates such as 03/04/2026 are 3 April.")
@click.option("--month-first", "order", flag_value="mdy", help="Dates such as 03/04/2026 are March 4.")
@click.option("--year-first", "order", flag_value="ymd", help="Dates such as 26/03/04 are 4 March 2026.")
@click.option(
    "--unit",
    type=click.Choice(["C", "F", "K", "mV"], case_sensitive=False),
    help="Unit of the temperatures in the files; mV for voltages of type K.",
)
@click.option("--time-column", metavar="COLUMN", help="Number or heading of the column of times.")
@click.option("--date-column", metavar="COLUMN", help="The column of dates, where they stand apart.")
@click.option(
    "--elapsed-unit",
    type=click.Choice(["s", "ms", "us", "min", "h", "day", "h:mm:ss", "h:mm", "mm:ss"]),
    help="Times count from the start, in this unit.",
)
@click.option(
    "--interval", "interval_s", type=click.FloatRange(min=0, min_open=True), help="Seconds from row to row."
)
@click.option(
    "--temperature-columns", metavar="COLUMN,…", help="Numbers or headings of the temperatures, T1 first."
)
@click.option("--junction-column", metavar="COLUMN", help="The reference junction's °C, for voltages.")
@click.option(
    "--junction", "junction_degc", type=float, metavar="DEGC", help="The same where no column tells it."
)
@click.option("--weight-column", metavar="COLUMN", help="Number or heading of a scale's weights.")
@click.option("--weight-unit", type=click.Choice(["g", "kg", "oz", "lb"]), help="Their unit; usually g.")
@click.option(
    "--none",
    "none_words",
    multiple=True,
    metavar="WORD",
    help="What stands for no reading, beside the usual words, such as -999; repeatable.",
)
@click.option("--preview", is_flag=True, help="Show the guess and the first rows, and import nothing.")
@click.option("--save-layout", metavar="NAME", help="Keep the layout under this name for other files.")
@click.option("--again", is_flag=True, help="Import a file even if it was imported before.")
@click.option("--machine", default="", help="Name of the machine under test.")
@click.option("--tag", "tags", multiple=True, metavar="NAME=VALUE", help="Tag every shot; may be repeated.")
@logbook_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object a line, one for each file.")
def import_(
    files: tuple[Path, ...],
    *,
    layout_name: str | None,
    preview: bool,
    save_layout: str | None,
    again: bool,
    machine: str,
    tags: tuple[str, ...],
    logbook: Path | None,
    as_json: bool,
    **points: Any,
) -> int:
    """Take text files of meters that log to a memory card into the logbook.

    Each file becomes a recording, and the shots found in it are kept. How its table reads is guessed
    and told; every point can be stated instead, and what cannot be known must be. All files of one
    call read by the same layout. The files themselves are left as they are, and one that was imported
    before is told of and passed over.

    \b
    Examples:
      benchtemp import --preview log001.csv
      benchtemp import log*.csv --day-first --unit C --save-layout "bench meter"
      benchtemp import log002.csv --layout "bench meter" --machine "bench two"
    """
    import msgspec

    from benchtemp.logbook.importing import (
        changed,
        for_other_files,
        guess_tables,
        keep_table_layout,
        preview_table,
    )

    given = _given(points)
    entries = entries_from(None, tags)
    if layout_name is None:
        guess = guess_tables(files, given=given)
    else:
        guess = _without_guessing(changed(_named(layout_name), given))
    layout = guess.layout if layout_name is not None else for_other_files(guess.layout, given)
    layout = layout if save_layout is None else msgspec.structs.replace(layout, name=save_layout)
    if preview:
        rows = guess.preview or preview_table(files[0], layout)
        _show(files[0], guess, rows, as_json=as_json)
    else:
        _tell(guess)
    if guess.required and (save_layout is not None or not preview):
        raise BadInput(" ".join(_told(question) for question in guess.required))
    if save_layout is not None:
        click.echo(f"Layout kept: {keep_table_layout(layout)}", err=True)
    if preview:
        return 0
    header = {"machine": machine, "tags": entries.tags}
    return _import(files, layout, open_logbook(logbook), header, again=again, as_json=as_json)


def _without_guessing(layout: TableLayout) -> TableGuess:
    from benchtemp.logbook.importing import TableGuess

    return TableGuess(layout, questions=(), remarks=(), preview=())


def _given(points: dict[str, Any]) -> Given:
    from benchtemp.logbook.importing import Given

    delimiter, decimal, unit = points["delimiter"], points["decimal"], points["unit"]
    columns = points["temperature_columns"]
    return Given(
        encoding=points["encoding"],
        delimiter=None if delimiter is None else _DELIMITERS.get(delimiter.lower(), delimiter),
        decimal=_DECIMALS[decimal] if decimal else None,
        skip_lines=points["skip_lines"],
        order=points["order"],
        unit=_UNITS[unit.upper()] if unit else None,
        time_column=points["time_column"],
        date_column=points["date_column"],
        elapsed_unit=points["elapsed_unit"],
        interval_s=points["interval_s"],
        temperature_columns=tuple(name.strip() for name in columns.split(",")) if columns else (),
        junction_column=points["junction_column"],
        junction_degc=points["junction_degc"],
        weight_column=points["weight_column"],
        weight_unit=points["weight_unit"],
        none_words=points["none_words"],
    )


def _named(name: str) -> TableLayout:
    """Return a layout by its file or by the name it was saved under."""
    from benchtemp.logbook.importing import load_table_layout, named_table_layout

    if Path(name).suffix == ".toml" or Path(name).is_file():
        return load_table_layout(Path(name))
    return named_table_layout(name)


def _told(question: Question) -> str:
    if question.point == "order":
        cure = " or ".join(_ORDERS[order] for order in question.choices)
    else:
        cure = _CURES[question.point]
    return f"{question.text.rstrip('.')} (say {cure})."


def _tell(guess: TableGuess) -> None:
    """Tell on stderr what was found, and what was taken for want of better knowledge."""
    for remark in guess.remarks:
        click.echo(remark, err=True)
    for question in guess.questions:
        if not question.required:
            click.echo(_told(question), err=True)


def _show(file: Path, guess: TableGuess, rows: Sequence[PreviewRow], *, as_json: bool) -> None:
    """Show a guess and the first lines beside what is read in them."""
    from math import isfinite

    if as_json:
        _print_json(
            {
                "file": str(file),
                "layout": _plain(guess.layout),
                "remarks": list(guess.remarks),
                "questions": [_plain(question) for question in guess.questions],
                "preview": [
                    {
                        "line": row.line,
                        "raw": row.raw,
                        "t_s": row.t_s,
                        "temps_degc": [value if isfinite(value) else None for value in row.temps_degc],
                        "weight_g": row.weight_g if isfinite(row.weight_g) else None,
                    }
                    for row in rows
                ],
            }
        )
        return
    for remark in guess.remarks:
        click.echo(remark)
    for question in guess.questions:
        click.echo(f"? {_told(question)}")
    click.echo("")
    shown = [row.raw if len(row.raw) <= _SHOWN_RAW else row.raw[: _SHOWN_RAW - 1] + "…" for row in rows]
    width = max(map(len, shown), default=0)
    for raw, row in zip(shown, rows, strict=True):
        read = "not a row"
        if row.is_row:
            t_s = "?" if row.t_s is None else f"{row.t_s:g} s"
            temps = "  ".join(
                f"{value:.2f} °C" if isfinite(value) else f"{'—':>8}" for value in row.temps_degc
            )
            weight = f"  {row.weight_g:.1f} g" if isfinite(row.weight_g) else ""
            read = f"{t_s:>10}  {temps}{weight}"
        click.echo(f"{row.line:6}  {raw.ljust(width)}  |  {read}")


def _plain(value: object) -> Any:
    import msgspec

    return msgspec.to_builtins(value)


def _print_json(found: dict[str, Any]) -> None:
    import json

    click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))


def _import(
    files: Sequence[Path],
    layout: TableLayout,
    book: Logbook,
    header: dict[str, Any],
    *,
    again: bool,
    as_json: bool,
) -> int:
    from rich.console import Console
    from rich.progress import Progress

    from benchtemp.bench.recovery import keep_shots_of
    from benchtemp.logbook.importing import import_files

    console = Console(stderr=True)
    watched = console.is_terminal and len(files) > 1
    with Progress(console=console, transient=True, disable=not watched) as bar:
        task = bar.add_task("importing", total=len(files))

        def show(done: int, total: int, name: str) -> None:
            bar.update(task, completed=done, total=total, description=name)

        def keep(outcome: Imported) -> None:
            # At once: whatever stops the import later, no recording stays without its shots.
            kept = keep_shots_of(book, outcome.recording, is_new=True) if outcome.recording else ()
            _report(outcome, kept, as_json=as_json)

        outcomes = import_files(files, layout, book, progress=show, done=keep, again=again, **header)
    return 1 if any(outcome.complaint for outcome in outcomes) else 0


def _report(outcome: Imported, kept: Sequence[Path], *, as_json: bool) -> None:
    """Say what became of a file: the outcome on stdout, complaints and warnings on stderr."""
    shots, flushes = outcome.analysis.shots, outcome.analysis.flushes
    for warning in (
        *outcome.warnings,
        *(text for text in outcome.analysis.warnings if text not in outcome.warnings),
    ):
        click.echo(f"{outcome.file.name}: {warning}", err=True)
    if outcome.complaint:
        click.echo(outcome.complaint, err=True)
    if outcome.already:
        click.echo(
            f"{outcome.file.name} was imported before as {outcome.already}; say --again to import it anew.",
            err=True,
        )
    found = len(shots) + len(flushes)
    if outcome.recording and len(kept) != found:
        click.echo(
            f"{outcome.file.name}: {found} pulls are in the whole trace, {len(kept)} were kept as it came; "
            f"'benchtemp replay' tells why.",
            err=True,
        )
    if as_json:
        _print_json(
            {
                "file": str(outcome.file),
                "recording": str(outcome.recording) if outcome.recording else None,
                "already": str(outcome.already) if outcome.already else None,
                "complaint": outcome.complaint,
                "sha256": outcome.sha256,
                "started": outcome.started,
                "readings": outcome.rows,
                "shots": [shot.as_json() for shot in shots],
                "flushes": [shot.as_json() for shot in flushes],
                "kept": list(map(str, kept)),
                "reasons": list(outcome.analysis.reasons),
                "warnings": list(outcome.warnings),
            }
        )
    elif outcome.recording:
        from benchtemp.reports.terminal import shots_table

        click.echo(f"{outcome.file.name}: {outcome.rows} readings, kept as {outcome.recording}")
        pulls = sorted((*shots, *flushes), key=lambda shot: shot.result.pump_on_s)
        reasons = "; ".join(outcome.analysis.reasons)
        for line in shots_table(pulls) or [f"no shot{': ' + reasons if reasons else ' found'}"]:
            click.echo(f"  {line}")
