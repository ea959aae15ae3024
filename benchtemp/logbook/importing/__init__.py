"""Other people's text files: a table of temperatures, its layout guessed, confirmed, kept and read.

`guess_table` proposes a `TableLayout` with what is open and a preview, `read_table` reads a file by one, and
`import_files` makes recordings of many. Nothing here knows any particular instrument's files.
"""

from benchtemp.logbook.importing.given import NOTHING_GIVEN, Given, changed, for_other_files
from benchtemp.logbook.importing.guess import PreviewRow, TableGuess, guess_table, guess_tables, preview_table
from benchtemp.logbook.importing.intake import Imported, import_files, imported_before
from benchtemp.logbook.importing.layout import (
    Junction,
    TableLayout,
    Temperature,
    Timing,
    Weight,
    forget_table_layout,
    keep_table_layout,
    load_table_layout,
    named_table_layout,
    save_table_layout,
    table_layouts,
)
from benchtemp.logbook.importing.question import Question
from benchtemp.logbook.importing.reader import read_table
from benchtemp.logbook.importing.trial import Trial, try_guess, try_layout

__all__ = [
    "NOTHING_GIVEN",
    "Given",
    "Imported",
    "Junction",
    "PreviewRow",
    "Question",
    "TableGuess",
    "TableLayout",
    "Temperature",
    "Timing",
    "Trial",
    "Weight",
    "changed",
    "for_other_files",
    "forget_table_layout",
    "guess_table",
    "guess_tables",
    "import_files",
    "imported_before",
    "keep_table_layout",
    "load_table_layout",
    "named_table_layout",
    "preview_table",
    "read_table",
    "save_table_layout",
    "table_layouts",
    "try_guess",
    "try_layout",
]
