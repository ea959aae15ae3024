from __future__ import annotations

import contextlib
import random
import re
import threading
from math import isfinite, isnan

import pytest
import serial
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BenchtempError, NoReadings, PortLost, PortMissing
from benchtemp.readings.guess import Sureness, guess_baud, guess_layout, guess_port
from benchtemp.readings.layout import Channel, Junction, Layout, Weight, Wire, load_layout, save_layout
from benchtemp.readings.parser import compile_parser

LINES = 20


def about(value: float, spread: float = 0.3) -> str:
    return f"{value + _noise.gauss(0, spread):.2f}"


_noise = random.Random(20)


def sent(make, lines: int = LINES) -> list[bytes]:
    return [make(number).encode() for number in range(lines)]


def fields(*numbers: int, unit: str = "degC") -> tuple[Channel, ...]:
    return tuple(Channel(field=number, unit=unit) for number in numbers)


def labels(*names: str, unit: str = "degC") -> tuple[Channel, ...]:
    return tuple(Channel(label=name, unit=unit) for name in names)


def keys(*names: str, unit: str = "degC") -> tuple[Channel, ...]:
    return tuple(Channel(key=name, unit=unit) for name in names)


@pytest.mark.parametrize(
    ("make", "channels"),
    [
        (lambda _n: about(93), fields(1)),
        (lambda _n: about(93) + " °C", fields(1)),
        (lambda _n: about(199.4) + "F", fields(1, unit="degF")),
        (lambda _n: about(366) + " K", fields(1, unit="K")),
        (lambda n: f"+{93 + n / 50:.6E}", fields(1)),
        (lambda _n: f"{about(93)},{about(22)},{about(91)},NaN", fields(1, 2, 3, 4)),
        (lambda _n: f"{about(93)};{about(22)}", fields(1, 2)),
        (lambda _n: f"{about(93)}\t{about(22)}", fields(1, 2)),
        (lambda _n: f"{about(93)} | {about(22)}", fields(1, 2)),
        (lambda _n: f"  {about(93)}   {about(22)}", fields(1, 2)),
        (lambda _n: f"{about(93)} C, {about(22)} C", fields(1, 2)),
        (lambda _n: f"{about(93)},C,{about(22)},C", fields(1, 3)),
        (lambda n: f"{about(93)}," if n % 3 else f"{about(93)},OPEN", fields(1, 2)),
        (lambda n: f"{1000 + 100 * n},{about(93)},{about(22)}", fields(2, 3)),
        (lambda n: f"{1000 + 100 * n + n % 3},{about(93)}", fields(2)),
        (lambda n: f"{n * 0.1:.1f} {about(93)}", fields(2)),
        (lambda n: f"{n % 10}\t{about(93)}", fields(2)),
        (lambda n: f"1700000{n:03d},{about(93)}", fields(2)),
        (lambda n: f"12:30:{n:02d},{about(93)},OK", fields(2)),
        (lambda n: f"2024-03-01T12:30:{n:02d}Z {about(93)}", fields(2)),
        (lambda n: f"{about(93)},{n % 2},7", fields(1)),
        (lambda _n: f"{about(93)} C,{about(45)} %", fields(1)),
        (lambda _n: f"{about(93)} C,1013 hPa", fields(1)),
        (lambda _n: f"{about(93)}C,{about(45)}", fields(1)),
        (lambda _n: f"T1={about(93)};T2={about(22)}", labels("T1", "T2")),
        (lambda _n: f"T1: {about(93)}, T2: OPEN", labels("T1", "T2")),
        (lambda _n: f"Temp: {about(93)} C, Hum: {about(45)} %", labels("Temp")),
        (lambda _n: f"TempF={about(199)}", labels("TempF", unit="degF")),
        (lambda n: f"n={n} T1={about(93)} P=9.1 RH=44", labels("T1")),
        (lambda _n: f"{about(199)}F,OPEN,OPEN", fields(1, 2, 3, unit="degF")),
        (lambda _n: f"T1={about(199)}F T2=OPEN", labels("T1", "T2", unit="degF")),
        (lambda n: f"T={about(93)} SP=93.0 OUT={n}", labels("T")),
        (lambda n: f"INFO reader: temp={about(93)}, count={n}", labels("temp")),
        (lambda _n: f"[Probe 1={about(93)}][Probe 2={about(22)}]", labels("Probe 1", "Probe 2")),
        (lambda n: f'{{"ts":{1700000000 + n},"t1":{about(93)},"t2":null,"rh":45.1}}', keys("t1", "t2")),
        (
            lambda _n: f'{{"id":7,"p":[{{"temp_f":{about(199)}}},{{"temp_f":{about(72)}}}]}}',
            keys("p.0.temp_f", "p.1.temp_f", unit="degF"),
        ),
        (lambda _n: f'{{"temp":"{about(93)} °C","weight":{about(36)}}}', keys("temp")),
        (lambda _n: f'{{"boiler":{about(120)},"setpoint":120.0,"ok":true}}', keys("boiler")),
        (lambda n: f"{93 + n % 2},{22 + n % 2}", fields(1, 2)),
    ],
)
def test_the_channels_are_found(make, channels):
    guess = guess_layout(sent(make))
    assert guess.layout.channels == channels
    assert guess.read_share == 1.0
    assert all(line.values is not None for line in guess.preview)


