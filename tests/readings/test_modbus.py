from __future__ import annotations

import asyncio
import contextlib
import struct
import threading
from math import isnan, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

from benchtemp.errors import BadInput, PortMissing
from benchtemp.readings.layout import Channel, Layout, Register, Wire
from benchtemp.readings.modbus import (
    ModbusSource,
    blocks_of,
    number_in,
    readings_of_orders,
    temp_degc_of,
)
from benchtemp.readings.reading import Mark, Notice, NoticeKind

FLOATS = ModbusSerialClient.convert_to_registers(93.25, ModbusSerialClient.DATATYPE.FLOAT32)
HOLDING = [*FLOATS, *FLOATS[::-1], 932, 0x7FFF, 65436, 0x8000]
SILENT_UNIT = 9
ORDERS = ("ABCD", "CDAB", "BADC", "DCBA")


def channel(address: int, unit: str = "degC", **rest) -> Channel:
    return Channel(unit=unit, register=Register(address=address, **rest))


def modbus(*channels: Channel, **rest) -> Layout:
    settings = {"reply_s": 0.25, "wire": Wire(baud=115200), **rest}
    return Layout(name="registers", kind="modbus", channels=channels, **settings)


@pytest.fixture
def serve(bus):
    """Start the library's own instrument at the far end of the line."""
    stops = []

    def start(**devices: list[int]) -> None:
        loop = asyncio.new_event_loop()
        ready = threading.Event()
        server: list[ModbusSerialServer] = []

        async def run() -> None:
            simulated = [
                SimDevice(int(name[1:]), simdata=[SimData(0, values=values, datatype=DataType.REGISTERS)])
                for name, values in devices.items()
            ]
            server.append(
                ModbusSerialServer(
                    simulated,
                    port=bus.far.path,
                    framer=FramerType.RTU,
                    baudrate=115200,
                    trace_packet=lambda sending, raw: b"" if sending and raw[0] == SILENT_UNIT else raw,
                )
            )
            await server[0].serve_forever(background=True)
            ready.set()
            await server[0].serving

        def stop() -> None:
            asyncio.run_coroutine_threadsafe(server[0].shutdown(), loop).result(10)
            thread.join(10)
            loop.close()

        thread = threading.Thread(target=lambda: loop.run_until_complete(_quietly(run())), daemon=True)
        thread.start()
        assert ready.wait(10)
        stops.append(stop)

    yield start
    for stop in stops:
        stop()


async def _quietly(running) -> None:
    with contextlib.suppress(asyncio.CancelledError):
        await running


@pytest.fixture
def opened(bus, soon):
    made = []

    def open_one(layout: Layout, **rest) -> ModbusSource:
        source = ModbusSource(bus.near.path, layout, back_off=soon, **rest)
        made.append(source)
        source.open()
        return source

    yield open_one
    for source in made:
        source.close()


