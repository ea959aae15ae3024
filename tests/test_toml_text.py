"""TOML from anybody: any text comes back as it was written, and no name keeps the parser busy."""

import contextlib
import time
import tomllib

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.toml_text import PARTS_MAX, parse_toml

SOON_S = 5.0
LETTERS = st.characters(exclude_categories=["Cs"])
TEXTS = st.text(LETTERS, max_size=40) | st.text("'\"\\#.\n= []{}a", max_size=40)
VALUES = st.recursive(
    st.integers(-(2**63), 2**63 - 1) | st.floats(allow_nan=False) | st.booleans() | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(TEXTS, VALUES, max_size=4), st.booleans())
def test_whatever_is_written_is_read_again(written, lines):
    content = tomli_w.dumps(written, multiline_strings=lines)
    # A line end of another system within a text becomes ours, by the writer's own choice.
    assert parse_toml(content.encode()) == tomllib.loads(content)


@pytest.mark.parametrize("quote", ['"', "'", '"""', "'''"])
@pytest.mark.parametrize(
    "before", ["", "# one 'half \" of a pair ...\n", "c = '''it\"s''''\n", 'd = "\\""\n']
)
def test_dots_in_a_text_are_no_name(quote, before):
    dots = "." * 5000
    content = f"{before}a = {quote}{dots}{quote} # {dots}\nb = [{'0.5, ' * 3000}]\n"
    found = parse_toml(content.encode())
    assert found["a"] == dots
    assert len(found["b"]) == 3000


@pytest.mark.parametrize(
    "name",
    [
        "{}",
        "{}=1",
        "[{}]",
        "[[{}]]",
        "x = {{{}=1}}",
        "a = '#'\n{}=1",
        'a = """\\"""" #"\n{}=1',
        "a=[1, {{{} = 2}}]",
    ],
)
@pytest.mark.parametrize("dot", [".", " . ", "\t.", "'.'.", '".".'])
def test_a_name_of_many_parts_is_refused_at_once(name, dot):
    content = name.format("a".join([dot] * 100_000))
    began_s = time.monotonic()
    with pytest.raises(ValueError, match="more than 32 parts"):
        parse_toml(content.encode())
    assert time.monotonic() - began_s < SOON_S


def test_as_many_parts_as_allowed_are_read():
    name = ".".join(["a"] * PARTS_MAX)
    found = parse_toml(f"[{name}]\n".encode())
    for _ in range(PARTS_MAX):
        found = found["a"]
    assert found == {}


@pytest.mark.parametrize(
    "content",
    [
        b"\xff",
        b"a = [" + b"[" * 50_000,
        b"a = " + b"{b = " * 50_000,
        b"a = 9" + b"9" * 100_000,
        b'a = "',
        b'"""' + b"\\" * 1_000_001,
        b'a = "' + b'\\"' * 500_000,
        b"a = '''" + b"''a" * 300_000,
    ],
    ids=["no text", "lists", "tables", "digits", "open", "escapes", "escaped quotes", "quotes"],
)
def test_what_cannot_be_read_is_told_soon(content):
    began_s = time.monotonic()
    with pytest.raises(ValueError):
        parse_toml(content)
    assert time.monotonic() - began_s < SOON_S


@given(
    st.text("\"'#\\.\n=[]{}a1, ", max_size=60) | st.binary(max_size=60).map(lambda raw: raw.decode("latin-1"))
)
def test_it_reads_what_the_parser_reads(text):
    with contextlib.suppress(ValueError, RecursionError):
        found = tomllib.loads(text)
        assert parse_toml(text.encode()) == found
