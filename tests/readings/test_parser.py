from __future__ import annotations

import json
from math import isfinite, isnan, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.readings.layout import Channel, Junction, Layout, Weight
from benchtemp.readings.parser import compile_parser
from benchtemp.readings.values import Values
from benchtemp.units import TempUnit, degc_from


def by_field(*fields: int, unit: str = "degC", **rest) -> Layout:
    return Layout(name="x", channels=tuple(Channel(field=n, unit=unit) for n in fields), **rest)


def by_label(*labels: str, **rest) -> Layout:
    return Layout(name="x", channels=tuple(Channel(label=label) for label in labels), **rest)


def by_key(*keys: str, **rest) -> Layout:
    return Layout(name="x", channels=tuple(Channel(key=key) for key in keys), **rest)


ONE = by_field(1, separator="")
CSV = by_field(1, 2)
SPACES = by_field(1, 2, separator="")


def temps(layout: Layout, line: bytes) -> list[float | None] | None:
    """Read a line three times: carefully, by the shape it left, and by that of a fresh parser."""
    parse = compile_parser(layout)
    first, again = parse(line), parse(line)
    assert repr(first) == repr(again)
    if first is None:
        return None
    assert len(first.temps_degc) == len(layout.channels)
    if first.reasons:
        assert [bool(reason) for reason in first.reasons] == [isnan(temp) for temp in first.temps_degc]
    else:
        assert all(map(isfinite, first.temps_degc))
    return [None if isnan(temp) else temp for temp in first.temps_degc]


