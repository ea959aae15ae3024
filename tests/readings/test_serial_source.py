from __future__ import annotations

import threading
import time
from itertools import pairwise
from math import isnan

import pytest

from benchtemp.errors import BadInput, PortMissing
from benchtemp.readings.layout import Channel, Layout, Wire
from benchtemp.readings.reading import Mark, Notice, NoticeKind
from benchtemp.readings.serial_source import RAW_LINES, SerialSource
from benchtemp.readings.source import Source

ONE = Layout(name="one", channels=(Channel(field=1),), separator="", wire=Wire(baud=115200))
TWO = Layout(name="two", channels=(Channel(field=1), Channel(field=2)), wire=Wire(baud=115200))
ASKED = Layout(
    name="asked",
    channels=(Channel(field=1),),
    request="MEAS:TEMP?",
    line_end="CRLF",
    period_s=0.02,
    reply_s=0.05,
    wire=Wire(baud=115200),
)


def test_a_clean_stream_arrives_whole_and_in_order(interface, opened, read_until, came):
    source: Source = opened(interface.path, TWO)
    interface.send(b"0,0\n")  # dropped: the stream may begin in the middle of a line
    interface.send(b"".join(b"%d.5,OPEN\r\n" % n for n in range(300)))
    items = read_until(source, came.count(300))
    assert came.notices(items) == [NoticeKind.WAITING, NoticeKind.READING]
    assert came.gaps(items) == []
    found = came.readings(items)
    assert [reading.temps_degc[0] for reading in found] == [n + 0.5 for n in range(300)]
    assert all(isnan(reading.temps_degc[1]) and reading.reasons[1] for reading in found)
    times = [reading.t_s for reading in found]
    assert times == sorted(times)
    assert 0 <= times[0] <= times[-1] <= source.now_s()
    assert source.channels == ("T1", "T2")
    assert not source.has_weight
    assert source.name == interface.path
    assert source.details["layout"] == "two"
    assert source.details["units_as_sent"] == ["degC", "degC"]


