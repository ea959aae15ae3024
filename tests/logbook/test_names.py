from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from benchtemp.logbook.names import free_paths, month_part, recording_name, safe_part, shot_name

WINDOWS_DEVICES = {"CON", "PRN", "AUX", "NUL", *(f"{d}{n}" for d in ("COM", "LPT") for n in range(10))}


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Kestrel Two", "Kestrel-Two"),
        ("../../x", "x"),
        ("..\\..\\x", "x"),
        ("/etc/passwd", "etc-passwd"),
        ("C:\\x", "C-x"),
        ("CON", "_CON"),
        ("nul.txt", "_nul.txt"),
        ("com¹", "_com1"),
        ("group 1.5 bar", "group-1.5-bar"),
        ("☕☕☕", "unnamed"),
        ("", "unnamed"),
        (".hidden", "hidden"),
        ("ends with dot. ", "ends-with-dot"),
        ("a\0b\nc\u202ed", "a-b-c-d"),
        ("Küche Süd", "Küche-Süd"),
        ("机器一号", "机器一号"),
        ("\uff0e\uff0e\uff0fx", "x"),
    ],
)
def test_what_is_typed_becomes_a_part_of_a_name(typed: str, kept: str) -> None:
    assert safe_part(typed) == kept


@given(st.text(max_size=400))
@example("x" * 300)
@example("ﷺ" * 300)
@example("e\u0301" * 200)
def test_any_text_gives_a_name_that_works_everywhere(text: str) -> None:
    for name in (safe_part(text), recording_name("", text), shot_name("nonsense", text, 3)):
        assert 0 < len(name.encode()) < 120
        assert Path("folder", name).parent == Path("folder")
        assert not re.search(r'[<>:"/\\|?*\x00-\x1f]', name)
        assert name[-1] not in ". "
        assert name[0] != "."
        assert ".." not in name
        assert name.partition(".")[0].upper() not in WINDOWS_DEVICES
        assert name.isprintable()


def test_names_sort_by_moment_and_number() -> None:
    early = shot_name("2025-11-25T09:59:59+01:00", "Z", 2)
    late = shot_name("2025-11-25T10:00:00+01:00", "A", 1)
    assert sorted([late, early]) == [early, late]
    assert late == "20251125-100000_A_shot-001"
    assert month_part("2025-11-25T10:00:00+01:00") == "2025-11"
    assert re.fullmatch(r"\d{4}-\d\d", month_part("no moment"))
    assert month_part("0001-01-01") == "0001-01"


def test_free_names_never_end() -> None:
    names = [path.name for path in itertools.islice(free_paths(Path("a.b.ecsv")), 3)]
    assert names == ["a.b.ecsv", "a.b-2.ecsv", "a.b-3.ecsv"]
