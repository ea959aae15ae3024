"""Results and tables for the clipboard: as text that a spreadsheet takes apart, and as HTML for a letter.

Nothing a person typed can become a formula in a spreadsheet or markup in a letter.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.logbook.export.text import defused
from benchtemp.reports.content import Answer, Facts, Grid, Row
from benchtemp.reports.printable import printable
from benchtemp.reports.sections.phrases import moment
from benchtemp.reports.sections.shots_section import shots_grid
from benchtemp.reports.sections.study_section import table_grid
from benchtemp.reports.tested import TestedShot
from benchtemp.shots.shot import Shot
from benchtemp.studies.evidence.shot_record import record_of
from benchtemp.studies.outcome import Study, Table
from benchtemp.studies.wording import number, percent
from benchtemp.units import MINUS, TempUnit, degc_to, delta_to

if TYPE_CHECKING:
    from markupsafe import Markup

_PLAIN_NEGATIVE = re.compile(rf"{MINUS}\d[\d.]*")
_RATIO = re.compile(r"1:(\d+\.\d+)")
_CELL = "border:1px solid #c4c9cb;padding:2px 8px;text-align:"


def shots_as_text(shots: Iterable[Shot], unit: TempUnit = TempUnit.DEGC) -> str:
    """Return shots as lines with tabs between the cells, heads first; empty without shots."""
    tested = _tested(shots)
    return _grid_text(shots_grid(tested, unit)) if tested else ""


def shots_as_html(shots: Iterable[Shot], unit: TempUnit = TempUnit.DEGC) -> str:
    """Return shots as an HTML table; empty without shots."""
    tested = _tested(shots)
    return _grid_html(shots_grid(tested, unit)) if tested else ""


def shot_as_text(shot: Shot, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return the figures of one shot as lines of name, tab and value."""
    return "".join(f"{name}\t{_cell(value)}\n" for name, value in _figures(shot, unit).rows)


