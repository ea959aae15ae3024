"""Readings and where they come from: serial lines, Modbus RTU, scales, replay, the virtual machine."""