@pytest.mark.parametrize(
    ("layout", "line", "expected"),
    [
        (ONE, b"93.25", [93.25]),
        (ONE, b"  +93.25\t", [93.25]),
        (ONE, b"-12", [-12.0]),
        (ONE, b"9.325E+01", [93.25]),
        (ONE, b"93.25 \xc2\xb0C", [93.25]),
        (ONE, b"93.25\xb0C", [93.25]),
        (ONE, b"93.25 \xbaC", [93.25]),
        (ONE, b"93.25C", [93.25]),
        (ONE, b"93.25 deg C", [93.25]),
        (ONE, b"93.25 celsius", [93.25]),
        (ONE, b"199.85 \xc2\xb0F", [93.25]),
        (ONE, b"199.85F", [93.25]),
        (ONE, b"366.4 K", [93.25]),
        (ONE, b"\x0293.25\x03", [93.25]),
        (ONE, b"\xe2\x88\x9212.5", [-12.5]),
        (ONE, b"OPEN", [None]),
        (ONE, b"open circuit", [None]),
        (ONE, b"NaN", [None]),
        (ONE, b"nan C", [None]),
        (ONE, b"---", [None]),
        (ONE, b"--- \xc2\xb0C", [None]),
        (ONE, b"\xe2\x80\x94", [None]),
        (ONE, b"ERR", [None]),
        (ONE, b"inf", [None]),
        (ONE, b"-Inf", [None]),
        (ONE, b"O.L", [None]),
        (ONE, b"9.9E37", [None]),
        (ONE, b"-9.9E+37", [None]),
        (ONE, b"9.91E37", [None]),
        (ONE, b"1e999", [None]),
        (ONE, b"1372", [1372.0]),
        (ONE, b"1372.01", [None]),
        (ONE, b"-270", [-270.0]),
        (ONE, b"-270.01", [None]),
        (ONE, b"3276.7", [None]),
        (ONE, b"36.2 g", [None]),
        (ONE, b"hello", None),
        (ONE, b"9_3.2", None),
        (ONE, b"0x5D", None),
        (ONE, b"93.2.5", None),
        (ONE, b"93.2593.25", None),
        (ONE, b"9C.2", None),
        (ONE, b"93,25", None),
        (ONE, "٩٣".encode(), None),
        (CSV, b"93.25,22.5", [93.25, 22.5]),
        (CSV, b"93.25 , 22.5 ", [93.25, 22.5]),
        (CSV, b'"93.25","22.5"', [93.25, 22.5]),
        (CSV, b"93.25,", [93.25, None]),
        (CSV, b",22.5", [None, 22.5]),
        (CSV, b",", None),
        (CSV, b"93.25", None),
        (CSV, b"93.25,22.5,7", [93.25, 22.5]),
        (CSV, b"OPEN,22.5", [None, 22.5]),
        (CSV, b"OPEN,ERR", [None, None]),
        (CSV, b"Time,T1", None),
        (CSV, b"93.25C,72.5F", [93.25, 22.5]),
        (by_field(1, 2, fields=2), b"93.25,22.5,7", None),
        (by_field(1, 3), b"93.25,C,22.5,C", [93.25, 22.5]),
        (by_field(1, 3), b"93.25,C,72.5,F", [93.25, 22.5]),
        (by_field(2, 3), b"12:30:01,93.25,22.5", [93.25, 22.5]),
        (SPACES, b"93.25\t22.5", [93.25, 22.5]),
        (SPACES, b"93.25 C   22.5 C", [93.25, 22.5]),
        (SPACES, b"OPEN  22.5 C", [None, 22.5]),
        (by_field(1, 2, separator="\t"), b"\t22.5", [None, 22.5]),
        (by_field(1, 2, separator=";", decimal=","), b"93,25;22,5 C", [93.25, 22.5]),
        (by_field(1, unit="degF"), b"199.85", [93.25]),
        (by_field(1, unit="degF"), b"93.25 C", [93.25]),
        (by_field(1, unit="K"), b"366.4", [93.25]),
        (by_label("T1", "T2"), b"T1=93.25;T2=22.5", [93.25, 22.5]),
        (by_label("T1", "T2"), b"T2: 22.5 F, T1: 93.25 C", [93.25, -5.2778]),
        (by_label("T1", "T2"), b"T1 93.25 T2 22.5", [93.25, 22.5]),
        (by_label("T1", "T2"), b"[T1=93.25][T2=OPEN]", [93.25, None]),
        (by_label("T1", "T2"), b"T1=93.25", [93.25, None]),
        (by_label("T1", "T2"), b"T1=;T2=22.5", [None, 22.5]),
        (by_label("T1", "T2"), b"T11=93.25;xT2=22.5", None),
        (by_label("T1"), b"T1=1;T1=2", None),
        (by_label("T1"), b"T193.25", None),
        (by_label("T1", decimal=",", separator=";"), b"T1=93,25", [93.25]),
        (by_key("a", "b"), b'{"a":93.25,"b":22}', [93.25, 22.0]),
        (by_key("a", "b"), b'{"a":"93.25 \xc2\xb0C","b":"OPEN"}', [93.25, None]),
        (by_key("a", "b"), b'{"a":93.25,"b":null}', [93.25, None]),
        (by_key("a", "b"), b'{"a":NaN,"b":-Infinity}', [None, None]),
        (by_key("a", "b"), b'{"a":93.25}', [93.25, None]),
        (by_key("a", "b"), b'{"a":true,"b":[1]}', None),
        (by_key("a"), b'{"a":1e400}', [None]),
        (by_key("a"), b'{"a":' + b"9" * 400 + b"}", [None]),
        (by_key("a"), b'{"c":93.25}', None),
        (by_key("a"), b'{"a":93.25', None),
        (by_key("a"), b"93.25", None),
        (by_key("a"), b"[93.25]", None),
        (by_key("a"), b'> {"a":93.25}', [93.25]),
        (by_key("a"), b"[" * 4000, None),
        (by_key("p.1.t", "c.d"), b'{"p":[{},{"t":93.25}],"c.d":22.5}', [93.25, 22.5]),
        (by_key("p.9.t"), b'{"p":[{"t":93.25}]}', None),
    ],
)
def test_a_line_gives_what_stands_in_it(layout, line, expected):
    assert temps(layout, line) == expected


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"OPEN", "the interface sent “OPEN” instead of a number"),
        (b"1500", "1500 °C is outside −270 to 1372 °C, which no type K probe gives"),
        (b"9.9E37", "the interface sent 9.9e+37, which stands for no measurement"),
        (b"36.2 g", "36.2 g is not a temperature"),
    ],
)
def test_a_reason_says_why_there_is_no_value(line, reason):
    assert compile_parser(ONE)(line) == Values(
        (pytest.approx(nan, nan_ok=True),), pytest.approx(nan, nan_ok=True), (reason,)
    )


