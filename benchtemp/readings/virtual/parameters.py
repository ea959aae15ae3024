"""What a virtual machine is made of: physical parameters in SI units.

Where a default comes from stands behind each attribute:
    handbook: a property of a material, CRC Handbook of Chemistry and Physics or a like table, from memory;
    estimate: our own, from size and mass of such parts, or chosen so that traces look as they do in a shop;
    practice: common practice, no source.
All machines are invented; none stands for a real one.
"""

from __future__ import annotations

from enum import StrEnum
from math import isfinite
from typing import ClassVar

import msgspec

from benchtemp.errors import BadInput

BRASS_J_PER_KG_K = 380.0
"""Specific heat of brass (handbook)."""
STEEL_J_PER_KG_K = 500.0
"""Specific heat of stainless steel (handbook)."""
ALUMINIUM_J_PER_KG_K = 900.0
"""Specific heat of aluminium (handbook)."""
COFFEE_J_PER_KG_K = 1700.0
"""Specific heat of dry ground coffee (estimate, as for other dry plant matter)."""


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A part: every number must be finite, and none may be negative unless the part says so."""

    _signed: ClassVar[frozenset[str]] = frozenset()

    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            value = getattr(self, name)
            if not isinstance(value, float):
                continue
            if name in self._signed:
                if not isfinite(value):
                    raise BadInput(f"{name} = {value:g} cannot be; give a finite number.")
            elif not 0.0 <= value < 1e12:
                raise BadInput(f"{name} = {value:g} cannot be; give a number of at least 0.")


class Thermostat(_Part, frozen=True, kw_only=True, tag="thermostat"):
    """Switches the heater fully on below and fully off above.

    Attributes:
        setpoint_degc: Middle of the two switching points at the sensor.
        below_k, above_k: How far from it the heater goes on and off; 4 K for a bimetal switch, 0.5 K for an
            electronic one or a pressure switch on a steam boiler (estimate).
    """

    setpoint_degc: float
    below_k: float = 4.0
    above_k: float = 4.0


class Pid(_Part, frozen=True, kw_only=True, tag="pid"):
    """Sets the heater's duty between 0 and 1 from the sensor's error (parallel form).

    Attributes:
        setpoint_degc: What the display shows; the brew temperature lies below it by the machine's offset.
        duty_per_k: Proportional gain (estimate, tuned on the model).
        duty_per_k_s: Integral gain (estimate, tuned on the model).
        duty_s_per_k: Gain on the sensor's rate of change (estimate, tuned on the model).
    """

    setpoint_degc: float
    duty_per_k: float = 0.15
    duty_per_k_s: float = 0.002
    duty_s_per_k: float = 0.6


class SensorSite(StrEnum):
    """What the controller's sensor touches."""

    METAL = "metal"
    WATER = "water"


class Boiler(_Part, frozen=True, kw_only=True):
    """A heated vessel, or a thermoblock: metal with a heater in it and water in contact.

    Attributes:
        control: Thermostat or PID.
        water_kg: Water held (estimate).
        cells: Into how many layers the water is divided, from the inlet to the outlet.
        metal_kg, metal_j_per_kg_k: Vessel and heating element (estimate; brass, handbook).
        heater_w: Rated power (estimate).
        wetted_w_per_k: Metal to all the water at rest, natural convection: some 600 W/(m² K) on 0.2 m²
            (estimate).
        wetted_flowing_w_per_k: The same while the pump runs (estimate).
        layer_w_per_k: Between layers when the upper one is warmer (estimate).
        mixing_w_per_k: Between layers when the lower one is warmer and rises (estimate).
        loss_w_per_k: To the room, about 0.1 m² at 8 W/(m² K), half of it insulated (estimate).
        sensor: Where the controller's sensor sits.
        sensor_tau_s: Its time constant (estimate: 3 s in a pocket, 10 s for a bimetal disc).
    """

    control: Thermostat | Pid
    water_kg: float = 0.5
    cells: int = 4
    metal_kg: float = 1.5
    metal_j_per_kg_k: float = BRASS_J_PER_KG_K
    heater_w: float = 1200.0
    wetted_w_per_k: float = 120.0
    wetted_flowing_w_per_k: float = 160.0
    layer_w_per_k: float = 0.5
    mixing_w_per_k: float = 40.0
    loss_w_per_k: float = 0.5
    sensor: SensorSite = SensorSite.WATER
    sensor_tau_s: float = 3.0


