from __future__ import annotations

import msgspec
import pytest
import tomli_w

from benchtemp.errors import BadInput
from benchtemp.readings import ports
from benchtemp.readings.layout import Channel, Layout, shipped_layout
from benchtemp.readings.ports import PortIdentity, PortInfo
from benchtemp.readings.virtual import VirtualSource, virtual_machines
from benchtemp.window.sources.choices import (
    again_text,
    choice_again,
    replay_choice,
    serial_choice,
    virtual_choice,
)

PORT = PortInfo("/dev/ttyQ7", "Quillmore Box (ttyQ7)", PortIdentity(0x1111, 0x2222, "A1", "1-2"))
LAYOUT = Layout(name="one", channels=(Channel(field=1),))


def kept(choice):
    """Return `begin_again` as it comes back from the preferences file."""
    return msgspec.toml.decode(tomli_w.dumps(choice.begin_again).encode())


@pytest.mark.parametrize("key", virtual_machines())
def test_every_virtual_machine_can_be_chosen_and_chosen_again(key):
    choice = virtual_choice(key, scale=False)
    assert isinstance(choice.source, VirtualSource)
    assert not choice.source.has_weight
    assert choice.keep
    assert not choice.hardware
    again = choice_again(kept(choice))
    assert again.source.name == choice.machine == virtual_machines()[key].name
    assert not again.source.has_weight
    assert again_text(kept(choice)) == f"{choice.machine} (virtual)"


def test_two_starts_of_a_virtual_machine_are_two_mornings():
    seeds = {virtual_choice("dual-boiler").source.details["seed"] for _ in range(8)}
    assert len(seeds) > 1


def test_a_recording_is_replayed_and_nothing_is_kept(recording):
    choice = replay_choice(recording)
    assert choice.source.name == "morning.ecsv"
    assert choice.machine == "Kestle Bench"
    assert not choice.keep
    assert choice_again(kept(choice)).source.end_s == pytest.approx(199.9)
    assert again_text(kept(choice)) == "replay of morning.ecsv"


def test_a_file_that_is_no_recording_is_refused(tmp_path):
    path = tmp_path / "letter.txt"
    path.write_text("Dear reader,\n")
    with pytest.raises(BadInput, match=r"letter\.txt"):
        replay_choice(path)
    with pytest.raises(BadInput, match=r"gone\.ecsv"):
        choice_again({"kind": "replay", "path": str(tmp_path / "gone.ecsv")})


def test_an_interface_is_found_again_wherever_it_is_plugged_in(monkeypatch):
    choice = serial_choice(PORT, LAYOUT, machine="bar left")
    assert choice.hardware
    assert choice.machine == "bar left"
    moved = PORT._replace(device="/dev/ttyQ9", name="Quillmore Box (ttyQ9)")
    monkeypatch.setattr(ports, "list_ports", lambda: (moved,))
    again = choice_again(kept(choice))
    assert again.begin_again["port"]["device"] == "/dev/ttyQ9"
    assert again.begin_again["layout"] == choice.begin_again["layout"]
    assert again.machine == "bar left"
    monkeypatch.setattr(ports, "list_ports", lambda: ())
    with pytest.raises(BadInput, match="not plugged in"):
        choice_again(kept(choice))


def test_a_scale_comes_beside_the_interface():
    scale_port = PortInfo("/dev/ttyQ8", "Bramley Scale (ttyQ8)")
    choice = serial_choice(PORT, LAYOUT, scale_port=scale_port, scale_layout=shipped_layout("scale"))
    assert choice.scale.has_weight
    again = choice_again({**kept(choice), "port": {"device": "/dev/ttyQ7"}})
    assert again.scale is not None
    with pytest.raises(BadInput, match="cannot both be"):
        serial_choice(PORT, LAYOUT, scale_port=PORT, scale_layout=shipped_layout("scale"))


@pytest.mark.parametrize(
    "broken",
    [
        {},
        {"kind": "gramophone"},
        {"kind": "virtual", "key": "no-such"},
        {"kind": "serial", "port": {"device": "/dev/ttyQ7"}, "layout": {"name": "x", "channels": 3}},
        {"kind": "serial", "port": "COM3", "layout": {"name": "x", "channels": [{"field": 1}]}},
        {"kind": "serial", "port": {"device": "a", "adapter": "??"}, "layout": msgspec.to_builtins(LAYOUT)},
    ],
)
def test_what_is_not_known_any_more_is_said_in_a_sentence(broken):
    with pytest.raises(BadInput) as refused:
        choice_again(broken)
    assert str(refused.value).endswith(".")


def test_nothing_is_opened_by_choosing(monkeypatch):
    monkeypatch.setattr("benchtemp.readings.opening.SerialSource", FakeSource)
    assert serial_choice(PORT, LAYOUT).source.opened is False


class FakeSource:
    """A source that tells whether it was opened."""

    def __init__(self, *_args):
        self.opened = False

    def open(self):
        self.opened = True
