from __future__ import annotations

import datetime as dt
import importlib.util
import sys
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.logbook import header_text
from benchtemp.logbook.header_text import Column, plain

if TYPE_CHECKING:
    from types import ModuleType

COLUMNS = (Column("t", "float64", "s"), Column("T1", "float64", "deg_C"))
ODD = [
    "a\nb: c",
    "x\u2028y",
    "x\x85y",
    "# no comment",
    "- x",
    "\ufeffx",
    "tab\there",
    "'",
    '"',
    "é °C ☕",
    " x ",
    "\0",
]


@pytest.fixture(params=["compiled", "pure Python"])
def module(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Return the module as it is, and as it is where PyYAML was built without its compiled half."""
    if request.param == "compiled":
        return header_text
    monkeypatch.delattr(yaml, "CSafeLoader", raising=False)
    monkeypatch.delattr(yaml, "CSafeDumper", raising=False)
    name = "header_text_pure"
    spec = importlib.util.spec_from_file_location(name, header_text.__file__)
    assert spec is not None
    assert spec.loader is not None
    loaded = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, name, loaded)
    spec.loader.exec_module(loaded)
    return loaded


@pytest.mark.parametrize("text", ODD)
def test_no_text_breaks_out_of_its_line(module: ModuleType, text: str) -> None:
    written = module.header_bytes(COLUMNS, {text: [text, {"x": text}]})
    assert all(line.startswith("# ") for line in written.decode().splitlines())
    found = module.parse_header(written + b"t,T1\n", "a file")
    assert found.meta == {text: [text, {"x": text}]}
    assert found.rows_at == len(written)


def test_both_halves_read_what_the_other_wrote(module: ModuleType) -> None:
    values = st.dictionaries(
        st.text(max_size=5), st.text(max_size=10) | st.floats(allow_nan=False) | st.booleans()
    )

    @given(values)
    def check(meta: dict[str, Any]) -> None:
        for writer, reader in ((module, header_text), (header_text, module)):
            content = writer.header_bytes(COLUMNS, meta) + b"t,T1\n"
            assert reader.parse_header(content, "a file").meta == meta

    check()


def test_both_halves_refuse_aliases(module: ModuleType) -> None:
    with pytest.raises(BadInput, match="aliases"):
        module.parse_header(b"# %ECSV 1.0\n# ---\n# a: &a [1]\n# b: *a\nt\n", "a file")


class Colour(StrEnum):
    RED = "red"


def test_values_of_other_kinds_become_plain() -> None:
    moment = dt.datetime(2025, 11, 25, 10, tzinfo=dt.UTC)
    found = plain(
        {"e": Colour.RED, "t": (1, 2), "d": moment, "n": np.float64(1.5), "i": np.int64(3), 4: b"\x01"}
    )
    assert found == {"e": "red", "t": [1, 2], "d": "2025-11-25T10:00:00+00:00", "n": 1.5, "i": 3, "4": "01"}
    assert [type(found[key]) for key in "eni"] == [str, float, int]


def test_what_has_no_plain_form_is_refused() -> None:
    endless: list[Any] = []
    endless.append(endless)
    for value in (object(), endless, 2**64):
        with pytest.raises(BadInput):
            plain(value)
