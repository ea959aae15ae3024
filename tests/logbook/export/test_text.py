from __future__ import annotations

import csv
import io
import json
import re
from typing import TYPE_CHECKING

import msgspec
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from benchtemp.logbook.export.record import Record, records
from benchtemp.logbook.export.text import csv_text, defused, json_text
from benchtemp.logbook.index import Kind, LogbookIndex, Query

if TYPE_CHECKING:
    from collections.abc import Callable

ALL = Query(limit=None, sort="number", descending=False)
FORMULA = '=HYPERLINK("http://x.invalid","click")'


def table(index: LogbookIndex) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO("".join(csv_text(records(index, ALL, bench="North"))))))


def test_a_table_has_one_row_for_each_shot_and_one_column_for_each_tag(
    filled: Callable[..., LogbookIndex],
) -> None:
    index = filled(("Kestrel Two", "2025-11"), ("Umber", "2025-12"))
    first, second = table(index)
    assert (first["bench"], first["machine"], second["machine"]) == ("North", "Kestrel Two", "Umber")
    assert (first["month"], first["pulled"]) == ("2025-11", "2025-11-05T10:00:00+01:00")
    assert (float(first["brew_temp_degc"]), float(first["drift_k_per_s"])) == (94.0, -0.01)
    assert (first["counts"], first["verdict"], first["shot_time_s"]) == ("true", "within", "26.0")
    assert (first["sd_k"], first["tag.coffee"]) == ("", "house blend")
    assert {*first} == ({*Record.__struct_fields__} - {"tags"}) | {"tag.coffee"}


def test_no_cell_and_no_heading_is_a_formula(filled: Callable[..., LogbookIndex]) -> None:
    index = filled((FORMULA, "2025-11"), **{FORMULA: "@SUM(1)", "coffee": FORMULA, "offset": "-0.5"})
    (row,) = table(index)
    assert row["machine"] == f"'{FORMULA}"
    assert row["tag.coffee"] == f"'{FORMULA}"
    assert row[f"tag.{FORMULA}"] == "'@SUM(1)"
    assert row["tag.offset"] == "-0.5"
    assert row["notes"] == "wet puck\n'-0.5 g spilt"
    assert row["remarks"] == "'+1 remark"
    for cell in [*row, *row.values()]:
        assert cell[:1] not in ("=", "@", "+") or re.fullmatch(r"[+-]?[\d.]+", cell)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("=1+1", "'=1+1"),
        (" =1+1", "' =1+1"),
        ("+49 30 123", "'+49 30 123"),
        ("-", "'-"),
        ("- wet", "'- wet"),
        ("@x", "'@x"),
        ("\t=x", "'\t'=x"),
        ("\rx", "'\rx"),
        ("\uff1dx", "'\uff1dx"),
        ("a;=x", "a;'=x"),
        ("a\n=x", "a\n'=x"),
        ("-0.5", "-0.5"),
        ("+1,5", "+1,5"),
        ("house-blend = good", "house-blend = good"),
        ("93.5", "93.5"),
        ("", ""),
    ],
)
def test_only_what_a_spreadsheet_would_compute_gets_an_apostrophe(text: str, expected: str) -> None:
    assert defused(text) == expected


@given(st.text(st.sampled_from("=+-@;\t\r\n 'a1.\uff1d\ufeff\""), max_size=8))
@example("\n\n=")
def test_no_part_of_a_cell_begins_a_formula_wherever_it_is_cut(text: str) -> None:
    made = defused(text)
    if re.fullmatch(r"[+-]?\d+([.,]\d+)?", made):
        return
    for part in re.split(r"[;\t\r\n]", made):
        assert not re.match(r"[\s\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20]", part)
    assert not made.startswith(("\t", "\r", "\n"))
    assert made.replace("'", "") == text.replace("'", "")


def test_json_holds_everything_as_it_is(filled: Callable[..., LogbookIndex]) -> None:
    index = filled((FORMULA, "2025-11"), ("Café", ""))
    found = list(records(index, ALL, bench="North"))
    text = "".join(json_text(found))
    assert json.loads(text)[0]["machine"] == FORMULA
    assert msgspec.json.decode(text, type=list[Record]) == found
    assert json.loads("".join(json_text([]))) == []
    assert len(text.splitlines()) == 4


def test_only_shots_are_exported_unless_flushes_are_asked_for(filled: Callable[..., LogbookIndex]) -> None:
    index = filled(("Kestrel", "2025-11"))
    assert len(list(records(index, Query(limit=None), bench=""))) == 1
    for kinds, expected in (((Kind.RECORDING, Kind.UNREADABLE), 0), ((Kind.SHOT, Kind.RECORDING), 1)):
        assert len(list(records(index, Query(limit=None, kinds=kinds), bench=""))) == expected
