"""Turning what was picked into a choice a sitting can start with. No widgets; some of it reads files."""

from __future__ import annotations

import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream
from benchtemp.readings.layout import Layout
from benchtemp.readings.ports import PortIdentity, PortInfo, find_again
from benchtemp.readings.replay import ReplaySource
from benchtemp.readings.virtual import Scale, VirtualSource, virtual_machines
from benchtemp.window.panel import SourceChoice

if TYPE_CHECKING:
    from benchtemp.readings.source import Source

_SEEDS = 1_000_000


def virtual_choice(key: str, *, scale: bool = True) -> SourceChoice:
    """Return the choice of a virtual machine by its short name.

    Raises:
        BadInput: There is none of that name.
    """
    machine = virtual_machines().get(key)
    if machine is None:
        raise BadInput(f"There is no virtual machine “{key}”; choose one from the list.")
    # Every start is another morning; the seed stands in the recording, so that it can be had again.
    source = VirtualSource(
        machine,
        seed=random.randrange(_SEEDS),  # noqa: S311 - no secret depends on it
        scale=Scale() if scale else None,
    )
    again: dict[str, object] = {"kind": "virtual", "key": key, "scale": scale}
    return SourceChoice(source, machine=machine.name, begin_again=again)


def replay_choice(path: Path) -> SourceChoice:
    """Read a file and return the choice of replaying it; slow for long files.

    Raises:
        BadInput: It cannot be read as a stream.
    """
    stream = read_stream(path)
    again: dict[str, object] = {"kind": "replay", "path": str(path)}
    return SourceChoice(
        ReplaySource(stream, path.name, paused=False),
        machine=str(stream.meta.get("machine", "")),
        keep=False,
        begin_again=again,
    )


def serial_choice(
    port: PortInfo,
    layout: Layout,
    *,
    machine: str = "",
    scale_port: PortInfo | None = None,
    scale_layout: Layout | None = None,
) -> SourceChoice:
    """Return the choice of an interface on a port, with a scale on another if there is one.

    Raises:
        BadInput: Both are the same port, or the layout cannot be used there.
    """
    if scale_port is not None and scale_port.device == port.device:
        raise BadInput(f"Interface and scale cannot both be on {port.device}; choose another port for one.")
    again: dict[str, object] = {
        "kind": "serial",
        "port": _kept_port(port),
        "layout": msgspec.to_builtins(layout),
        "machine": machine,
    }
    scale: Source | None = None
    if scale_port is not None and scale_layout is not None:
        scale = _opened_by(scale_port, scale_layout)
        again["scale_port"] = _kept_port(scale_port)
        again["scale_layout"] = msgspec.to_builtins(scale_layout)
    return SourceChoice(
        _opened_by(port, layout), scale=scale, machine=machine, hardware=True, begin_again=again
    )


def _opened_by(port: PortInfo, layout: Layout) -> Source:
    # Late, for the window's sake: what talks to ports is not needed to paint the page that offers them.
    from benchtemp.probes.type_k import measured_degc  # noqa: PLC0415
    from benchtemp.readings.opening import open_source  # noqa: PLC0415

    return open_source(port.device, layout, emf_to_degc=measured_degc)


def _kept_port(port: PortInfo) -> dict[str, str]:
    """Return a port as plain values; the adapter's identity goes before the device name, which may change."""
    return {
        "device": port.device,
        "name": port.name,
        "adapter": "" if port.identity is None else str(port.identity),
    }


def _port_again(kept: object) -> PortInfo:
    if not isinstance(kept, dict) or not kept.get("device"):
        raise BadInput("Which port was used last is not known any more; choose it from the list.")
    device, name, adapter = (str(kept.get(key, "")) for key in ("device", "name", "adapter"))
    if not adapter:
        return PortInfo(device, name or device)
    found = find_again(PortIdentity.parse(adapter))
    if found is None:
        raise BadInput(f"{name or device} is not plugged in; plug it in, or choose another port.")
    return found


def choice_again(kept: dict[str, Any]) -> SourceChoice:
    """Return the choice described by the `begin_again` of an earlier one; may read a file or look at ports.

    Raises:
        BadInput: It cannot be had again, and why.
    """
    kind = kept.get("kind")
    if kind == "virtual":
        return virtual_choice(str(kept.get("key", "")), scale=bool(kept.get("scale", True)))
    if kind == "replay":
        return replay_choice(Path(str(kept.get("path", ""))))
    if kind != "serial":
        raise BadInput("What was read from last is not known any more; choose a source.")
    try:
        layout = msgspec.convert(kept.get("layout"), Layout)
        scale_layout = msgspec.convert(kept["scale_layout"], Layout) if "scale_layout" in kept else None
    except msgspec.ValidationError as error:
        raise BadInput("The layout used last cannot be read any more; choose one.") from error
    return serial_choice(
        _port_again(kept.get("port")),
        layout,
        machine=str(kept.get("machine", "")),
        scale_port=_port_again(kept["scale_port"]) if "scale_port" in kept else None,
        scale_layout=scale_layout,
    )


def again_text(kept: dict[str, Any]) -> str:
    """Return what a `begin_again` is about, for a button; empty where it is about nothing known."""
    kind = kept.get("kind")
    if kind == "virtual":
        machine = virtual_machines().get(str(kept.get("key", "")))
        return f"{machine.name} (virtual)" if machine else ""
    if kind == "replay":
        return f"replay of {Path(str(kept.get('path', ''))).name}"
    port = kept.get("port")
    if kind == "serial" and isinstance(port, dict):
        return str(port.get("name") or port.get("device") or "")
    return ""