class Coil(_Part, frozen=True, kw_only=True):
    """A heat exchanger: brew water runs through a pipe inside the steam boiler.

    Attributes:
        water_kg: Water in the pipe (estimate).
        cells: Into how many pieces the pipe is divided.
        wetted_w_per_k: Steam boiler to the water at rest (estimate).
        wetted_flowing_w_per_k: The same while water flows (estimate: leaves about a quarter of the
            difference at 2 g/s).
        thermosyphon_w_per_k: Heat carried to the group by water that circulates of itself when the pump
            rests, per kelvin between the pipe and the group (estimate).
    """

    water_kg: float = 0.035
    cells: int = 4
    wetted_w_per_k: float = 5.0
    wetted_flowing_w_per_k: float = 20.0
    thermosyphon_w_per_k: float = 1.8


class Group(_Part, frozen=True, kw_only=True):
    """The group head and the water channel in it.

    Attributes:
        metal_kg, metal_j_per_kg_k: Mass that takes part within minutes (estimate; brass, handbook).
        water_kg: Water in the channel (estimate).
        wetted_w_per_k: Metal to the water at rest (estimate).
        wetted_flowing_w_per_k: Metal to the water while it flows (estimate).
        boiler_w_per_k: Conduction from the boiler's metal (estimate).
        loss_w_per_k: To the room (estimate).
    """

    metal_kg: float = 4.0
    metal_j_per_kg_k: float = BRASS_J_PER_KG_K
    water_kg: float = 0.012
    wetted_w_per_k: float = 3.0
    wetted_flowing_w_per_k: float = 6.0
    boiler_w_per_k: float = 6.0
    loss_w_per_k: float = 0.35


class PumpKind(StrEnum):
    """How the pump makes its pressure."""

    ROTARY = "rotary"
    VIBRATORY = "vibratory"


class Pump(_Part, frozen=True, kw_only=True):
    """The pump, its regulator or relief valve, and pre-infusion.

    Attributes:
        kind: Rotary: pressure set by a regulator. Vibratory: delivery falls as the pressure grows.
        pressure_pa: Gauge pressure held at the group, 9 bar (practice).
        free_flow_kg_per_s: Delivery against no resistance, behind the jet (estimate).
        stall_pa: Vibratory only: gauge pressure at which nothing is delivered any more (estimate).
        start_tau_s: Time constant of the delivery's build-up (estimate).
        pressure_tau_s: Time constant of the pressure's build-up once the space above the puck is full
            (estimate; a vibratory pump is slower).
        preinfusion_s, preinfusion_pa, preinfusion_share: First so long at this pressure and this share of
            the delivery; 0 s for none (estimate).
        pause_s: Then so long with the pump at rest (estimate).
        three_way_valve: Whether the space above the puck is vented when the pump stops.
    """

    kind: PumpKind = PumpKind.ROTARY
    pressure_pa: float = 9.0e5
    free_flow_kg_per_s: float = 0.008
    stall_pa: float = 15.0e5
    start_tau_s: float = 0.3
    pressure_tau_s: float = 0.7
    preinfusion_s: float = 0.0
    preinfusion_pa: float = 2.0e5
    preinfusion_share: float = 0.35
    pause_s: float = 0.0
    three_way_valve: bool = True


class Basket(_Part, frozen=True, kw_only=True):
    """Portafilter, basket and the bed of coffee in it.

    Attributes:
        dose_kg: Dry coffee, 18 g (practice).
        headspace_kg: Water that stands above the swollen bed (estimate).
        soak_kg_per_kg: Water a bed holds per dry mass (estimate, from weighing spent beds).
        layers: Shares of the bed from the top down; the probe lies in the first, just under the surface.
        resistance_pa_s_per_kg: Of an 18 g bed at the start of the flow; proportional to the dose (estimate,
            chosen for 36 g in 25 s at 9 bar, which is practice).
        dry_share: Resistance while the bed is still dry, as a share (estimate).
        erosion_share: By how much the resistance falls in the course of a shot (estimate).
        spread_share: Standard deviation of the resistance from bed to bed (estimate).
        basket_kg, portafilter_kg: Steel basket; brass body without the handle (estimate).
        seat_w_per_k: Portafilter to group through the locked bayonet and gasket (estimate).
        rim_w_per_k: Basket to portafilter (estimate).
        wall_w_per_k: Whole wet bed to basket (estimate).
        layer_w_per_k: Between wet layers (estimate, from 0.5 W/(m K) of wet matter, 26 cm², some mm).
        screen_w_per_k: Top of the wet bed, or the water above it, to the group (estimate).
        dry_factor: Share of these three that holds for a dry bed (estimate, from 0.15 W/(m K) and, above
            it, some 12 W/(m² K) through the air).
        drying_w_per_k: Heat the hot wet bed gives off upwards, mostly by evaporation, once the pressure is
            off (estimate).
        loss_w_per_k, loss_out_w_per_k: Portafilter to the room, locked in and out of the group (estimate).
        spout_tau_s: How long coffee takes from the bed to the cup (estimate).
    """

    dose_kg: float = 0.018
    headspace_kg: float = 0.007
    soak_kg_per_kg: float = 1.1
    layers: tuple[float, ...] = (0.08, 0.32, 0.60)
    resistance_pa_s_per_kg: float = 4.2e8
    dry_share: float = 0.6
    erosion_share: float = 0.18
    spread_share: float = 0.04
    basket_kg: float = 0.045
    portafilter_kg: float = 0.50
    seat_w_per_k: float = 2.5
    rim_w_per_k: float = 0.8
    wall_w_per_k: float = 0.9
    layer_w_per_k: float = 0.4
    screen_w_per_k: float = 0.10
    dry_factor: float = 0.35
    drying_w_per_k: float = 0.045
    loss_w_per_k: float = 0.18
    loss_out_w_per_k: float = 0.45
    spout_tau_s: float = 0.6

    def __post_init__(self) -> None:
        super().__post_init__()
        if not self.layers or abs(sum(self.layers) - 1.0) > 1e-9 or min(self.layers) <= 0.0:
            raise BadInput("The bed's layers must be shares above 0 that add up to 1, such as 0.1, 0.3, 0.6.")


