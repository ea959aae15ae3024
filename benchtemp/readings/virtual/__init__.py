"""The virtual espresso machine: a lumped thermal model that obeys the pump key, read live or by script.

Every trace it gives is computed from heat balances of boiler, group, basket, bed and probe; nothing is
drawn by hand. Parameters are physical, in SI, and say where they come from (`parameters`).
"""

from __future__ import annotations

from benchtemp.readings.virtual.attendant import Attendant
from benchtemp.readings.virtual.catalogue import virtual_machines
from benchtemp.readings.virtual.machine import EnergyAccount, TracePoint, VirtualMachine
from benchtemp.readings.virtual.operated import MachineState
from benchtemp.readings.virtual.orders import Order, OrderKind
from benchtemp.readings.virtual.parameters import Machine, Place, Probe, Scale
from benchtemp.readings.virtual.scripted import simulate
from benchtemp.readings.virtual.source import VirtualSource
from benchtemp.readings.virtual.truth import ShotTruth

__all__ = [
    "Attendant",
    "EnergyAccount",
    "Machine",
    "MachineState",
    "Order",
    "OrderKind",
    "Place",
    "Probe",
    "Scale",
    "ShotTruth",
    "TracePoint",
    "VirtualMachine",
    "VirtualSource",
    "simulate",
    "virtual_machines",
]
