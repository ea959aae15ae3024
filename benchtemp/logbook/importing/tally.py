"""What was not read of a file, counted, and told in sentences."""

from __future__ import annotations

from dataclasses import dataclass, field

from benchtemp.logbook.importing.text import Text

_SHOWN = 60


@dataclass(slots=True)
class Examples:
    """How often something was met, and where first."""

    count: int = 0
    first: str = ""

    def add(self, cell: str, line: int) -> None:
        """Count a cell; `line` counts from 0."""
        self.count += 1
        self.first = self.first or f"“{short(cell)}” in line {line + 1}"


@dataclass(slots=True)
class Tally:
    """What was not read.

    Attributes:
        lines: Numbers (from 0) of lines that are no rows.
        headings: Lines of the heading met again.
        short_rows: Rows that lack cells at the end.
        unreadable: Values that are neither a number nor a word for none.
        impossible: Numbers that are no temperature of a type K probe.
        no_weight: Values that are no weight.
        cut: The last line was left out, as it looks cut off.
    """

    lines: list[int] = field(default_factory=list)
    headings: int = 0
    short_rows: int = 0
    unreadable: Examples = field(default_factory=Examples)
    impossible: Examples = field(default_factory=Examples)
    no_weight: Examples = field(default_factory=Examples)
    cut: bool = False

    def told(self, text: Text, last_row: int) -> tuple[str, ...]:
        """Return a sentence for everything that was not read; `last_row` is the line of the last row."""
        found = []
        among = [number for number in self.lines if number <= last_row]
        below = [number for number in self.lines if number > last_row]
        if among:
            were = "line is no row and was" if len(among) == 1 else "lines are no rows and were"
            sample = min(among)
            found.append(
                f"{len(among)} {were} left out, such as line {sample + 1}: “{short(text.lines[sample])}”."
            )
        if below:
            were = "line below the last row was" if len(below) == 1 else "lines below the last row were"
            found.append(f"{len(below)} {were} left out, such as “{short(text.lines[min(below)])}”.")
        if self.cut:
            found.append("The last line looks cut off within a number and was left out.")
        if self.headings:
            were = "line of the heading stands" if self.headings == 1 else "lines of the heading stand"
            found.append(f"{self.headings} {were} again among the rows.")
        if self.short_rows:
            lack = "row lacks" if self.short_rows == 1 else "rows lack"
            found.append(f"{self.short_rows} {lack} cells at the end; they are taken as no reading.")
        for examples, what in (
            (self.unreadable, "could not be read"),
            (self.impossible, "cannot be a temperature of a type K probe"),
            (self.no_weight, "cannot be a weight"),
        ):
            if examples.count:
                values = "value" if examples.count == 1 else "values"
                was = "was" if examples.count == 1 else "were"
                found.append(
                    f"{examples.count} {values} {what} and {was} left empty, such as {examples.first}."
                )
        if text.strange:
            found.append(f"Some characters are no {text.encoding} text; the file may be damaged there.")
        return tuple(found)


def short(cell: str, longest: int = _SHOWN) -> str:
    """Return a part of a foreign file fit for a sentence, on one line and at most `longest` characters."""
    text = cell.strip()[: longest + 1].replace("\t", " ")
    text = "".join(sign if sign.isprintable() else "\N{MIDDLE DOT}" for sign in text)
    return text if len(text) <= longest else text[: longest - 1] + "…"