def test_reasons_stand_with_their_channels():
    values = compile_parser(CSV)(b"93.25,garble\xff")
    assert values is not None
    assert values.reasons == ("", "“garbleÿ” is not a number")


@pytest.mark.parametrize(
    ("line", "weight_g"),
    [
        (b"93.25,36.2", 36.2),
        (b"93.25,36.2 g", 36.2),
        (b"93.25,0.0362 kg", 36.2),
        (b"93.25,1 oz", 28.3495),
        (b"93.25,1lb", 453.5924),
        (b"93.25,36.2 C", None),
        (b"93.25,---", None),
        (b"OPEN,36.2", 36.2),
    ],
)
def test_a_weight_in_the_line_becomes_grams(line, weight_g):
    parse = compile_parser(by_field(1, weight=Weight(field=2)))
    for _ in range(2):
        values = parse(line)
        assert values is not None
        assert values.weight_g == pytest.approx(nan if weight_g is None else weight_g, abs=0, nan_ok=True)


def test_a_voltage_goes_through_the_table_with_its_reference_junction():
    asked = []

    def table(emf_mv: float, junction_degc: float) -> float:
        asked.append((emf_mv, junction_degc))
        if emf_mv > 50:
            raise BadInput("no such emf")
        return emf_mv * 25 + junction_degc

    layout = by_field(1, unit="mV", junction=Junction(field=2, unit="degF"))
    parse = compile_parser(layout, table)
    assert parse(b"2.8,68") == Values((90.0,), pytest.approx(nan, nan_ok=True), ())
    assert parse(b"2.8 mV,293.15 K") == Values((90.0,), pytest.approx(nan, nan_ok=True), ())
    assert asked == [(2.8, 20.0)] * 2
    assert parse(b"60,68").reasons == ("no such emf",)
    assert parse(b"2.8,OPEN").reasons[0].startswith("the reference junction gave no temperature")
    assert parse(b"93.25 C,68").temps_degc == (93.25,)
    fixed = compile_parser(by_field(1, unit="mV", junction_degc=21.0), table)
    assert fixed(b"2.8").temps_degc == (91.0,)
    json_layout = Layout(name="x", channels=(Channel(key="e", unit="mV"),), junction=Junction(key="j"))
    assert compile_parser(json_layout, table)(b'{"e":2.8,"j":20}').temps_degc == (90.0,)


def test_a_voltage_without_the_table_is_refused():
    with pytest.raises(BadInput, match="mV"):
        compile_parser(by_field(1, unit="mV"))
    assert compile_parser(ONE)(b"2.8 mV").reasons == (
        "2.8 mV is a voltage, where the layout has temperatures",
    )


def test_other_kinds_of_layout_are_refused():
    with pytest.raises(BadInput, match="scale"):
        compile_parser(Layout(name="x", kind="scale"))


decimals = st.integers(-26999, 137199).map(lambda hundredths: hundredths / 100)


