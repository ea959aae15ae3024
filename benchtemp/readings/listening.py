"""Listening to a port to find out how fast it speaks and what it says."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import NamedTuple

from benchtemp.errors import NoReadings, PortLost
from benchtemp.readings.connection import UNPLUGGED, Port, open_port
from benchtemp.readings.garbage import reads_as_text
from benchtemp.readings.layout import Wire
from benchtemp.readings.lines import LineDecoder

BAUD_RATES = (9600, 115200, 57600, 19200, 38400, 4800, 2400, 1200, 230400, 460800, 921600)
LISTEN_S = 3.0
SILENCE_S = 6.0
"""A board that starts anew when its port is opened may need 2 s, a slow one sends every 5 s."""
_ENOUGH_LINES = 12
_FEW_LINES = 2
_PLAINLY_GARBAGE_BYTES = 64


class Heard(NamedTuple):
    """What was heard at a baud rate."""

    baud: int
    lines: tuple[bytes, ...]


def listen(
    port: Port,
    seconds: float,
    *,
    decoder: LineDecoder | None = None,
    enough_lines: int = _ENOUGH_LINES,
    stop_at_garbage: bool = False,
    clock: Callable[[], float] = time.perf_counter,
) -> tuple[tuple[bytes, ...], bytes]:
    """Return the whole lines, and all bytes, that an open port sends for a while.

    Args:
        port: The open port.
        seconds: How long to listen at most, s.
        decoder: One that already heard the beginning of a line.
        enough_lines: How many lines end it early.
        stop_at_garbage: Whether bytes that are plainly no text end it early.
        clock: Seconds from any beginning; for tests.

    Raises:
        PortLost: It went away meanwhile.
    """
    decoder = decoder or LineDecoder()
    lines: list[bytes] = []
    everything = bytearray()
    end_s = clock() + seconds
    while clock() < end_s and len(lines) < enough_lines:
        try:
            chunk = port.read(port.in_waiting or 1)
        except UNPLUGGED as exc:
            raise PortLost(
                f"{port.port} went away while it was listened to; plug it in and try again."
            ) from exc
        everything += chunk
        lines += [line.raw for line in decoder.feed(chunk, clock())]
        if (
            stop_at_garbage
            and len(everything) >= _PLAINLY_GARBAGE_BYTES
            and not reads_as_text(bytes(everything))
        ):
            break
    return tuple(lines), bytes(everything)


def guess_baud(
    port: str,
    *,
    rates: Sequence[int] = BAUD_RATES,
    listen_s: float = LISTEN_S,
    silence_s: float = SILENCE_S,
    opener: Callable[[str, Wire], Port] = open_port,
    clock: Callable[[], float] = time.perf_counter,
) -> Heard:
    """Try baud rates until what a port sends looks like text.

    Args:
        port: A device name, a link to one, or a pyserial URL.
        rates: Baud rates in the order in which to try them.
        listen_s: How long to listen at each, s.
        silence_s: How long to wait for the first byte before giving up, s.
        opener: Opens the port; for tests.
        clock: Seconds from any beginning; for tests.

    Raises:
        SourceError: The port cannot be opened or goes away.
        NoReadings: Nothing comes, or nothing that looks like text at any rate.
    """
    opened = opener(port, Wire(baud=rates[0]))
    best = Heard(rates[0], ())
    heard_anything = False
    try:
        for rate in rates:
            if rate != opened.baudrate:
                _set_rate(opened, rate)
            decoder = LineDecoder()
            several = len(rates) > 1
            lines, everything = listen(
                opened, listen_s, decoder=decoder, stop_at_garbage=several, clock=clock
            )
            if len(lines) < _FEW_LINES and (reads_as_text(everything) or not heard_anything):
                longer_s = silence_s - listen_s
                more = listen(opened, longer_s, decoder=decoder, enough_lines=_FEW_LINES, clock=clock)
                lines, everything = lines + more[0], everything + more[1]
            if not everything and not heard_anything:
                raise NoReadings(
                    f"Nothing arrives at {port}; check the cable and that the interface is on, and whether "
                    f"it must be asked for readings (then describe a layout with a request)."
                )
            heard_anything = True
            readable = [line for line in lines if reads_as_text(line)]
            if len(readable) >= _FEW_LINES and len(readable) > 0.8 * len(lines):
                return Heard(rate, lines)
            if len(readable) > len(best.lines):
                best = Heard(rate, tuple(readable))
    finally:
        opened.close()
    if best.lines:
        return best
    raise NoReadings(
        f"Bytes arrive at {port}, but they look like text at no common baud rate; give the rate of the "
        f"interface's manual, or check whether it speaks Modbus."
    )


def _set_rate(port: Port, rate: int) -> None:
    try:
        port.baudrate = rate
        port.reset_input_buffer()
    except UNPLUGGED as exc:
        raise PortLost(f"{port.port} went away while it was listened to; plug it in and try again.") from exc
    except ValueError:
        return  # a rate this port does not know; what it sends will show it