def shot_as_html(shot: Shot, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return the figures of one shot as an HTML table with a row for each."""
    rows = tuple(Row(row) for row in _figures(shot, unit).rows)
    return _grid_html(Grid(title="", headings=("figure", "value"), rows=rows))


def table_as_text(table: Table) -> str:
    """Return a study's table as lines with tabs between the cells."""
    return _grid_text(table_grid(table))


def table_as_html(table: Table) -> str:
    """Return a study's table as an HTML table."""
    return _grid_html(table_grid(table))


def study_as_text(study: Study, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return a study's verdict, what speaks against it, and its tables as text."""
    verdict = study.verdict(unit)
    lines = [study.title, verdict.sentence]
    if verdict.limits:
        lines.append(f"({'; '.join(verdict.limits)})")
    lines += [f"! {concern}" for concern in verdict.concerns]
    head = "".join(f"{defused(printable(line))}\n" for line in lines)
    return head + "".join(f"\n{table.title}\n{table_as_text(table)}" for table in study.tables(unit))


def study_as_html(study: Study, unit: TempUnit = TempUnit.DEGC) -> str:
    """Return a study's verdict, what speaks against it, and its tables as HTML."""
    from markupsafe import Markup  # noqa: PLC0415  (start-up time)

    verdict = study.verdict(unit)
    parts = [
        Markup("<h3>{}</h3>").format(printable(study.title)),
        Markup("<p><strong>{}</strong></p>").format(printable(verdict.sentence)),
    ]
    if verdict.limits:
        parts.append(Markup("<p>{}</p>").format(printable("; ".join(verdict.limits))))
    parts += [Markup("<p>! {}</p>").format(printable(concern)) for concern in verdict.concerns]
    tables = "".join(f"{table_as_html(table)}" for table in study.tables(unit))
    return "".join(parts) + tables


def answers_as_text(answers: Sequence[Answer]) -> str:
    """Return verdicts as text, with what they rest on and what speaks against them."""
    lines: list[str] = []
    for answer in answers:
        lines += [""] if lines else []
        lines += [answer.title, answer.sentence]
        lines += [f"({'; '.join(answer.limits)})"] if answer.limits else []
        lines += [f"! {concern}" for concern in answer.concerns]
    return "".join(f"{defused(printable(line, 1000))}\n" for line in lines)


def answers_as_html(answers: Sequence[Answer]) -> str:
    """Return verdicts as HTML."""
    from markupsafe import Markup  # noqa: PLC0415  (start-up time)

    parts: list[str] = []
    for answer in answers:
        parts.append(Markup("<h3>{}</h3>").format(printable(answer.title)))
        parts.append(Markup("<p><strong>{}</strong></p>").format(printable(answer.sentence, 1000)))
        if answer.limits:
            parts.append(Markup("<p>{}</p>").format(printable("; ".join(answer.limits), 1000)))
        parts += [Markup("<p>! {}</p>").format(printable(concern, 1000)) for concern in answer.concerns]
    return "".join(parts)


def _tested(shots: Iterable[Shot]) -> list[TestedShot]:
    return [
        TestedShot(
            shot=shot,
            record=record_of(shot),
            path=Path(shot.path),
            file=Path(shot.path).name,
            used=shot.counts,
        )
        for shot in shots
    ]


def _figures(shot: Shot, unit: TempUnit) -> Facts:
    result = shot.result

    def temp(value: float | None) -> str:
        return f"{number(None if value is None else degc_to(value, unit), 2)} {unit.symbol}"

    def delta(value: float | None) -> str:
        return f"{number(None if value is None else delta_to(value, unit), 2)} {unit.symbol}"

    drift = None if result.drift_k_per_s is None else 60.0 * result.drift_k_per_s
    rows = [
        ("machine", shot.tags.get("machine", "")),
        ("pulled", moment(shot.started)),
        ("brew temperature", temp(result.brew_temp_degc)),
        ("expanded uncertainty (k = 2)", delta(shot.brew_temp_expanded_uncertainty_k)),
        ("standard deviation", delta(result.sd_k)),
        ("highest", temp(result.highest_degc)),
        ("lowest", temp(result.lowest_degc)),
        ("drift per minute", delta(drift)),
        ("in target band", "—" if result.in_band_share is None else percent(result.in_band_share)),
        ("time to plateau", f"{number(result.time_to_plateau_s, 1)} s"),
        ("plateau", f"{number(result.plateau_s or None, 1)} s"),
        ("time", f"{number(result.shot_time_s, 1)} s"),
        ("dose", f"{number(shot.dose_g, 1)} g"),
        ("yield", f"{number(shot.yield_g, 1)} g"),
        ("brew ratio", number(shot.brew_ratio, 2)),
        ("counts", "yes" if shot.counts else f"no: {'; '.join(shot.reasons)}"),
    ]
    kept = ((name, value) for name, value in rows if value and not value.startswith("—"))
    return Facts(tuple((name, printable(value, 400)) for name, value in kept))


def _cell(text: str) -> str:
    """Return a cell as a spreadsheet should take it: numbers as numbers, nothing as a formula or a time."""
    shown = printable(text)
    ratio = _RATIO.fullmatch(shown)
    if ratio:
        return ratio[1]
    return shown.replace(MINUS, "-") if _PLAIN_NEGATIVE.fullmatch(shown) else defused(shown)


def _grid_text(grid: Grid) -> str:
    rows = [grid.headings, *(row.cells for row in grid.rows)]
    return "".join("\t".join(_cell(cell) for cell in row) + "\n" for row in rows)


def _grid_html(grid: Grid) -> str:
    """Return a table that carries its look with it, since a letter knows none of our styles."""
    from markupsafe import Markup  # noqa: PLC0415

    def cells(tag: str, texts: Sequence[str]) -> Markup:
        made = (
            Markup('<{0} style="{1}{2}">{3}</{0}>').format(
                Markup(tag),  # noqa: S704  (th or td)
                Markup(_CELL),  # noqa: S704  (our own style)
                Markup("right" if column in grid.figures else "left"),  # noqa: S704
                _cell(text),
            )
            for column, text in enumerate(texts)
        )
        return Markup("<tr>{}</tr>").format(Markup("").join(made))

    caption = Markup("<caption>{}</caption>").format(printable(grid.title)) if grid.title else Markup("")
    head = cells("th", grid.headings)
    body = Markup("\n").join(cells("td", row.cells) for row in grid.rows)
    return str(
        Markup(
            '<table style="border-collapse:collapse">{}<thead>{}</thead>\n<tbody>{}</tbody></table>\n'
        ).format(caption, head, body)
    )
