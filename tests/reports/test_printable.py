import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.reports.printable import LONGEST, printable


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("93.2 °C ± 0.4, −1", "93.2 °C ± 0.4, −1"),
        ("two\nlines\tand a tab", "two lines and a tab"),
        ("nul\0 bell\a escape\x1b[31m", "nul\ufffd bell\ufffd escape\ufffd[31m"),
        ("turned\u202eround", "turned\ufffdround"),
        ("half a pair \ud83d", "half a pair \ufffd"),
        ("1\u00a0234\u202f567", "1\u00a0234\u202f567"),
        ("", ""),
    ],
)
def test_what_cannot_be_printed_is_replaced(text, shown):
    assert printable(text) == shown


def test_a_long_text_is_cut_and_says_so():
    assert printable("word " * 5000) == ("word " * 5000)[: LONGEST - 1].rstrip() + "…"
    assert printable("abcdef", 6) == "abcdef"
    assert printable("abcdefg", 6) == "abcde…"


@given(st.text())
def test_nothing_is_left_that_a_document_cannot_hold(text):
    shown = printable(text)
    assert len(shown) <= LONGEST
    assert not [char for char in shown if unicodedata.category(char) in {"Cc", "Cs", "Zl", "Zp"}]
    assert printable(shown) == shown
    shown.encode("utf-8")