def test_the_form_of_a_line_is_found():
    assert guess_layout(sent(lambda _n: f"{about(93)};{about(22)}")).layout.separator == ";"
    assert guess_layout(sent(lambda _n: f"{about(93)},{about(22)}")).layout.fields == 2
    comma = guess_layout(sent(lambda _n: f"{about(93)};{about(22)}".replace(".", ","))).layout
    assert (comma.separator, comma.decimal) == (";", ",")
    lone = guess_layout(sent(lambda n: f"{93 + n * 0.07:.2f}".replace(".", ",")))
    assert (lone.layout.decimal, lone.layout.channels) == (",", fields(1))
    assert any("two channels" in remark for remark in lone.remarks)
    labelled = guess_layout(sent(lambda _n: f"T1={about(93)};T2={about(22)}".replace(".", ","))).layout
    assert (labelled.decimal, labelled.channels) == (",", labels("T1", "T2"))


def test_headings_name_the_columns():
    lines = [b"ms,T1,RH", *sent(lambda n: f"{1000 + 100 * n},{about(93)},{45 + n % 3}.1")]
    guess = guess_layout(lines)
    assert guess.layout.channels == fields(2)
    assert "Field 3 (“RH”) is left out: it looks like humidity." in guess.remarks
    assert any("1 of 21 lines" in remark for remark in guess.remarks)


def test_a_partial_first_line_and_a_banner_do_not_mislead():
    guess = guess_layout(
        [
            b"3.2,22",
            b"\xff\x80\xfe\x00",
            b"reader v1.2",
            b"ready",
            *sent(lambda _n: f"{about(93)},{about(22)},{about(23)}"),
        ]
    )
    assert guess.layout.channels == fields(1, 2, 3)
    assert guess.layout.fields == 3
    assert guess.read_share == pytest.approx(20 / 24)


def test_weights_go_to_the_weight_column():
    layout = guess_layout(sent(lambda _n: f"{about(93)} C,{about(36)} g")).layout
    assert (layout.channels, layout.weight) == (fields(1), Weight(field=2))
    layout = guess_layout(sent(lambda _n: f"T1={about(93)};W={about(36)}")).layout
    assert (layout.channels, layout.weight) == (labels("T1"), Weight(label="W"))


@pytest.mark.parametrize("form", ["{} g", "ST,GS,+  {}g", "S S   {} g ?", "{} kg"])
def test_a_scale_is_known_as_one(form):
    layout = guess_layout(sent(lambda _n: form.format(about(36)))).layout
    assert layout.kind == "scale"


def test_a_voltage_is_read_with_its_reference_junction():
    guess = guess_layout(
        sent(lambda _n: f"{about(2.8, 0.01)} mV,{about(23)} C"),
        emf_to_degc=lambda emf_mv, junction_degc: emf_mv * 25 + junction_degc,
    )
    assert guess.layout.channels == fields(1, unit="mV")
    assert guess.layout.junction == Junction(field=2)
    assert guess.preview[-1].values.temps_degc[0] == pytest.approx(93, abs=3)
    without = guess_layout(sent(lambda _n: f"emf={about(3.8, 0.01)}"))
    assert without.layout.channels == labels("emf", unit="mV")
    assert any("0 °C" in remark for remark in without.remarks)
    assert isnan(without.preview[-1].values.temps_degc[0])
    both = guess_layout(sent(lambda _n: f"mv={about(3.8, 0.01)} cj={about(23)} T={about(93)}")).layout
    assert (both.channels, both.junction) == (labels("T"), None)


