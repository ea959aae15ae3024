from __future__ import annotations

import socket

from benchtemp.errors import PortBusy
from benchtemp.readings import link
from benchtemp.readings.layout import Channel, Layout, Wire
from benchtemp.readings.ports import PortIdentity, PortInfo
from benchtemp.readings.reading import NoticeKind

ONE = Layout(name="one", channels=(Channel(field=1),), separator="", wire=Wire(baud=115200))


def test_a_pulled_cable_is_marked_and_the_same_interface_taken_up_again(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.send(b"\n93.25\n")
    read_until(source, came.count(1))
    interface.unplug()
    items = read_until(source, came.told(NoticeKind.LOST))
    assert came.gaps(items) == ["unplugged"]
    assert "plug it in again" in items[-1].text
    lost_s = items[-1].t_s
    for _ in range(10):
        assert came.readings(source.read()) == []
    interface.plug_in()
    items = read_until(source, came.told(NoticeKind.WAITING))
    interface.send(b"4.5\n")  # the end of a line that began before
    interface.send(b"95.5\n")
    items += read_until(source, came.count(1))
    assert came.notices(items) == [NoticeKind.WAITING, NoticeKind.READING]
    assert came.gaps(items) == []
    (reading,) = came.readings(items)
    assert reading.temps_degc == (95.5,)
    assert reading.t_s > lost_s


def test_a_port_that_comes_back_and_goes_again_at_once_makes_one_gap(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    read_until(source, came.told(NoticeKind.WAITING))
    seen = []
    for _ in range(3):
        interface.unplug()
        seen += read_until(source, came.told(NoticeKind.LOST))
        interface.plug_in()
        seen += read_until(source, came.told(NoticeKind.WAITING))
    assert came.gaps(seen) == ["unplugged"]


def test_another_program_holding_the_port_after_replugging_is_told(interface, opened, read_until, came):
    source = opened(interface.path, ONE)
    interface.unplug()
    read_until(source, came.told(NoticeKind.LOST))
    source._connect, connect = _busy, source._connect
    items = read_until(source, came.told(NoticeKind.LOST))
    assert items[-1].text == "busy, close it"
    source._connect = connect
    interface.plug_in()
    read_until(source, came.told(NoticeKind.WAITING))


def _busy(_device):
    raise PortBusy("busy, close it")


def test_the_same_adapter_is_found_under_another_name(make_interface, opened, read_until, monkeypatch, came):
    first, second = make_interface(), make_interface()
    identity = PortIdentity(0x1209, 1, "A1", "1-2")
    now_at = [first.path]
    monkeypatch.setattr(link, "port_at", lambda device: PortInfo(device, "Probe Bridge", identity))
    monkeypatch.setattr(
        link, "find_again", lambda _: PortInfo(now_at[0], "Probe Bridge", identity) if now_at else None
    )
    source = opened(first.path, ONE)
    first.send(b"\n93.25\n")
    read_until(source, came.count(1))
    now_at.clear()
    first.unplug()
    read_until(source, came.told(NoticeKind.LOST))
    first.plug_in()  # another adapter gets the old name: it must not be taken
    for _ in range(5):
        assert list(source.read()) == []
    now_at.append(second.path)
    read_until(source, came.told(NoticeKind.WAITING))
    second.send(b"\n94.5\n")
    assert came.readings(read_until(source, came.count(1)))[0].temps_degc == (94.5,)
    assert source.details["adapter_identity"] == str(identity)
    assert source.name == "Probe Bridge"


def test_an_adapter_that_left_the_list_is_lost_even_if_reads_stay_silent(
    interface, opened, read_until, monkeypatch, *, came, make_clock
):
    identity = PortIdentity(0x1209, 1, "", "1-2")
    monkeypatch.setattr(link, "port_at", lambda device: PortInfo(device, "Probe Bridge", identity))
    monkeypatch.setattr(link, "find_again", lambda _: None)
    clock = make_clock()
    source = opened(interface.path, ONE, clock=clock, wall=clock)
    clock.ahead_s += 1.5
    items = read_until(source, came.told(NoticeKind.LOST))
    assert came.gaps(items) == ["unplugged"]
    assert "same USB socket" in items[-1].text


def test_closing_after_the_cable_was_pulled_is_harmless(interface, opened):
    source = opened(interface.path, ONE)
    interface.unplug()
    source.close()


def test_a_network_port_is_read_and_found_again(opened, read_until, came):
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"socket://127.0.0.1:{server.getsockname()[1]}"
        source = opened(address, ONE)
        connection, _ = server.accept()
        with connection:
            connection.sendall(b"\n93.25\n")
            read_until(source, came.count(1))
        read_until(source, came.told(NoticeKind.LOST))
        read_until(source, came.told(NoticeKind.WAITING))
        connection, _ = server.accept()
        with connection:
            connection.sendall(b"\n94.5\n")
            assert came.readings(read_until(source, came.count(1)))[0].temps_degc == (94.5,)