@given(st.lists(st.tuples(decimals, decimals), min_size=1, max_size=6), st.sampled_from(list(TempUnit)))
def test_values_come_back_as_they_were_sent(rows, unit):
    """°C unchanged to the last bit; other units as the units module has it, to 4 decimals."""
    layouts_and_lines = [
        (by_field(1, 2, unit=unit.value), "{},{}"),
        (by_field(1, 2, unit=unit.value, separator=""), "{} {}"),
        (
            Layout(
                name="x", channels=(Channel(label="A", unit=unit.value), Channel(label="B", unit=unit.value))
            ),
            "B={1};A={0}",
        ),
        (
            Layout(name="x", channels=(Channel(key="A", unit=unit.value), Channel(key="B", unit=unit.value))),
            '{{"A":{},"B":{}}}',
        ),
    ]
    for layout, form in layouts_and_lines:
        parse = compile_parser(layout)
        for row in rows:
            values = parse(form.format(*row).encode())
            assert values is not None
            for sent, got in zip(row, values.temps_degc, strict=True):
                exact = degc_from(sent, unit)
                if unit is TempUnit.DEGC:
                    assert got == sent
                elif -270 <= round(exact, 4) <= 1372:
                    assert got == pytest.approx(exact, abs=0.50001e-4)
                    assert got == round(got, 4)
                else:
                    assert isnan(got)


tokens = st.sampled_from(
    [
        *(
            b"T1",
            b"T2",
            b"T",
            b"1",
            b"2",
            b"93",
            b".5",
            b".",
            b"=",
            b":",
            b" ",
            b"\t",
            b";",
            b",",
            b"]",
            b'"',
            b"x",
        ),
        *(
            b"C",
            b"F",
            b"\xb0",
            b"\xc2\xb0",
            b"deg",
            b"5C",
            b"_",
            b"-",
            b"+",
            b"e",
            b"E",
            b"nan",
            b"OPEN",
            b"g",
            b"kg",
            b"W",
        ),
    ],
)
layouts = st.sampled_from(
    [
        by_field(1, separator=""),
        by_field(1, unit="degF"),
        by_field(1, 2, unit="degF"),
        by_field(1, 2, unit="degF", separator=""),
        by_field(2, unit="degF", separator=""),
        by_field(1, 3, separator=";"),
        by_field(1, 2, unit="degF", separator="\t"),
        by_field(1, 2, separator=", "),
        by_field(1, unit="degF", separator=";", decimal=","),
        by_field(1, unit="degF", weight=Weight(field=2)),
        by_label("T1", "T2"),
        by_label("T"),
        by_label("1", "T"),
        by_label("T1", weight=Weight(label="W")),
    ],
)


@given(
    layouts,
    st.lists(st.lists(tokens, min_size=1, max_size=8).map(b"".join), min_size=2, max_size=12),
    st.data(),
)
def test_what_was_learnt_from_earlier_lines_changes_nothing(layout, lines, data):
    """Lines that differ by one moved character often share a skeleton; each must read as it does alone."""
    moved = []
    for line in lines:
        source = data.draw(st.integers(0, len(line) - 1))
        rest = line[:source] + line[source + 1 :]
        place = data.draw(st.integers(0, len(rest)))
        moved.append(rest[:place] + line[source : source + 1] + rest[place:])
    parse = compile_parser(layout)
    for line in [*lines, *moved, *lines]:
        assert repr(parse(line)) == repr(compile_parser(layout)(line))


@given(st.binary(max_size=80) | st.text(max_size=60).map(str.encode), layouts)
def test_no_bytes_break_a_parser_or_make_it_invent_a_number(line, layout):
    values = compile_parser(layout)(line)
    for temp in () if values is None else values.temps_degc:
        assert isnan(temp) or -270 <= temp <= 1372
        assert isnan(temp) or any(byte in b"0123456789" for byte in line)


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
        lambda inside: (
            st.lists(inside, max_size=3)
            | st.dictionaries(st.sampled_from(["a", "b", "0", "a.b"]), inside, max_size=3)
        ),
        max_leaves=8,
    ),
)
def test_no_json_breaks_a_parser(content):
    values = compile_parser(by_key("a", "b", "a.b", "a.0.b"))(json.dumps(content).encode())
    for temp in () if values is None else values.temps_degc:
        assert isnan(temp) or -270 <= temp <= 1372
