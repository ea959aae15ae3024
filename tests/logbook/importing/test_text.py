import codecs
import hashlib

import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.importing.text import ENCODINGS, known_encoding, read_text

LINES = "Zeit;Fühler °C\n10:00:00;93,2\n10:00:01;93,3\n"


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (LINES.encode(), "utf-8"),
        (codecs.BOM_UTF8 + LINES.encode(), "utf-8"),
        (LINES.encode("utf-16"), "utf-16-le"),
        (LINES.encode("utf-16-le"), "utf-16-le"),
        (LINES.encode("utf-16-be"), "utf-16-be"),
        (codecs.BOM_UTF16_BE + LINES.encode("utf-16-be"), "utf-16-be"),
        (LINES.encode("utf-32"), "utf-32-le"),
        (LINES.encode("cp1252"), "cp1252"),
        (LINES.encode("cp850"), "cp850"),
        (LINES.encode("latin-1") + b"\x81", "latin-1"),
        (LINES.encode()[:-1] + "°".encode()[:1], "utf-8"),
    ],
)
def test_the_encoding_is_found(content, encoding):
    text = read_text(content)
    assert text.encoding == encoding
    assert text.lines[:2] == ["Zeit;Fühler °C", "10:00:00;93,2"]


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_a_stated_encoding_is_used(encoding):
    text = "Time;T\n10:00:00;93,2\n"
    assert read_text(text.encode(encoding), encoding).lines == ["Time;T", "10:00:00;93,2"]


def test_a_mark_in_the_file_goes_before_a_stated_encoding():
    assert read_text(LINES.encode("utf-16"), "cp1252").lines[0] == "Zeit;Fühler °C"


@pytest.mark.parametrize("encoding", ["no such", "rot13", "base64", "hex", "idna", "\0", "punycode"])
def test_what_is_no_encoding_of_files_is_refused(encoding):
    with pytest.raises(BadInput, match="is no encoding"):
        known_encoding(encoding)


def test_names_of_encodings_are_taken_as_people_write_them():
    assert known_encoding("UTF8") == "utf-8"
    assert known_encoding("Windows-1252") == "cp1252"
    assert known_encoding("iso-8859-1") == "latin-1"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"])
def test_every_line_end_ends_lines(end):
    text = read_text(f"a;b{end}1;2{end}".encode())
    assert [line for line in text.lines if line] == ["a;b", "1;2"]
    assert text.ended


def test_signs_that_python_takes_for_line_ends_are_none():
    assert read_text("a\u2028b\x0cc\x85d\n".encode()).lines == ["a\u2028b\x0cc\x85d"]


def test_what_a_power_cut_leaves_is_dropped():
    text = read_text(b"a;b\n1;2\n" + b"\x00" * 500)
    assert text.lines == ["a;b", "1;2"]
    assert text.ended
    assert read_text(b"a;b\n1;2\n\x1a").lines == ["a;b", "1;2"]


def test_a_last_line_without_an_end_is_told():
    assert not read_text(b"a;b\n1;2").ended


def test_quotes_may_hold_a_line_end():
    assert read_text(b'"T1\n(\xc2\xb0C)";"T2\n(\xc2\xb0C)"\n1;2\n').lines[0] == '"T1 (°C)";"T2 (°C)"'
    assert read_text(b'time;"T1\n(C)"\n1;2\n').lines == ['time;"T1 (C)"', "", "1;2"]


def test_a_lone_quote_swallows_nothing():
    assert read_text(b'time;5" pipe\n1;2\n2;3\n3;4\n').lines[1:] == ["1;2", "2;3", "3;4"]


def test_the_digest_is_that_of_the_file(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(LINES.encode("utf-16"))
    text = read_text(path)
    assert text.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert text.size_bytes == path.stat().st_size
