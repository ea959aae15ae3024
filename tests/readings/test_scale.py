from __future__ import annotations

from math import isfinite, isnan, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.readings.layout import Channel, Layout, Weight, Wire, shipped_layout
from benchtemp.readings.reading import Notice, NoticeKind
from benchtemp.readings.scale import ScaleSource, compile_scale_parser
from benchtemp.readings.source import Tared


def scale(**rest) -> Layout:
    return Layout(name="scale", kind="scale", wire=Wire(baud=115200), **rest)


@pytest.mark.parametrize(
    ("line", "weight_g"),
    [
        (b"36.2 g", 36.2),
        (b"36.2g", 36.2),
        (b"+0036.2", 36.2),
        (b"-0.1 g", -0.1),
        (b"+  36.2g", 36.2),
        (b"-   0.1 g", -0.1),
        (b"ST,GS,+  36.2g", 36.2),
        (b"US,NT,-  0.1 g", -0.1),
        (b"S S     36.20 g", 36.2),
        (b"36.2 g ?", 36.2),
        (b"N      36.2 G S", 36.2),
        (b"  .5", 0.5),
        (b"36", 36.0),
        (b"\x02 36.2 g\x03", 36.2),
        (b"0.0362 kg", 36.2),
        (b"1.000 oz", 28.3495),
        (b"1lb", 453.5924),
        (b"12:30:01 36.2 g", 36.2),
        (b"ID 7: 36.2 g", 36.2),
    ],
)
def test_a_line_gives_its_weight_in_grams(line, weight_g):
    values = compile_scale_parser(scale())(line)
    assert values is not None
    assert values.weight_g == weight_g
    assert values.temps_degc == ()


@pytest.mark.parametrize("line", [b"OL", b"ST,GS, ----- g", b"ERR", b"OVER", b"2000000 kg"])
def test_an_overload_is_no_weight_but_no_garbage_either(line):
    values = compile_scale_parser(scale())(line)
    assert values is not None
    assert isnan(values.weight_g)


@pytest.mark.parametrize(
    "line",
    [
        b"hello",
        b"36.2 pcs",
        b"36.2 %",
        b"93.2 \xc2\xb0C",
        b"93.2C",
        b"181.0 ct",
        b"36 ml",
        b"36.2 40.1",
        b"1.2.3",
        b"v36",
    ],
)
def test_what_is_no_weight_is_not_taken_for_one(line):
    assert compile_scale_parser(scale())(line) is None


def test_a_unit_that_is_not_sent_comes_from_the_layout():
    assert compile_scale_parser(scale(weight=Weight(unit="oz")))(b"1.0").weight_g == 28.3495
    assert compile_scale_parser(scale(weight=Weight(unit="oz")))(b"1.0 g").weight_g == 1.0


def test_a_field_can_be_chosen():
    parse = compile_scale_parser(scale(weight=Weight(field=2), fields=4))
    assert parse(b"12,36.2,g,99").weight_g == 36.2
    assert parse(b"12,0.0362,kg,99").weight_g == 36.2
    assert parse(b"12,36.2,g") is None
    spaced = compile_scale_parser(scale(weight=Weight(field=2), separator=""))
    assert spaced(b"17  36.2  g").weight_g == 36.2
    assert spaced(b"17") is None


def test_a_decimal_comma_is_read_where_the_layout_says_so():
    assert compile_scale_parser(scale(decimal=",", separator=";"))(b"ST;+ 36,2 g").weight_g == 36.2


@given(st.binary(max_size=60))
def test_no_bytes_break_the_parser_or_make_it_invent_a_weight(line):
    values = compile_scale_parser(scale())(line)
    if values is not None and isfinite(values.weight_g):
        assert any(byte in b"0123456789" for byte in line)


@given(st.integers(-99999, 99999), st.sampled_from(["{} g", "{:+}", "ST,GS,{:+}g", "{:+09.2f} g  S"]))
def test_weights_come_back_as_they_were_sent(hundredths, form):
    sent = hundredths / 100
    values = compile_scale_parser(scale())(form.format(sent).encode())
    assert values is not None
    assert values.weight_g == sent


def test_other_kinds_of_layout_are_refused():
    with pytest.raises(BadInput, match="scale"):
        compile_scale_parser(Layout(name="x", channels=(Channel(field=1),)))


@pytest.fixture
def opened(interface, soon):
    made = []

    def open_one(layout: Layout) -> ScaleSource:
        source = ScaleSource(interface.path, layout, back_off=soon)
        made.append(source)
        source.open()
        return source

    yield open_one
    for source in made:
        source.close()


def test_weights_arrive_as_readings_without_temperatures(interface, opened, read_until, came):
    source = opened(scale())
    assert source.channels == ()
    assert source.has_weight
    interface.send(b"\nST,GS,+  36.1g\nOL\nUS,GS,+  36.2g\n")
    found = came.readings(read_until(source, lambda items: len(came.readings(items)) >= 2))
    assert [(reading.temps_degc, reading.weight_g) for reading in found] == [((), 36.1), ((), 36.2)]


def test_tare_is_sent_where_the_scale_knows_it(interface, opened):
    source = opened(scale(tare="Z", line_end="CRLF"))
    assert isinstance(source, Tared)
    assert source.tare()
    assert interface.receive() == b"Z\r\n"
    source.close()
    assert not source.tare()


def test_tare_is_refused_where_the_scale_knows_none(interface, opened):
    assert not opened(scale()).tare()
    assert interface.receive(0.0) == b""


def test_tare_without_a_cable_is_refused(interface, opened, read_until):
    source = opened(scale(tare="Z"))
    interface.unplug()
    source.tare()
    read_until(
        source, lambda items: any(isinstance(item, Notice) and item.kind is NoticeKind.LOST for item in items)
    )
    assert not source.tare()


def test_a_scale_that_is_asked_is_asked(interface, opened, read_until, came):
    layout = shipped_layout("scale-asked")
    source = opened(layout)
    source.read()
    assert interface.receive() == layout.request_bytes
    interface.send(b"+ 36.2 g\r\n")
    (reading,) = came.readings(read_until(source, lambda items: bool(came.readings(items))))
    assert reading.weight_g == 36.2
    assert isnan(nan if reading.temps_degc == () else 0.0)
