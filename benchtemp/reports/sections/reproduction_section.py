"""How to get the same figures again: the files with their digests, the program, the commands."""

from __future__ import annotations

from collections.abc import Sequence

from benchtemp.reports.content import Block, Facts, Grid, Paragraph, Row, Section
from benchtemp.reports.printable import printable
from benchtemp.reports.tested import Tested


def reproduction_section(tested: Tested, *, program: str, commands: Sequence[str] = ()) -> Section:
    """Return files with digests, program version and commands.

    Args:
        tested: What the report is made from.
        program: Name, version and what it runs on.
        commands: Command lines that give the same figures again.
    """
    blocks: list[Block] = [
        Paragraph(
            "The files below hold the readings as the interface sent them, with marks, recipe and tags; "
            "the same program gets the same figures out of them, on any computer. A file is unchanged "
            "if its SHA-256 digest is the one given here."
        ),
        Facts(
            (("Program", printable(program, 200)), *(("Command", printable(one, 600)) for one in commands))
        ),
        Grid(
            title="Files",
            headings=("file", "holds", "shots", "bytes", "edits", "SHA-256"),
            rows=tuple(
                Row(
                    (
                        file.name,
                        printable(file.what, 40),
                        str(file.shots or "—"),
                        f"{file.size:,}".replace(",", "\N{NO-BREAK SPACE}"),
                        str(file.edits),
                        file.sha256,
                    )
                )
                for file in tested.files
            ),
            figures=(2, 3, 4),
            wide=(0,),
            code=(5,),
            note="A recording without shots of its own is the one that shot files were cut from; pump "
            "marks and idle times come from it.",
        ),
    ]
    return Section("How to reproduce it", tuple(blocks))