def test_what_is_uncertain_is_said():
    sure = guess_layout(sent(lambda _n: f"T1={about(93)}C"))
    assert sure.sureness is Sureness.SURE
    assumed = guess_layout(sent(lambda _n: about(93)))
    assert assumed.sureness is Sureness.LIKELY
    assert any("°C is assumed" in remark for remark in assumed.remarks)
    two = guess_layout(sent(lambda _n: f"{about(22)},{about(45)}"))  # humidity without a name looks like this
    assert two.sureness is Sureness.UNSURE
    assert any("field 1, field 2" in remark for remark in two.remarks)
    hot = guess_layout(sent(lambda _n: about(199)))
    assert any("hot water in °F" in remark for remark in hot.remarks)
    assert any("kelvin" in remark for remark in guess_layout(sent(lambda _n: about(366))).remarks)
    assert guess_layout(sent(lambda _n: about(93), 2)).sureness is Sureness.UNSURE


def test_more_channels_than_can_be_kept_are_left_out_and_named():
    guess = guess_layout(sent(lambda _n: ",".join(about(80 + c) for c in range(10))))
    assert guess.layout.channels == fields(*range(1, 9))
    assert any("field 9, field 10" in remark for remark in guess.remarks)


def test_open_probes_are_told():
    guess = guess_layout(sent(lambda _n: "OPEN"))
    assert guess.layout.channels == fields(1)
    assert any("“OPEN”" in remark for remark in guess.remarks)


def test_a_lone_rising_temperature_is_not_taken_for_a_clock():
    assert guess_layout(sent(lambda n: f"{20 + n * 0.25:.2f}")).layout.channels == fields(1)


@pytest.mark.parametrize(
    "lines",
    [
        [],
        [b"", b"  "],
        [b"\xff\x80\x12\x00\xfe\x91"] * 9,
        [b"hello", b"world"],
        [b"x" * 5000],
        [b'{"a":"b"}'] * 4,
    ],
)
def test_nothing_to_guess_from_is_told(lines):
    with pytest.raises(NoReadings, match=r"\.$"):
        guess_layout(lines)


pieces = st.sampled_from(
    [
        "T1",
        "t",
        "temp",
        "=",
        ":",
        ",",
        ";",
        " ",
        "\t",
        "93.2",
        "22",
        "-5",
        "OPEN",
        "NaN",
        "C",
        "°F",
        "K",
        "g",
        "mV",
        "%",
        '{"a":',
        "}",
        "[",
        '"',
        "1e5",
        "|",
        "null",
        ".",
    ],
)


@given(st.lists(st.lists(pieces, max_size=8).map(lambda parts: "".join(parts).encode()), max_size=12))
def test_any_text_gives_a_usable_guess_or_a_sentence(lines):
    try:
        guess = guess_layout(lines)
    except BenchtempError:
        return
    assert guess.remarks
    assert all(remark.endswith(".") for remark in guess.remarks)
    for line in guess.preview:
        for temp in line.values.temps_degc if line.values else ():
            assert isnan(temp) or re.search(r"\d", line.raw)


@given(st.lists(st.binary(max_size=40), max_size=12))
def test_any_bytes_give_a_guess_or_a_sentence(lines):
    with contextlib.suppress(BenchtempError):
        guess_layout(lines)


forms = st.sampled_from(["csv", "semicolon", "spaces", "labels", "json"])


@given(forms, st.integers(1, 8), st.sampled_from(["", "C", " °C", "F", "K"]), st.integers(0, 2**32))
def test_what_was_written_is_found_and_read_exactly(form, count, suffix, seed):
    """An interface of a known make: the guess finds all its channels and reads every value as sent."""
    noise = random.Random(seed)
    rows = [[round(80 + 10 * c + noise.uniform(-3, 3), 2) for c in range(count)] for _ in range(12)]
    unit = {"": "degC", "C": "degC", " °C": "degC", "F": "degF", "K": "K"}[suffix]
    if form == "json":
        lines = [
            "{" + ", ".join(f'"T{c}": "{v:.2f}{suffix}"' for c, v in enumerate(row)) + "}" for row in rows
        ]
    elif form == "labels":
        lines = ["; ".join(f"T{c}={v:.2f}{suffix}" for c, v in enumerate(row)) for row in rows]
    else:
        separator = {"csv": ",", "semicolon": ";", "spaces": "  "}[form]
        lines = [separator.join(f"{v:.2f}{suffix}" for v in row) for row in rows]
    guess = guess_layout([line.encode() for line in lines])
    assert [channel.unit for channel in guess.layout.channels] == [unit] * count
    parse = compile_parser(guess.layout)
    for line, row in zip(lines, rows, strict=True):
        values = parse(line.encode())
        assert values is not None
        for got, value in zip(values.temps_degc, row, strict=True):
            exact = {"degC": value, "degF": (value - 32) / 1.8, "K": value - 273.15}[unit]
            assert got == pytest.approx(exact, abs=1e-4)