def test_registers_become_temperatures(serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(
        modbus(
            channel(0),
            channel(2, order="CDAB"),
            channel(4, number="int16", scale=0.1),
            channel(5, number="int16", scale=0.1),
            channel(6, number="int16", scale=0.1),
            channel(4, unit="degF", number="uint16", scale=0.2, offset=13.45),
            channel(4, function=4, number="int16", scale=0.1),
        ),
    )
    items = read_until(source, came.count(1))
    assert [item.kind for item in items if isinstance(item, Notice)] == [
        NoticeKind.WAITING,
        NoticeKind.READING,
    ]
    (reading,) = came.readings(items)
    assert reading.temps_degc == pytest.approx(
        (93.25, 93.25, 93.2, nan, -10.0, 93.25, 93.2), abs=0, nan_ok=True
    )
    assert reading.reasons[3] == "the instrument keeps 32767 in register 5, which means no reading"
    assert 0 < reading.t_s < source.now_s()
    assert source.channels == ("T1", "T2", "T3", "T4", "T5", "T6", "T7")


def test_a_steady_rate_is_kept(serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(modbus(channel(0), period_s=0.03))
    found = came.readings(read_until(source, lambda items: len(came.readings(items)) >= 10))
    assert found[9].t_s - found[0].t_s == pytest.approx(9 * 0.03, abs=0.02)


def test_a_register_that_does_not_exist_is_told_and_the_others_are_read(serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(modbus(channel(0), channel(500)))
    (reading,) = came.readings(read_until(source, came.count(1)))
    assert reading.temps_degc[0] == 93.25
    assert isnan(reading.temps_degc[1])
    assert "no register 500" in reading.reasons[1]


def test_an_instrument_that_refuses_everything_is_told_with_the_cure(serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(modbus(channel(500)))
    items = read_until(source, came.told(NoticeKind.GARBAGE))
    assert "documents count from 40001" in items[-1].text
    assert not came.readings(items)


def test_a_silent_unit_leaves_the_others_readable(serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(modbus(channel(0), channel(0, unit_address=SILENT_UNIT), reply_s=0.1))
    (reading,) = came.readings(read_until(source, came.count(1)))
    assert reading.temps_degc[0] == 93.25
    assert reading.reasons == ("", "unit 9 did not answer")


def test_silence_is_told_with_what_to_check(serve, opened, read_until, came, make_clock):
    serve(u1=HOLDING)
    clock = make_clock()
    source = opened(modbus(channel(0), unit_address=SILENT_UNIT, reply_s=0.02), clock=clock, wall=clock)
    source.read()
    clock.ahead_s += 6.0
    items = read_until(source, came.told(NoticeKind.WAITING))
    assert "unit address 9" in items[-1].text
    assert "115200 baud" in items[-1].text
    assert not came.readings(items)


def test_an_instrument_in_trouble_is_told_with_what_to_check(serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(
        modbus(channel(0), unit_address=7)
    )  # the library's server answers so for a unit it has not
    items = read_until(source, came.told(NoticeKind.GARBAGE))
    assert "check the unit address" in items[-1].text


def test_a_pulled_cable_is_marked_and_the_instrument_taken_up_again(bus, serve, opened, read_until, came):
    serve(u1=HOLDING)
    source = opened(modbus(channel(0), period_s=0.02, reply_s=0.05))
    read_until(source, came.count(1))
    near = bus.near
    bus.cut()
    near.unplug()
    items = read_until(source, came.told(NoticeKind.LOST))
    assert [item.text for item in items if isinstance(item, Mark)] == ["unplugged"]
    near.plug_in()
    read_until(source, came.told(NoticeKind.WAITING))
    renewed = type(bus)(near, bus.far)
    try:
        items = read_until(source, came.count(1))
    finally:
        renewed.cut()
    assert came.readings(items)[0].temps_degc == (93.25,)
    assert came.told(NoticeKind.READING)(items)


def test_noise_on_the_line_gives_no_reading_and_breaks_nothing(bus, opened, came):
    source = opened(modbus(channel(0), reply_s=0.02))
    for noise in (
        b"\x01",
        b"\x01\x03\x04\xff\xff\xff\xff\x00\x00",
        b"93.25\r\n" * 9,
        b"\x01\x83\x02\xc0\xf1",
        bytes(200),
    ):
        bus.far.send(noise)
    items = [item for _ in range(8) for item in source.read()]
    assert not came.readings(items)
    assert source._port is not None


def test_opening_a_missing_port_says_so():
    with pytest.raises(PortMissing):
        ModbusSource("/dev/none", modbus(channel(0))).open()


def test_a_layout_of_another_kind_is_refused():
    with pytest.raises(BadInput, match="kind"):
        ModbusSource("/dev/none", Layout(name="x", channels=(Channel(field=1),)))


def test_neighbouring_registers_are_asked_for_at_once():
    layout = modbus(
        channel(4),
        channel(0),
        channel(2),
        channel(6, function=4),
        channel(9),
        channel(0, unit_address=2),
        channel(3),
    )
    assert [tuple(block) for block in blocks_of(layout)] == [
        (1, 3, 0, 6, (1, 2, 6, 0)),
        (1, 3, 9, 11, (4,)),
        (1, 4, 6, 8, (3,)),
        (2, 3, 0, 2, (5,)),
    ]


def test_a_block_never_asks_for_more_registers_than_a_frame_holds():
    blocks = blocks_of(modbus(*(channel(address) for address in range(0, 16, 2))))
    assert len(blocks) == 1
    assert all(block.end - block.address <= 125 for block in blocks)


def test_all_byte_orders_decode_the_same_number():
    a, b, c, d = struct.pack(">f", 123.456)
    for order, raw in zip(ORDERS, ((a, b, c, d), (c, d, a, b), (b, a, d, c), (d, c, b, a)), strict=True):
        registers = [raw[0] << 8 | raw[1], raw[2] << 8 | raw[3]]
        register = Register(address=0, order=order)
        assert number_in(registers, register) == pytest.approx(123.456, rel=1e-6)
        assert readings_of_orders(registers, register)[order] == pytest.approx(123.456, rel=1e-6)
    assert number_in([0x3412], Register(address=0, number="uint16", order="BADC")) == 0x1234


@given(st.floats(width=32), st.sampled_from(["big", "little"]))
def test_numbers_agree_with_the_library(value, word_order):
    """The library's own conversion is the judge for the orders it knows."""
    client = ModbusSerialClient
    registers = client.convert_to_registers(value, client.DATATYPE.FLOAT32, word_order=word_order)
    register = Register(address=0, order="ABCD" if word_order == "big" else "CDAB")
    assert number_in(registers, register) == pytest.approx(value, abs=0, rel=0, nan_ok=True)


@pytest.mark.parametrize(("kind", "datatype"), [("int16", "INT16"), ("uint16", "UINT16"), ("int32", "INT32")])
@given(data=st.data())
def test_whole_numbers_agree_with_the_library(kind, datatype, data):
    client = ModbusSerialClient
    lowest, highest = {
        "int16": (-(2**15), 2**15 - 1),
        "uint16": (0, 2**16 - 1),
        "int32": (-(2**31), 2**31 - 1),
    }[kind]
    value = data.draw(st.integers(lowest, highest))
    registers = client.convert_to_registers(value, client.DATATYPE[datatype])
    assert number_in(registers, Register(address=0, number=kind)) == value


@pytest.mark.parametrize(
    ("number", "one", "temp_degc"),
    [
        (932, channel(0, number="int16", scale=0.1), 93.2),
        (93.19999694824219, channel(0), 93.2),
        (3664, channel(0, unit="K", number="int16", scale=0.1), 93.25),
        (0x7FFF, channel(0, number="int16", scale=0.01), None),
        (-0x8000, channel(0, number="int16", scale=0.01), None),
        (0xFFFF, channel(0, number="uint16", scale=0.01), None),
        (-2147483648, channel(0, number="int32", scale=1e-7), None),
        (-999, channel(0, number="int16", none_values=(-999,)), None),
        (0x7FFF, channel(0, number="int16", scale=0.01, none_values=()), 327.67),
        (nan, channel(0), None),
        (float("inf"), channel(0), None),
        (9.9e37, channel(0), None),
        (1500.0, channel(0), None),
    ],
)
def test_a_kept_number_becomes_a_temperature_or_says_why_not(number, one, temp_degc):
    got, reason = temp_degc_of(number, one)
    assert got == pytest.approx(nan if temp_degc is None else temp_degc, abs=0, nan_ok=True)
    assert bool(reason) == (temp_degc is None)
