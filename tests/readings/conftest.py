from __future__ import annotations

import contextlib
import os
import select
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from benchtemp.readings.layout import Layout
from benchtemp.readings.link import BackOff, LiveSource
from benchtemp.readings.reading import Item, Mark, MarkKind, Notice, NoticeKind, Reading
from benchtemp.readings.serial_source import SerialSource

if sys.platform != "win32":
    import tty

LONGEST_WAIT_S = 10.0


class Interface:
    """A pseudo-terminal behind a link whose name stays, as an adapter's does: closing it pulls the cable."""

    def __init__(self, link: Path) -> None:
        self._link = link
        self._ends: tuple[int, int] | None = None
        self._held: list[int] = []
        self.path = str(link)

    def plug_in(self) -> None:
        controller, terminal = os.openpty()
        tty.setraw(controller)
        tty.setraw(terminal)
        self._ends = controller, terminal
        beside = self._link.with_suffix(".new")
        beside.symlink_to(os.ttyname(terminal))
        beside.replace(self._link)

    def unplug(self, *, keep_link: bool = False) -> None:
        if self._ends is not None:
            if not keep_link:
                self._link.unlink()
            controller, terminal = self._ends
            os.close(controller)
            # Our hold on the other end keeps its name from whoever opens the next pseudo-terminal.
            self._held.append(terminal)
            self._ends = None

    def close(self) -> None:
        self.unplug()
        while self._held:
            os.close(self._held.pop())

    @property
    def controller(self) -> int:
        assert self._ends is not None
        return self._ends[0]

    def send(self, raw: bytes) -> None:
        """Send everything, waiting for the reader when the buffer is full."""
        while raw:
            _, ready, _ = select.select([], [self.controller], [], LONGEST_WAIT_S)
            assert ready, "nobody reads"
            raw = raw[os.write(self.controller, raw[:1024]) :]

    def receive(self, wait_s: float = LONGEST_WAIT_S) -> bytes:
        """Return what the program sent, waiting for it."""
        ready, _, _ = select.select([self.controller], [], [], wait_s)
        return os.read(self.controller, 4096) if ready else b""


@pytest.fixture
def make_interface(tmp_path: Path) -> Iterator[Callable[[], Interface]]:
    if sys.platform == "win32":
        pytest.skip("Windows has no pseudo-terminals")
    made: list[Interface] = []

    def make() -> Interface:
        interface = Interface(tmp_path / f"interface-{len(made)}")
        interface.plug_in()
        made.append(interface)
        return interface

    yield make
    for interface in made:
        interface.close()


@pytest.fixture
def interface(make_interface: Callable[[], Interface]) -> Interface:
    return make_interface()


@pytest.fixture
def soon() -> BackOff:
    """Tries to get an interface back without the pauses a person would not notice."""
    return BackOff(first_s=0.005, longest_s=0.01)


@pytest.fixture
def opened(soon: BackOff) -> Iterator[Callable[..., SerialSource]]:
    """Open serial sources that are closed after the test."""
    made: list[SerialSource] = []

    def open_one(path: str, layout: Layout, **rest: Any) -> SerialSource:
        source = SerialSource(path, layout, back_off=soon, **rest)
        made.append(source)
        source.open()
        return source

    yield open_one
    for source in made:
        source.close()


class Clock:
    """A clock that runs, and that can be made to jump."""

    def __init__(self) -> None:
        self.ahead_s = 0.0

    def __call__(self) -> float:
        return time.perf_counter() + self.ahead_s


@pytest.fixture
def make_clock() -> type[Clock]:
    return Clock


class Came:
    """What is among the items a source gave, and what to read on for."""

    @staticmethod
    def readings(items: Iterable[Item]) -> list[Reading]:
        return [item for item in items if isinstance(item, Reading)]

    @staticmethod
    def notices(items: Iterable[Item]) -> list[NoticeKind]:
        return [item.kind for item in items if isinstance(item, Notice)]

    @staticmethod
    def gaps(items: Iterable[Item]) -> list[str]:
        return [item.text for item in items if isinstance(item, Mark) and item.kind is MarkKind.GAP]

    def count(self, number: int) -> Callable[[list[Item]], bool]:
        return lambda items: len(self.readings(items)) >= number

    def told(self, kind: NoticeKind) -> Callable[[list[Item]], bool]:
        return lambda items: kind in self.notices(items)


@pytest.fixture
def came() -> Came:
    return Came()


@pytest.fixture
def read_until() -> Callable[..., list[Item]]:
    def read(source: LiveSource, enough: Callable[[list[Item]], bool]) -> list[Item]:
        """Read on until enough came; fails when it does not."""
        items: list[Item] = []
        deadline_s = time.monotonic() + LONGEST_WAIT_S
        while not enough(items):
            assert time.monotonic() < deadline_s, f"not enough came: {items[-20:]}"
            items.extend(source.read())
        return items

    return read


class BusPair:
    """Two pseudo-terminals with a thread that copies between them, as a two-wire line with two ends."""

    def __init__(self, near: Interface, far: Interface) -> None:
        self.near = near
        self.far = far
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._copy, daemon=True)
        self._thread.start()

    def _copy(self) -> None:
        ends = {self.near.controller: self.far.controller, self.far.controller: self.near.controller}
        while not self._stopping.is_set():
            with contextlib.suppress(OSError, ValueError):
                for end in select.select(list(ends), [], [], 0.02)[0]:
                    os.write(ends[end], os.read(end, 4096))

    def cut(self) -> None:
        self._stopping.set()
        self._thread.join(LONGEST_WAIT_S)


@pytest.fixture
def bus(make_interface: Callable[[], Interface]) -> Iterator[BusPair]:
    pair = BusPair(make_interface(), make_interface())
    yield pair
    pair.cut()
