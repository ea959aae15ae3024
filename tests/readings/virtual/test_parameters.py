"""Parameters: checked when made, documented one by one, and invented throughout."""

from __future__ import annotations

import inspect
import re

import msgspec
import pytest

from benchtemp.errors import BadInput
from benchtemp.readings.virtual import parameters, virtual_machines
from benchtemp.readings.virtual.parameters import Basket, Boiler, Machine, Pid, Place, Thermostat

PARTS = [
    part
    for _, part in inspect.getmembers(parameters, inspect.isclass)
    if issubclass(part, msgspec.Struct) and not part.__name__.startswith("_")
]
ORIGINS = ("estimate", "handbook", "practice", "standard")


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_parameter_is_documented(part):
    told = inspect.getdoc(part)
    for name in part.__struct_fields__:
        assert re.search(rf"\b{name}\b", told), f"{part.__name__}.{name} is not in the docstring"


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_numeric_default_says_where_it_comes_from(part):
    told = inspect.getdoc(part)
    entries = re.split(r"\n(?=    \w[\w, ]*: )", told.partition("Attributes:")[2])
    for info in msgspec.structs.fields(part):
        if not isinstance(info.default, float | int) or isinstance(info.default, bool) or info.default == 0.0:
            continue
        if info.name == "cells":
            continue
        entry = next(text for text in entries if re.search(rf"\b{info.name}\b", text.partition(":")[0]))
        position = entries.index(entry)
        # "these two" and "the same" point at a neighbour that says it.
        assert any(word in entry for word in ORIGINS), f"{part.__name__}.{info.name}: {entries[position]}"


def test_a_part_with_an_impossible_number_is_refused_in_one_sentence():
    with pytest.raises(BadInput, match=r"loss_w_per_k = -1 cannot be"):
        Boiler(control=Pid(setpoint_degc=95.0), loss_w_per_k=-1.0)
    with pytest.raises(BadInput, match="nan"):
        Thermostat(setpoint_degc=float("nan"))
    with pytest.raises(BadInput, match="at least one cell"):
        Machine(name="x", kind="x", boiler=Boiler(control=Pid(setpoint_degc=95.0), cells=0))
    with pytest.raises(BadInput, match="add up to 1"):
        Basket(layers=(0.5, 0.4))
    with pytest.raises(BadInput, match="between 1 and 8"):
        Machine(name="x", kind="x", boiler=Boiler(control=Pid(setpoint_degc=95.0)), places=(Place.GROUP,) * 9)


def test_machines_are_plain_values_that_survive_a_file_and_can_key_a_cache():
    for machine in virtual_machines().values():
        assert msgspec.json.decode(msgspec.json.encode(machine), type=Machine) == machine
        assert hash(machine) == hash(msgspec.structs.replace(machine))


def test_the_catalogue_has_the_kinds_trainees_meet():
    machines = virtual_machines()
    assert len(machines) >= 6
    assert len({machine.name for machine in machines.values()}) == len(machines)
    assert sum(machine.coil is not None for machine in machines.values()) == 1
    assert any(isinstance(machine.boiler.control, Thermostat) for machine in machines.values())
    assert any(len(machine.places) == 4 for machine in machines.values())
    assert any(machine.pump.preinfusion_s > 0.0 for machine in machines.values())
