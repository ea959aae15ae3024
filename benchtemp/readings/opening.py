"""From a port and a layout to the source that reads it."""

from __future__ import annotations

from benchtemp.readings.layout import Layout
from benchtemp.readings.link import LiveSource
from benchtemp.readings.scale import ScaleSource
from benchtemp.readings.serial_source import SerialSource
from benchtemp.readings.values import EmfToDegc


def open_source(port: str, layout: Layout, emf_to_degc: EmfToDegc | None = None) -> LiveSource:
    """Return the source for a port; its `open` still has to be called.

    Args:
        port: A device name, a link to one, or a pyserial URL (`socket://…`, `rfc2217://…`, `loop://`).
        layout: How the interface speaks; its kind decides which source it is.
        emf_to_degc: Turns mV and the reference junction's °C into °C; needed for layouts in mV.

    Raises:
        BadInput: The layout needs what is not at hand.
    """
    if layout.kind == "modbus":
        from benchtemp.readings.modbus import ModbusSource  # noqa: PLC0415  late: few interfaces need it

        return ModbusSource(port, layout)
    if layout.kind == "scale":
        return ScaleSource(port, layout)
    return SerialSource(port, layout, emf_to_degc)