class Place(StrEnum):
    """Where a channel's probe sits."""

    BASKET = "basket"
    GROUP = "group"
    BOILER = "boiler"
    INLET = "inlet"


class Probe(_Part, frozen=True, kw_only=True):
    """A thermocouple and the interface behind it; too light to cool what it measures.

    Attributes:
        wet_tau_s: Time constant in flowing water (estimate: a bare junction of 0.5 mm wire).
        dry_tau_s: Time constant in dry coffee (estimate).
        air_tau_s: Time constant in air, in an empty basket (estimate: some 30 W/(m² K) on the same wire).
        noise_k: Standard deviation of the reported values (estimate).
        quantum_k: Step of the reported values, 0 for none (practice: 0.25, 0.1, 0.0625 and 0.01 K occur).
        offset_k: What is reported beside the junction's temperature, above 0 for too high; 0 for none.
    """

    _signed: ClassVar[frozenset[str]] = frozenset({"offset_k"})

    wet_tau_s: float = 0.45
    dry_tau_s: float = 2.5
    air_tau_s: float = 12.0
    noise_k: float = 0.04
    quantum_k: float = 0.1
    offset_k: float = 0.0


class Scale(_Part, frozen=True, kw_only=True):
    """A scale under the cup.

    Attributes:
        tau_s: Time constant of its filter (estimate).
        noise_g: Standard deviation (estimate).
        quantum_g: Step (practice).
    """

    tau_s: float = 0.35
    noise_g: float = 0.03
    quantum_g: float = 0.1


class Steam(_Part, frozen=True, kw_only=True):
    """Steam drawn by an open valve.

    Attributes:
        kg_per_s: Steam flow (estimate).
        setpoint_degc: What a machine with a single boiler heats up to for it (estimate: 2.2 bar absolute).
    """

    kg_per_s: float = 0.0006
    setpoint_degc: float = 123.0


class Machine(_Part, frozen=True, kw_only=True):
    """A whole machine.

    Attributes:
        name: Its invented name.
        kind: What it is, in a few words.
        boiler: Where brew water is heated; with a coil, the steam boiler around it.
        coil: The heat exchanger, None without.
        steam_boiler: A second boiler for steam alone, None without.
        group, pump, basket, probe: The other parts.
        steam: None for a machine without a steam valve.
        inlet_kg: Water in the pipe between pump and boiler (estimate).
        inlet_w_per_k: That pipe to the boiler's metal (estimate).
        inlet_loss_w_per_k: That pipe to the room (estimate).
        supply_degc: Fresh water (estimate).
        room_degc: Air around (estimate).
        room_pa: Absolute pressure of the air, standard atmosphere.
        places: Where probes sit when nothing else is asked for, T1 first.
    """

    name: str
    kind: str
    boiler: Boiler
    coil: Coil | None = None
    steam_boiler: Boiler | None = None
    group: Group = Group()
    pump: Pump = Pump()
    basket: Basket = Basket()
    probe: Probe = Probe()
    steam: Steam | None = Steam()
    inlet_kg: float = 0.02
    inlet_w_per_k: float = 0.12
    inlet_loss_w_per_k: float = 0.4
    supply_degc: float = 18.0
    room_degc: float = 22.0
    room_pa: float = 101_325.0
    places: tuple[Place, ...] = (Place.BASKET,)

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 1 <= len(self.places) <= 8:
            raise BadInput("A machine has between 1 and 8 probes.")
        for boiler in (self.boiler, self.steam_boiler):
            if boiler is not None and not (boiler.cells >= 1 and boiler.water_kg > 0 and boiler.metal_kg > 0):
                raise BadInput("A boiler needs water, metal and at least one cell.")
