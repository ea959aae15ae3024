from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.logbook.index.folding import folded, needles


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Café  KESTREL", "cafe kestrel"),
        ("Straße", "strasse"),
        ("\ufb01ne \uff21\uff22\uff23", "fine abc"),
        ("İstanbul", "istanbul"),
        ("a\tb\nc\0d", "a b c d"),
        ("抽出 温度", "抽出 温度"),
        ("", ""),
    ],
)
def test_case_accents_and_width_do_not_matter(text: str, expected: str) -> None:
    assert folded(text) == expected


@given(st.text(max_size=30))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert folded(folded(text)) == folded(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("wet puck", ("wet", "puck")),
        ('"Wet  puck" slow', ("wet puck", "slow")),
        ('"unclosed phrase', ("unclosed phrase",)),
        ('""  " "', ()),
        ("same SAME", ("same",)),
        ("AND OR * ( NEAR", ("and", "or", "*", "(", "near")),
        ("x" * 5000, ("x" * 2000,)),
    ],
)
def test_a_typed_search_is_words_and_phrases(text: str, expected: tuple[str, ...]) -> None:
    assert needles(text) == expected