def test_partial_lines_are_put_together(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.send(b"garbage of a first line\n93")
    assert came.readings(source.read()) == []
    interface.send(b".2")
    source.read()
    interface.send(b"5\r")
    (reading,) = came.readings(read_until(source, came.count(1)))
    assert reading.temps_degc == (93.25,)


def test_a_reading_is_stamped_when_its_first_byte_arrives(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.send(b"\n")
    while source._decoder._dropping:
        source.read()
    before_s = source.now_s()
    interface.send(b"93.25\n")
    (reading,) = came.readings(read_until(source, came.count(1)))
    assert before_s - 0.001 <= reading.t_s <= source.now_s()
    assert not reading.time_estimated


def test_lines_that_are_no_readings_are_passed_over(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.send(b"x\n# starting\n93.25\n\xff\xfe\x80\nready\n94.5\n")
    items = read_until(source, came.count(2))
    assert [reading.temps_degc for reading in came.readings(items)] == [(93.25,), (94.5,)]
    assert NoticeKind.GARBAGE not in came.notices(items)
    assert [line.raw for line in source.raw_lines()] == [
        b"# starting",
        b"93.25",
        b"\xff\xfe\x80",
        b"ready",
        b"94.5",
    ]


def feed_for(source, interface, raw: bytes, clock, *, enough, read_until):
    """Send the same bytes again and again while time flies, until enough was told."""

    def fed(items) -> bool:
        interface.send(raw)
        clock.ahead_s += 0.25
        return enough(items)

    return read_until(source, fed)


def test_a_wrong_baud_rate_is_told_with_the_cure(interface, opened, read_until, came, make_clock):
    clock = make_clock()
    source = opened(interface.path, ONE, clock=clock, wall=clock)
    garbled = b"\xfe\x80\x98\xe6\x1e\x00\x86"
    items = feed_for(
        source, interface, garbled, clock, enough=came.told(NoticeKind.GARBAGE), read_until=read_until
    )
    (notice,) = [item for item in items if isinstance(item, Notice) and item.kind is NoticeKind.GARBAGE]
    assert "115200 baud" in notice.text
    assert "guessed" in notice.text
    assert came.readings(items) == []
    assert source.raw_lines()[-1].raw.count(b"\x98")
    interface.send(b"\n93.25\n")
    items = read_until(source, came.count(1))
    assert came.notices(items)[-1] is NoticeKind.READING


def test_lines_of_another_layout_are_told_with_a_sample(interface, opened, read_until, came, make_clock):
    clock = make_clock()
    source = opened(interface.path, TWO, clock=clock, wall=clock)
    items = feed_for(
        source, interface, b"T1=93.25\n", clock, enough=came.told(NoticeKind.GARBAGE), read_until=read_until
    )
    assert "“T1=93.25”" in items[-1].text
    assert "“two”" in items[-1].text
    more = feed_for(
        source, interface, b"T1=94.00\n", clock, enough=lambda _: clock.ahead_s > 20, read_until=read_until
    )
    assert NoticeKind.GARBAGE not in came.notices(more)  # told once


def test_silence_is_told_with_what_to_check(interface, opened, read_until, came, make_clock):
    clock = make_clock()
    source = opened(interface.path, ONE, clock=clock, wall=clock)
    assert came.notices(source.read()) == [NoticeKind.WAITING]
    clock.ahead_s += 6.0
    items = read_until(source, came.told(NoticeKind.WAITING))
    assert "must be asked" in items[-1].text
    interface.send(b"\n93.25\n")
    assert came.notices(read_until(source, came.count(1))) == [NoticeKind.READING]


def test_two_ports_at_once_do_not_mix(make_interface, opened, came):
    interfaces = [make_interface(), make_interface()]
    sources = [opened(one.path, ONE) for one in interfaces]
    found: list[list[float]] = [[], []]

    def read(place: int) -> None:
        deadline_s = time.monotonic() + 10
        while len(found[place]) < 400 and time.monotonic() < deadline_s:
            found[place] += [reading.temps_degc[0] for reading in came.readings(sources[place].read())]

    threads = [threading.Thread(target=read, args=(place,)) for place in (0, 1)]
    for thread in threads:
        thread.start()
    for n in range(401):
        for place, one in enumerate(interfaces):
            one.send(b"%d\n" % (n + 500 * place))
    for thread in threads:
        thread.join()
    assert found == [[float(n) for n in range(1, 401)], [float(n) for n in range(501, 901)]]


def test_a_backlog_after_a_stall_is_spread_and_said(interface, opened, read_until, came, make_clock):
    clock = make_clock()
    source = opened(interface.path, ONE, clock=clock, wall=clock)
    interface.send(b"\n")
    for n in range(8):
        interface.send(b"%d\n" % n)
        read_until(source, came.count(1))
        clock.ahead_s += 0.1
    before_s = source.now_s()
    clock.ahead_s += 2.0  # nobody reads for two seconds
    backlog = b"".join(b"%d\n" % (100 + n) for n in range(20))
    interface.send(backlog)
    while source._port.in_waiting < len(backlog):  # the kernel hands it over in its own time
        pass
    items = read_until(source, came.count(20))
    waited = came.readings(items)
    (gap,) = came.gaps(items)
    assert gap.startswith("20 readings waited up to 2.")
    assert isinstance(items[0], Mark)
    assert all(reading.time_estimated for reading in waited)
    steps = [b.t_s - a.t_s for a, b in pairwise(waited)]
    assert steps == pytest.approx([0.1] * 19, rel=0.2)
    assert waited[0].t_s >= before_s - 0.2
    interface.send(b"5\n")
    assert not came.readings(read_until(source, came.count(1)))[0].time_estimated


def test_sleep_of_the_computer_is_marked(interface, opened, read_until, came, make_clock):
    clock, wall = make_clock(), make_clock()
    source = opened(interface.path, ONE, clock=clock, wall=wall)
    wall.ahead_s += 600.0
    items = read_until(source, lambda items: bool(came.gaps(items)))
    assert came.gaps(items) == ["computer slept or its clock was set (+600.0 s)"]


def test_an_instrument_is_asked_at_its_rate(interface, opened, read_until, came):
    source = opened(interface.path, ASKED)
    stop = threading.Event()
    asked: list[float] = []

    def answer() -> None:
        while not stop.is_set():
            request = interface.receive(0.02)
            if request:
                assert request == b"MEAS:TEMP?\r\n"
                asked.append(time.perf_counter())
                interface.send(b"+9.325000E+01\n")

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        found = came.readings(read_until(source, came.count(20)))
    finally:
        stop.set()
        thread.join()
    assert {reading.temps_degc for reading in found} == {(93.25,)}
    assert len(asked) >= 20
    assert asked[19] - asked[0] > 18 * 0.02  # not faster than the layout says
    assert source.details["request"] == "MEAS:TEMP?"


def test_an_unanswered_question_is_asked_again_and_told(interface, opened, read_until, came, make_clock):
    clock = make_clock()
    source = opened(interface.path, ASKED, clock=clock, wall=clock)
    source.read()
    assert interface.receive() == b"MEAS:TEMP?\r\n"
    clock.ahead_s += 6.0
    items = read_until(source, came.told(NoticeKind.WAITING))
    assert "does not answer “MEAS:TEMP?”" in items[-1].text
    while not (again := interface.receive(0.0)):
        source.read()
    assert again.startswith(b"MEAS:TEMP?\r\n")
    interface.send(b"93.25\n")
    assert came.readings(read_until(source, came.count(1)))[0].temps_degc == (93.25,)


def test_opening_a_missing_port_says_so():
    with pytest.raises(PortMissing, match="plug the interface in"):
        SerialSource("/dev/none", ONE).open()


def test_a_source_can_be_closed_twice_and_opened_again(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    source.close()
    source.close()
    assert list(source.read()) == []
    source.open()
    assert source.now_s() < 5.0
    interface.send(b"\n93.25\n")
    assert len(came.readings(read_until(source, came.count(1)))) == 1


def test_a_waiting_read_can_be_interrupted(interface, opened):
    source = opened(interface.path, ONE)
    source.read()
    waits = []

    def read() -> None:
        begun_s = time.perf_counter()
        source.read()
        waits.append(time.perf_counter() - begun_s)

    thread = threading.Thread(target=read)
    thread.start()
    source.interrupt()
    thread.join()
    assert waits[0] < 0.15
    source.close()
    source.interrupt()  # harmless afterwards


def test_interrupting_loses_no_bytes(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.send(b"\n")
    found = []
    for n in range(60):
        interface.send(b"%d\n" % n)
        source.interrupt()
        found += came.readings(source.read())
    found += came.readings(read_until(source, came.count(60 - len(found)))) if len(found) < 60 else []
    assert [reading.temps_degc[0] for reading in found] == list(range(60))


def test_only_the_last_raw_lines_are_kept(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.send(b"\n" + b"".join(b"%d\n" % n for n in range(RAW_LINES + 50)))
    read_until(source, came.count(RAW_LINES + 50))
    kept = source.raw_lines()
    assert [line.raw for line in kept] == [b"%d" % n for n in range(50, RAW_LINES + 50)]
    assert kept[0].t_s <= kept[-1].t_s


def test_urls_are_sources_too(opened, read_until, came):
    source = opened("loop://", ONE)
    source._port.write(b"\n93.25\n94.5\n")
    found = came.readings(read_until(source, came.count(2)))
    assert [reading.temps_degc[0] for reading in found] == [93.25, 94.5]


def test_a_layout_of_another_kind_is_refused():
    with pytest.raises(BadInput, match="scale"):
        SerialSource("/dev/none", Layout(name="x", kind="scale"))
