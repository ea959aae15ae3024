"""What a document says, without how it looks: the same content becomes HTML, PDF, or text."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from benchtemp.studies.chart import Chart
from benchtemp.units import TempUnit


class Paragraph(msgspec.Struct, frozen=True):
    """A paragraph; a quiet one is beside the point, such as a remark."""

    text: str
    quiet: bool = False


class Bullets(msgspec.Struct, frozen=True):
    """Sentences one below the other."""

    items: tuple[str, ...]


class Facts(msgspec.Struct, frozen=True):
    """Names with what is to be said of each."""

    rows: tuple[tuple[str, str], ...]


class Row(msgspec.Struct, frozen=True):
    """One row of a grid; a muted one is there for completeness, such as a shot that was set aside."""

    cells: tuple[str, ...]
    muted: bool = False


class Grid(msgspec.Struct, frozen=True, kw_only=True):
    """A table.

    Attributes:
        title: Above it.
        headings: Of its columns.
        rows: Each with as many cells.
        figures: Indices of the columns that hold figures and stand flush right.
        wide: Indices of the columns that take what room is left, and may break into lines.
        fixed: Indices of the columns whose cells must stay on one line.
        code: Indices of the columns that hold digests and the like, in letters of one width.
        note: Below it.
    """

    title: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    figures: tuple[int, ...] = ()
    wide: tuple[int, ...] = ()
    fixed: tuple[int, ...] = ()
    code: tuple[int, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        assert all(len(row.cells) == len(self.headings) for row in self.rows)


class Drawing(msgspec.Struct, frozen=True):
    """A chart, with its title above and its summary below."""

    chart: Chart


Block = Paragraph | Bullets | Facts | Grid | Drawing


class Section(msgspec.Struct, frozen=True):
    """A part of a document under a heading of its own."""

    heading: str
    blocks: tuple[Block, ...]


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """What was found, in a sentence, with what it rests on and what speaks against it."""

    title: str
    sentence: str
    limits: tuple[str, ...] = ()
    concerns: tuple[str, ...] = ()


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """A whole document.

    Attributes:
        title: Of all.
        byline: What, when and by whom, one line each.
        answers: The verdicts; they come first.
        sections: In order.
        unit: Temperatures in texts and charts are in this one.
        made: When the document was made, as it is to be read.
        program: Name and version of what made it.
        number: What tells this document from any other.
    """

    title: str
    byline: tuple[str, ...]
    answers: tuple[Answer, ...]
    sections: tuple[Section, ...]
    unit: TempUnit = TempUnit.DEGC
    made: str = ""
    program: str = ""
    number: str = ""

    def charts(self) -> Iterator[Chart]:
        """Give all charts in order."""
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Drawing):
                    yield block.chart
