from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, BenchtempError, StorageError
from benchtemp.readings.layout import (
    LARGEST_FILE_BYTES,
    Channel,
    Junction,
    Layout,
    Register,
    Weight,
    Wire,
    layout_from_toml,
    load_layout,
    save_layout,
    shipped_layout,
    shipped_layouts,
)
from benchtemp.readings.opening import open_source

ONE = 'name = "x"\n[[channels]]\nfield = 1\n'

FULL = [
    Layout(
        name="Everything °C",
        description="Two lines\nof text",
        separator=";",
        decimal=",",
        fields=4,
        channels=(Channel(field=1, unit="mV"), Channel(field=2, unit="degF")),
        weight=Weight(field=3, unit="oz"),
        junction=Junction(field=4, unit="K"),
        junction_degc=21.5,
        request="READ?",
        line_end="CRLF",
        period_s=0.25,
        reply_s=2.0,
        wire=Wire(baud=115200, data_bits=7, parity="even", stop_bits=2),
    ),
    Layout(
        name="Registers",
        kind="modbus",
        unit_address=17,
        period_s=1.0,
        channels=(
            Channel(
                unit="K",
                register=Register(
                    address=100,
                    function=4,
                    number="int32",
                    order="CDAB",
                    scale=0.01,
                    offset=-1.5,
                    unit_address=3,
                    none_values=(-1, 7),
                ),
            ),
        ),
    ),
    Layout(name="Scale", kind="scale", weight=Weight(unit="kg"), tare="Z"),
]


@pytest.mark.parametrize("layout", FULL, ids=lambda layout: layout.name)
def test_a_layout_reads_back_as_it_was_saved(layout, tmp_path):
    path = tmp_path / "new folder" / "mine.toml"
    save_layout(layout, path)
    assert load_layout(path) == layout
    assert [entry.name for entry in path.parent.iterdir()] == ["mine.toml"]
    save_layout(layout, path)
    assert load_layout(path) == layout


LETTERS = st.characters(exclude_categories=["Cs"])


@given(
    name=st.text(LETTERS, min_size=1, max_size=200).filter(str.strip),
    description=st.text(LETTERS, max_size=60) | st.just("." * 5000),
    keys=st.lists(st.text(LETTERS, min_size=1, max_size=20), min_size=1, max_size=8, unique=True),
    request=st.text("?.#\"'\\A\r\x02", max_size=20),
)
def test_whatever_layout_there_can_be_reads_back(tmp_path, name, description, keys, request):
    layout = Layout(
        name=name, description=description, channels=tuple(Channel(key=key) for key in keys), request=request
    )
    save_layout(layout, tmp_path / "any.toml")
    assert load_layout(tmp_path / "any.toml") == layout


def test_a_name_of_very_many_parts_is_refused_soon(tmp_path):
    (tmp_path / "parts.toml").write_text("a." * 30_000 + "a = 1")
    with pytest.raises(BadInput, match=r"parts.toml is not valid TOML: it has a name of more than"):
        load_layout(tmp_path / "parts.toml")


