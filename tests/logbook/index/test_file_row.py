"""Rows from headers that hold anything at all."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import Kind, LogbookIndex, Query, Row
from benchtemp.logbook.index.file_row import FileRow, row_of
from benchtemp.logbook.index.scan import Found
from benchtemp.logbook.index.writing import put, utc_s

FOUND = Found("shots/2025-11/20251125-101502_x.ecsv", 10, 20)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**63 - 1) | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)
WORDS = st.sampled_from(
    [
        *(
            "kind",
            "started",
            "machine",
            "channels",
            "basket_channel",
            "recipe",
            "tags",
            "notes",
            "shot",
            "name",
        ),
        *("probe", "number", "pulled", "yield_g", "verdict", "counts", "reasons", "set_aside", "result"),
        *("dose_g", "pump_on_s", "pump_off_s", "correction", "checked"),
    ]
)
METAS = st.dictionaries(
    WORDS, VALUES | st.dictionaries(WORDS, VALUES | st.just("shot"), max_size=4), max_size=6
)


@given(meta=METAS, is_shot=st.booleans())
def test_no_header_upsets_the_index(
    meta: dict[str, Any], *, is_shot: bool, tmp_path_factory: pytest.TempPathFactory
) -> None:
    if is_shot:
        meta = {**meta, "kind": "shot"}
    row = row_of(meta, FOUND)
    assert msgspec.json.decode(msgspec.json.encode(row), type=Row) == row
    index = LogbookIndex(Logbook(tmp_path_factory.getbasetemp() / "any"))
    index._store.write(lambda db: put(db, [FileRow(row, b"{}")], 1))
    assert row in index.search(Query(limit=None)).rows


def test_the_moment_comes_from_the_name_where_the_header_has_none() -> None:
    assert row_of({"started": "soon"}, FOUND).moment == "2025-11-25T10:15:02"
    assert row_of({"started": "2024-02-29T10:00:00+01:00"}, FOUND).moment == "2024-02-29T10:00:00+01:00"
    assert row_of({}, Found("recordings/x.ecsv", 1, 1)).moment == ""


def test_moments_are_compared_across_time_zones() -> None:
    assert utc_s("2025-11-25T10:00:00+01:00") == utc_s("2025-11-25T09:00:00Z") == utc_s("2025-11-25T09:00:00")
    assert utc_s("2025-11-25") is not None
    for text in ("", "soon", "0001-01-01T00:00:00+23:00", "9999-12-31T23:59:59-23:00"):
        assert utc_s(text) is None or isinstance(utc_s(text), float)


def test_the_baskets_probe_comes_first() -> None:
    channels = [
        {"name": "T1", "probe": "group"},
        {"name": "T2", "probe": "basket 1", "correction": {"probe": "basket 1", "checked": "2025-01-02"}},
        {"name": "T3"},
    ]
    row = row_of({"channels": channels, "basket_channel": "T2"}, FOUND)
    assert (row.probe, row.probes, row.checked) == ("basket 1", ("basket 1", "group"), "2025-01-02")
    assert row_of({"channels": channels}, FOUND).probe == "group"


def test_figures_that_are_no_numbers_are_left_out() -> None:
    result = {"brew_temp_degc": float("nan"), "sd_k": "0.1", "drift_k_per_s": True, "pump_on_s": 1.0}
    row = row_of({"kind": "shot", "shot": {"result": result, "number": -3, "verdict": "superb"}}, FOUND)
    assert row.kind is Kind.SHOT
    assert (row.brew_temp_degc, row.sd_k, row.drift_k_per_s, row.shot_time_s, row.number) == (
        None,
        None,
        None,
        None,
        0,
    )
    assert (row.verdict, row.counts) == ("not given", False)
