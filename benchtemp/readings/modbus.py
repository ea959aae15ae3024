"""An instrument that is asked for its registers by Modbus RTU."""

from __future__ import annotations

import logging
import struct
from collections.abc import Sequence
from math import isfinite, nan
from typing import NamedTuple, Unpack

from pymodbus.client import ModbusSerialClient
from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ModbusPDU

from benchtemp.errors import BadInput, PortLost
from benchtemp.readings.connection import READ_TIMEOUT_S, Port, open_port
from benchtemp.readings.layout import Channel, Layout, Register
from benchtemp.readings.link import SILENT_S, LiveSource, Timing
from benchtemp.readings.polling import Polling
from benchtemp.readings.reading import Item, NoticeKind, Reading
from benchtemp.readings.values import NO_MEASUREMENT, degc_converter, implausible

logging.getLogger("pymodbus").addHandler(logging.NullHandler())  # what goes wrong is told by notices

_STRUCT_CODES = {"int16": ">h", "uint16": ">H", "int32": ">i", "float32": ">f"}
NONE_VALUES: dict[str, tuple[int, ...]] = {
    "int16": (0x7FFF, -0x8000),
    "uint16": (0x7FFF, 0x8000, 0xFFFF),
    "int32": (0x7FFF_FFFF, -0x8000_0000),
    "float32": (),
}
"""Whole numbers that instruments usually keep for an open probe (common practice; a layout may differ)."""

_MOST_REGISTERS = 120
_REFUSALS = {
    1: "does not know function {function}; try function {other}",
    2: "has no register {address}; mind that documents count from 40001 or 30001 what a layout counts from 0",
    3: "does not accept the question for register {address}; read fewer registers or try another address",
    4: "could not read register {address}; check the unit address and that the instrument is not in an alarm",
    6: "is busy; ask less often",
}


class Block(NamedTuple):
    """Registers next to each other, read by one question.

    Attributes:
        unit_address: Which instrument on the bus.
        function: 3 or 4.
        address: The first register.
        end: The register behind the last one.
        channels: Numbers of the channels kept there, from 0.
    """

    unit_address: int
    function: int
    address: int
    end: int
    channels: tuple[int, ...]


def blocks_of(layout: Layout) -> tuple[Block, ...]:
    """Return the questions that read all of a layout's channels, neighbouring registers by one question."""
    wanted: list[Block] = []
    for number, channel in enumerate(layout.channels):
        register = channel.register
        if register is not None:
            unit_address = register.unit_address or layout.unit_address
            end = register.address + register.count
            wanted.append(Block(unit_address, register.function, register.address, end, (number,)))
    blocks: list[Block] = []
    for block in sorted(wanted):
        last = blocks[-1] if blocks else None
        if (
            last is not None
            and last[:2] == block[:2]
            and block.address <= last.end
            and block.end - last.address <= _MOST_REGISTERS
        ):
            channels = (*last.channels, *block.channels)
            blocks[-1] = last._replace(end=max(last.end, block.end), channels=channels)
        else:
            blocks.append(block)
    return tuple(blocks)


def number_in(registers: Sequence[int], register: Register) -> float:
    """Return the number kept in one or two registers, before scaling.

    Args:
        registers: 16-bit words in the order in which they were sent.
        register: Kind of number and order of its bytes.
    """
    words = registers if register.order in ("ABCD", "BADC") else registers[::-1]
    swapped = register.order in ("BADC", "DCBA")
    raw = b"".join(word.to_bytes(2, "little" if swapped else "big") for word in words)
    number: float = struct.unpack(_STRUCT_CODES[register.number], raw)[0]
    return number


def readings_of_orders(registers: Sequence[int], register: Register) -> dict[str, float]:
    """Return what two registers say in each of the four byte orders, to be shown side by side."""
    orders = ("ABCD", "CDAB", "BADC", "DCBA")
    return {order: number_in(registers, _in_order(register, order)) for order in orders}


def _in_order(register: Register, order: str) -> Register:
    return Register(address=register.address, number=register.number, order=order)  # type: ignore[arg-type]


def temp_degc_of(number: float, channel: Channel) -> tuple[float, str]:
    """Return °C for a number as it was kept (NaN where it stands for none), and why there is none."""
    register = channel.register
    assert register is not None
    none_values = NONE_VALUES[register.number] if register.none_values is None else register.none_values
    if not isfinite(number) or abs(number) >= NO_MEASUREMENT or number in none_values:
        return nan, f"the instrument keeps {number:g} in register {register.address}, which means no reading"
    value = number * register.scale + register.offset
    convert = degc_converter(channel.unit)
    temp_degc = round(value, 4) if convert is None else convert(value)
    reason = implausible(temp_degc)
    return (nan if reason else temp_degc), reason


