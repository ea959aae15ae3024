from __future__ import annotations

import subprocess
import sys

import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.layout import shipped_layout
from benchtemp.readings.modbus import ModbusSource
from benchtemp.readings.opening import open_source
from benchtemp.readings.scale import ScaleSource
from benchtemp.readings.serial_source import SerialSource


@pytest.mark.parametrize(
    ("layout", "kind"),
    [("one-number", SerialSource), ("scale", ScaleSource), ("modbus-tenths", ModbusSource)],
)
def test_the_layout_decides_which_source_it_is(layout, kind):
    assert type(open_source("/dev/none", shipped_layout(layout))) is kind


def test_a_layout_in_millivolts_needs_the_table():
    with pytest.raises(BadInput, match="mV"):
        open_source("/dev/none", shipped_layout("millivolts"))
    open_source(
        "/dev/none", shipped_layout("millivolts"), emf_to_degc=lambda emf_mv, _junction_degc: emf_mv * 25
    )


def test_reading_lines_does_not_load_the_modbus_library():
    code = "import sys, benchtemp.readings.opening; sys.exit('pymodbus' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
