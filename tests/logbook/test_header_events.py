"""The quick reading of headers gives what the full one gives, or nothing."""

from __future__ import annotations

from typing import Any

import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from benchtemp.errors import BenchtempError
from benchtemp.logbook import header_text
from benchtemp.logbook.header_events import quick_header
from benchtemp.logbook.header_text import Column, header_bytes

LOADERS = [yaml.SafeLoader, *([yaml.CSafeLoader] if hasattr(yaml, "CSafeLoader") else [])]
COLUMNS = (Column("t", "float64", "s"), Column("T1", "float64", "deg_C"))

WORDS = st.sampled_from(
    [
        "no",
        "off",
        "Yes",
        "true",
        "NULL",
        "~",
        "null",
        "y",
        "12",
        "010",
        "0x1F",
        "0b11",
        "1_000",
        "1.5",
        "-0.0",
        "1.",
        ".5",
        "1e3",
        "1.5e+3",
        ".inf",
        "-.INF",
        ".nan",
        "12:30:45",
        "1:30.5",
        "2024-01-01",
        "2024-01-01T10:00:00Z",
        "=",
        "<<",
        "<<:",
        "*a",
        "&a",
        "!x",
        "!!str",
        "!!float",
        "!!omap",
        "a",
        "b_c",
        "'x'",
        "'no'",
        '"1"',
        '"\\u00e9"',
        "[]",
        "{}",
        "[1,2]",
        "{a:1}",
        "{1:a}",
        "é",
        "°C",
        "?",
        "-",
        "---",
        "...",
        "#",
        "|",
        ">",
        "%",
        "@",
        "`",
        "9223372036854775807",
        "9223372036854775808",
        "-9223372036854775808",
        "0o17",
        "1__0",
        "a:b",
    ]
)
LINES = st.lists(
    st.builds(
        lambda indent, dash, key, value: f"{'  ' * indent}{dash}{key}: {value}",
        st.integers(0, 3),
        st.sampled_from(["", "- "]),
        WORDS,
        st.lists(WORDS, max_size=2).map(" ".join),
    ),
    max_size=6,
).map("\n".join)


def full(text: str) -> Any:
    try:
        return header_text._load_fully(text, "a file")
    except BenchtempError:
        return BenchtempError


@pytest.mark.parametrize("loader", LOADERS)
@pytest.mark.parametrize(
    "word", ["1.5", "010", "no", "12:30", "é", "'010'", "1e3", ".nan", "~", "<<", "2024-01-01"]
)
def test_every_kind_of_word_is_read_as_the_full_reader_does(loader: Any, word: str) -> None:
    text = f"meta:\n  value: {word}\n  list:\n  - {word}\n"
    found = quick_header(text, loader)
    assert found is None or repr(found) == repr(full(text))


@given(LINES | st.text(max_size=40) | st.text("ab:-{}[],&*!?|>'\"#%\n 1.", max_size=40))
@example("a: &x 1")
@example("a: &x [1]")
@example("a: &x 1\nb: *x")
@example("a: 1.5e5")
@example("a: 1.5_0\nb: 0x1.8\nc: 1.5 5")
@example("a: 1\na: 2\nb: 3")
@example("a: 1\n---\nb: 2")
@example("\n".join(f"{' ' * depth}a:" for depth in range(60)))
def test_whatever_is_read_is_what_the_full_reader_gives(text: str) -> None:
    for loader in LOADERS:
        found = quick_header(text, loader)
        assert found is None or repr(found) == repr(full(text))


@given(
    st.dictionaries(
        st.text(max_size=8), st.floats() | st.integers(-(2**63), 2**63 - 1) | st.text() | st.none()
    )
)
def test_headers_of_ours_read_the_same_either_way(meta: dict[str, Any]) -> None:
    written = header_bytes(COLUMNS, meta).decode().split("\n")
    text = "\n".join(line[2:] for line in written[1:])
    found = quick_header(text, yaml.SafeLoader)
    assert found is None or repr(found) == repr(full(text))


def test_a_usual_header_needs_no_full_reader() -> None:
    meta = {
        "kind": "shot",
        "started": "2025-11-25T10:00:00+01:00",
        "tags": {"coffee": "no. 7", "day": "2025-11-25", "odd": "no"},
        "shot": {"number": 3, "counts": True, "yield_g": None, "result": {"drift_k_per_s": -1.5e-05}},
    }
    text = "\n".join(line[2:] for line in header_bytes(COLUMNS, meta).decode().split("\n")[1:])
    for loader in LOADERS:
        found = quick_header(text, loader)
        assert found is not None
        assert found["meta"] == meta