class Speaking:
    """A port that speaks at one rate and is garbled at all others."""

    def __init__(self, right_baud: int, raw: bytes, baud: int) -> None:
        self.port = "/dev/speaking"
        self.right_baud = right_baud
        self.raw = raw
        self.baudrate = baud
        self.tried = [baud]
        self.closed = False
        self.position = 0

    def __setattr__(self, name: str, value: object) -> None:
        if name == "baudrate" and "tried" in self.__dict__:
            self.tried.append(value)
        super().__setattr__(name, value)

    @property
    def in_waiting(self) -> int:
        return 32 if self.raw else 0

    def read(self, size: int) -> bytes:
        chunk = bytes(self.raw[(self.position + n) % len(self.raw)] for n in range(size)) if self.raw else b""
        self.position += len(chunk)
        return chunk if self.baudrate == self.right_baud else bytes(byte * 37 % 256 | 0x80 for byte in chunk)

    def reset_input_buffer(self) -> None:
        self.position = 0

    def close(self) -> None:
        self.closed = True


class Ticks:
    """A clock that moves on whenever it is looked at."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        self.now_s += 0.05
        return self.now_s


@pytest.mark.parametrize("right_baud", [9600, 115200, 38400, 921600])
def test_the_baud_rate_is_found(right_baud):
    ports = []

    def opener(_device: str, wire: Wire) -> Speaking:
        ports.append(Speaking(right_baud, b"T1=93.25;T2=22.50\r\n", wire.baud))
        return ports[-1]

    heard = guess_baud("/dev/speaking", opener=opener, clock=Ticks())
    assert heard.baud == right_baud
    assert set(heard.lines) == {b"T1=93.25;T2=22.50"}
    (port,) = ports  # opened once: opening starts many boards anew
    assert port.closed
    assert port.tried[-1] == right_baud


def test_silence_and_noise_are_told_apart():
    with pytest.raises(NoReadings, match="Nothing arrives"):
        guess_baud("/dev/speaking", opener=lambda _device, wire: Speaking(0, b"", wire.baud), clock=Ticks())
    with pytest.raises(NoReadings, match="no common baud rate"):
        guess_baud(
            "/dev/speaking", opener=lambda _device, wire: Speaking(0, b"93.25\r\n", wire.baud), clock=Ticks()
        )


def test_a_cable_pulled_while_listening_is_told():
    class Gone(Speaking):
        def read(self, _size: int) -> bytes:
            raise serial.SerialException("gone")

    with pytest.raises(PortLost, match="went away"):
        guess_baud("/dev/speaking", opener=lambda _device, wire: Gone(0, b"x", wire.baud), clock=Ticks())


def test_a_real_port_is_listened_to(interface):
    interface.send(b"3.2;22.1\n")
    interface.send(b"".join(b"%.2f;%.2f\n" % (93 + n / 40, 22 - n / 80) for n in range(30)))
    # Opening drops what waits; the interface goes on sending.
    stop = threading.Event()

    def send() -> None:
        n = 0
        while not stop.wait(0.005):
            interface.send(b"%.2f;%.2f\n" % (93 + n % 7 / 40, 22 - n % 5 / 80))
            n += 1

    thread = threading.Thread(target=send)
    thread.start()
    try:
        guess = guess_port(interface.path)
    finally:
        stop.set()
        thread.join()
    assert guess.layout.channels == fields(1, 2)
    assert guess.layout.wire.baud == 9600
    assert guess.layout.description
    assert all(isfinite(temp) for line in guess.preview[1:] for temp in line.values.temps_degc)


def test_a_missing_port_is_told():
    with pytest.raises(PortMissing):
        guess_port("/dev/none")


def test_a_guess_is_a_layout_that_can_be_kept(tmp_path):
    layout: Layout = guess_layout(sent(lambda _n: f"T1={about(93)} °C;W={about(36)} g")).layout
    save_layout(layout, tmp_path / "guessed.toml")
    assert load_layout(tmp_path / "guessed.toml") == layout