def test_what_is_not_said_is_the_usual():
    layout = layout_from_toml(ONE.encode(), "x.toml")
    assert layout == Layout(name="x", channels=(Channel(field=1),))
    assert layout.channel_names == ("T1",)
    assert layout.wire.character_s == pytest.approx(10 / 9600)
    assert Wire(parity="even", stop_bits=2).character_s == pytest.approx(12 / 9600)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = ", "not valid TOML"),
        ("[[channels]]\nfield = 1", "lacks the entry “name”"),
        (ONE + "baud = 9600", "no entry “baud” - at “channels[0]”"),
        ('name = "x"\n' + "kind = 'lynes'\n", "at “kind”"),
        (ONE + "[wire]\nbaud = 'fast'", "at “wire.baud”"),
        (ONE + "[wire]\nbaud = 3", "3 baud"),
        ('name = "x"', "0 channels"),
        ('name = ""\n[[channels]]\nfield = 1', "needs a name"),
        ("name = 'x'\n" + "[[channels]]\nfield = 1\n" * 9, "9 channels"),
        ("name = 'x'\n" + "[[channels]]\nfield = 1\n" * 2, "same place"),
        ("name = 'x'\n[[channels]]\nfield = 0", "counted from 1"),
        ("name = 'x'\n[[channels]]\nfield = 1\nlabel = 'T1'", "exactly one of"),
        ("name = 'x'\n[[channels]]\nunit = 'K'", "exactly one of"),
        ("name = 'x'\n[[channels]]\nfield = 1\n[[channels]]\nkey = 'a'", "same way"),
        ("name = 'x'\n[[channels]]\nlabel = ' '", "empty label"),
        ("name = 'x'\n[[channels]]\nkey = ''", "empty key"),
        ("name = 'x'\n[[channels]]\nfield = 1\nregister = {address = 1}", "kind = “modbus”"),
        ("name = 'x'\nfields = 1\n[[channels]]\nfield = 2", "beyond the 1"),
        ("name = 'x'\ndecimal = ','\n[[channels]]\nfield = 1", "a comma cannot stand both"),
        ("name = 'x'\nseparator = '1'\n[[channels]]\nfield = 1", "without digits"),
        ("name = 'x'\nseparator = '°'\n[[channels]]\nfield = 1", "ASCII"),
        ("name = 'x'\nperiod_s = -1\n[[channels]]\nfield = 1", "period"),
        ("name = 'x'\nperiod_s = nan\n[[channels]]\nfield = 1", "period"),
        ("name = 'x'\nreply_s = 0\n[[channels]]\nfield = 1", "reply"),
        ("name = 'x'\njunction_degc = 5000\n[[channels]]\nfield = 1", "5000"),
        ("name = 'x'\nkind = 'modbus'\n[[channels]]\nfield = 1", "needs a register"),
        ("name = 'x'\nkind = 'modbus'\n[[channels]]\nregister = {address = 70000}", "70000"),
        ("name = 'x'\nkind = 'modbus'\n[[channels]]\nregister = {address = 1, scale = 0}", "scale"),
        (
            "name = 'x'\nkind = 'modbus'\nunit_address = 0\n[[channels]]\nregister = {address = 1}",
            "between 1 and 247",
        ),
        ("name = 'x'\nkind = 'modbus'\n[[channels]]\nregister = {address = 1, unit_address = 900}", "900"),
        ("name = 'x'\nkind = 'modbus'\n[[channels]]\nunit = 'mV'\nregister = {address = 1}", "voltage"),
        (
            "name = 'x'\nkind = 'modbus'\nrequest = 'A'\n[[channels]]\nregister = {address = 1}",
            "instead of a request",
        ),
        ("name = 'x'\nkind = 'scale'\n[[channels]]\nfield = 1", "no temperature channels"),
        ("name = 'x'\nkind = 'scale'\n[weight]\nlabel = 'W'", "field"),
    ],
)
def test_a_bad_file_is_refused_with_what_is_wrong_and_where(text, said, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_layout(path)
    assert said in str(caught.value)
    assert str(path) in str(caught.value)


def test_files_that_are_no_layouts_are_refused(tmp_path):
    with pytest.raises(BadInput, match="no layout file"):
        load_layout(tmp_path / "none.toml")
    with pytest.raises(BadInput, match="cannot be read"):
        load_layout(tmp_path)
    large = tmp_path / "large.toml"
    large.write_bytes(ONE.encode() + b"#" * LARGEST_FILE_BYTES)
    with pytest.raises(BadInput, match="too large"):
        load_layout(large)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('name = "°"'.encode("latin-1"))
    with pytest.raises(BadInput, match="UTF-8"):
        load_layout(latin)
    deep = tmp_path / "deep.toml"
    deep.write_text("a = " + "[" * 20000, encoding="utf-8")
    with pytest.raises(BadInput, match="not valid TOML"):
        load_layout(deep)


@given(
    st.binary(max_size=200)
    | st.text(alphabet='name=x"[]channelsfield \n0123456789.', max_size=120).map(str.encode)
)
def test_no_content_gives_anything_but_a_layout_or_a_sentence(content):
    with contextlib.suppress(BenchtempError):
        layout_from_toml(content, "x.toml")


def test_a_disk_that_refuses_is_told(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StorageError, match="could not be saved"):
        save_layout(FULL[0], tmp_path / "file" / "mine.toml")


def test_all_shipped_layouts_load_and_can_be_used():
    layouts = shipped_layouts()
    assert {layout.kind for layout in layouts.values()} == {"lines", "modbus", "scale"}
    assert len({layout.name for layout in layouts.values()}) == len(layouts) >= 10
    for short, layout in layouts.items():
        assert layout.description.endswith("."), short
        source = open_source("loop://", layout, emf_to_degc=lambda emf_mv, _junction_degc: emf_mv * 25)
        assert source.channels == layout.channel_names


def test_shipped_layouts_are_found_by_either_name():
    assert shipped_layout("scale").kind == "scale"
    assert shipped_layout("Four channels with labels") == shipped_layout("labelled-four-channels")
    with pytest.raises(BadInput, match="one-number"):
        shipped_layout("no such")