class ModbusSource(LiveSource):
    """Asks an instrument for its registers at a steady rate.

    A reading's time lies halfway between the first question and the last answer.

    Args:
        device: A device name, a link to one, or a pyserial URL.
        layout: Which registers hold what; kind `modbus`.
        timing: Clocks and pauses of its own, for tests.

    Raises:
        BadInput: The layout is of another kind.
    """

    def __init__(self, device: str, layout: Layout, **timing: Unpack[Timing]) -> None:
        if layout.kind != "modbus":
            raise BadInput(
                f"The layout “{layout.name}” is of kind “{layout.kind}”; pick one of kind “modbus”."
            )
        super().__init__(device, layout, **timing)
        self._blocks = blocks_of(layout)
        self._polling = Polling(b"", layout.period_s, layout.reply_s)
        self._client: ModbusSerialClient | None = None
        self._began_asking_s = 0.0
        self._next_block = 0
        self._temps_degc: list[float] = []
        self._reasons: list[str] = []
        self._refused = 0
        self._silent = 0

    def interrupt(self) -> None:
        """Make a waiting `read` return soon, but never drop an answer that is still to come."""
        self._wake.set()

    def _connect(self, device: str) -> Port:
        wire = self._layout.wire
        port = open_port(device, wire, timeout_s=self._layout.reply_s)
        client = ModbusSerialClient(
            device,
            baudrate=wire.baud,
            bytesize=wire.data_bits,
            parity=port.parity,
            stopbits=wire.stop_bits,
            timeout=self._layout.reply_s,
            retries=0,
        )
        client.socket = port  # opened by us: for its errors, and for its lock
        self._client = client
        self._polling.restart()
        self._next_block = 0
        return port

    def _turn(self, port: Port) -> list[Item]:
        if self._next_block == 0:
            now_s = self.now_s()
            pause_s = self._polling.pause_s(now_s)
            if pause_s > 0:
                self._pause(min(pause_s, READ_TIMEOUT_S))
                port.in_waiting  # noqa: B018  a port that is gone says so here
                return []
            self._polling.note_asked(now_s)
            self._began_asking_s = now_s
            self._temps_degc = [nan] * len(self._layout.channels)
            self._reasons = [""] * len(self._layout.channels)
            self._refused = self._silent = 0
        # One question a turn: with many instruments on the bus, some of them silent, `read` returns soon.
        self._ask(self._blocks[self._next_block])
        self._next_block += 1
        if self._next_block < len(self._blocks):
            return []
        self._next_block = 0
        self._polling.answered()
        return self._reading()

    def _reading(self) -> list[Item]:
        if self._silent + self._refused == len(self._layout.channels):
            if self._refused:
                reason = next(reason for reason in self._reasons if reason)
                self._tell(NoticeKind.GARBAGE, f"{self.name}: {reason}.")
            return []
        self._tell_reading()
        t_s = (self._began_asking_s + self.now_s()) / 2
        reasons = tuple(self._reasons) if any(self._reasons) else ()
        return [Reading(t_s, tuple(self._temps_degc), nan, reasons)]

    def _ask(self, block: Block) -> None:
        """Ask for one block and keep what it holds, or why it holds nothing.

        Raises:
            PortLost: The port is gone.
        """
        client = self._client
        assert client is not None
        ask = client.read_holding_registers if block.function == 3 else client.read_input_registers
        count = block.end - block.address
        try:
            answer = ask(block.address, count=count, device_id=block.unit_address)
        except ConnectionException as exc:
            raise PortLost(f"{self.name} went away.") from exc
        except (ModbusException, struct.error, IndexError, ValueError):
            answer = None  # silence, or an answer no instrument should give
        if answer is not None and answer.isError():
            self._note_heard()
            self._refuse(block, answer)
            return
        if answer is None or len(answer.registers) != count:
            for number in block.channels:
                self._reasons[number] = f"unit {block.unit_address} did not answer"
                self._silent += 1
            return
        self._note_heard()
        for number in block.channels:
            channel = self._layout.channels[number]
            assert channel.register is not None
            at = channel.register.address - block.address
            kept = number_in(answer.registers[at : at + channel.register.count], channel.register)
            self._temps_degc[number], self._reasons[number] = temp_degc_of(kept, channel)

    def _refuse(self, block: Block, answer: ModbusPDU) -> None:
        code = answer.exception_code
        told = _REFUSALS.get(code, "refuses register {address} (exception code {code})")
        reason = f"unit {block.unit_address} " + told.format(
            address=block.address, function=block.function, other=7 - block.function, code=code
        )
        for number in block.channels:
            self._reasons[number] = reason
            self._refused += 1

    def _patience_s(self) -> float:
        return max(SILENT_S, 2.0 * self._layout.period_s)

    def _silence_text(self) -> str:
        addresses = sorted({block.unit_address for block in self._blocks})
        units = " and ".join(map(str, addresses))
        wire = self._layout.wire
        return (
            f"No answer at {self.name} from unit address {units} at {wire.baud} baud, parity {wire.parity}; "
            f"check these three at the instrument, and whether the two wires of the line are swapped."
        )
