"""What a user wished for on the command line of `check-probe`, made sense of before anything is opened."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

import click

from benchtemp.cli.options import layout_from
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.probes.reference import Reference
    from benchtemp.probes.tolerance import ToleranceClass
    from benchtemp.readings.source import Source

METHODS = ("boil", "ice", "thermometer", "compare", "plunge")
BATHS = ("pot", "ice", "simmer", "restless", "cold", "open")
_VIRTUAL_SPEED = 32.0
_ONLY_BOILING = ("pressure", "altitude", "barometer", "depth", "pressure_within")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """The options of `check-probe` as they were typed.

    Attributes:
        names: The probes, by channel; empty where none was named.
        method: How to check; None for the usual one.
    """

    names: dict[str, str]
    method: str | None
    port: str | None
    layout_name: str
    virtual: str | None
    speed: float | None
    seed: int
    pressure: str | None
    altitude: str | None
    barometer: str | None
    pressure_within: str | None
    depth: str | None
    dissolved: str | None
    reads_degc: float | None
    reads_within_k: float | None
    limit_k: float
    longest_s: float | None
    add_point: bool
    tolerance_class: str | None
    operator: str
    note: str
    yes: bool
    as_json: bool
    unit: TempUnit

    @property
    def how(self) -> str:
        """Return the method: the usual one where none was named."""
        return self.method or ("ice" if self.virtual == "ice" else "boil")

    @property
    def channels(self) -> dict[str, str]:
        """Return the probes by channel; T1 under its own name where none was named."""
        return self.names or {"T1": "T1"}

    @property
    def their_class(self) -> ToleranceClass | None:
        """Return the class on the probe's packet, None where none was given.

        Raises:
            BadInput: There is no such class.
        """
        from benchtemp.probes.tolerance import ToleranceClass

        if self.tolerance_class is None:
            return None
        for known in ToleranceClass:
            if self.tolerance_class.strip().casefold() == known.value.casefold():
                return known
        raise BadInput(f"There is no class '{self.tolerance_class}'; there are {', '.join(ToleranceClass)}.")

    def refuse_nonsense(self) -> None:
        """Refuse what does not go together.

        Raises:
            BadInput: With the cure.
        """
        how = self.how
        if (self.port is None) == (self.virtual is None):
            raise BadInput(
                "Name what is read: the interface's --port, or --virtual pot to try it without one."
            )
        if self.speed is not None and self.virtual is None:
            raise BadInput("--speed is for a --virtual bath; a real one takes its time.")
        given = [name for name in _ONLY_BOILING if getattr(self, name) is not None]
        if how != "boil" and given:
            option = f"--{given[0].replace('_', '-')}"
            raise BadInput(f"{option} is for boiling water; leave it out with --method {how}.")
        read = self.reads_degc is not None or self.reads_within_k is not None
        if how != "thermometer" and read:
            raise BadInput("--reads is what a reference thermometer shows; give --method thermometer too.")
        if how == "compare" and len(self.names) < 2:
            raise BadInput("Comparing needs two probes or more; write --probe T1=NAME --probe T2=NAME.")
        if how == "plunge" and len(self.names) > 1:
            raise BadInput("A plunge is of one probe; name only that one.")
        if self.add_point and (not self.names or how in {"plunge", "compare"}):
            raise BadInput(
                "--add-point adds a bath to a probe's last check; name the probe and a bath with a reference."
            )
        _ = self.their_class

    # -- the bath

    def reference(self) -> tuple[Reference | None, float | None]:
        """Return what the bath is, and the altitude where the reference rests on it.

        Raises:
            BadInput: Too little is given, or something that cannot be.
        """
        from benchtemp.probes import ice, quantity
        from benchtemp.probes.reference import thermometer_reference

        if self.how == "compare":
            return None, None
        if self.how == "ice":
            salt = 0.0 if self.dissolved is None else quantity.dissolved_g_per_l(self.dissolved)
            return ice.ice_reference(dissolved_g_per_l=salt), None
        if self.how == "thermometer":
            if self.reads_degc is None or self.reads_within_k is None:
                raise BadInput(
                    "A reference thermometer needs its reading and how sure it is, such as --reads 92.4 "
                    "--reads-within 0.2."
                )
            if not (-50.0 <= self.reads_degc <= 150.0 and 0.0 < self.reads_within_k <= 5.0):
                raise BadInput(
                    f"A thermometer that reads {self.reads_degc:g} °C within {self.reads_within_k:g} °C "
                    "cannot be meant; give both in °C, such as --reads 92.4 --reads-within 0.2."
                )
            return thermometer_reference(self.reads_degc, self.reads_within_k), None
        return self._boiling()

    def _boiling(self) -> tuple[Reference, float | None]:
        from benchtemp.probes import boiling, quantity

        pressure, depth, within = self.pressure, self.depth, self.pressure_within
        if self.virtual is not None and pressure is self.altitude is self.barometer is None:
            from benchtemp.readings.virtual.pot import POT_DEPTH_CM, POT_PRESSURE_HPA

            pressure, depth = f"{POT_PRESSURE_HPA:g}hPa", depth or f"{POT_DEPTH_CM:g}cm"
            click.echo(
                f"The virtual pot stands at {POT_PRESSURE_HPA:g} hPa, the probes {depth} deep.", err=True
            )
        elif depth is None:
            click.echo(
                "No --depth was given, so the tip is taken to be just under the surface; 5 cm of water raise "
                "the boiling temperature by 0.13 °C.",
                err=True,
            )
        altitude_m = None if self.altitude is None else quantity.altitude_m(self.altitude)
        reference = boiling.boiling_reference(
            pressure_hpa=None if pressure is None else quantity.pressure_hpa(pressure),
            altitude_m=altitude_m,
            sea_level_hpa=None if self.barometer is None else quantity.sea_level_hpa(self.barometer),
            depth_cm=0.0 if depth is None else quantity.depth_cm(depth),
            dissolved_g_per_l=0.0 if self.dissolved is None else quantity.dissolved_g_per_l(self.dissolved),
            pressure_half_width_hpa=(
                boiling.PRESSURE_HALF_WIDTH_HPA
                if within is None
                else quantity.pressure_difference_hpa(within)
            ),
        )
        return reference, altitude_m if pressure is None else None

    # -- where readings come from

    def source(self) -> Source:
        """Return what is read, not yet open.

        Raises:
            BadInput: The layout cannot be used, or a probe was named for a channel that is not there.
        """
        if self.port is None:
            return self._virtual_bath()
        from benchtemp.probes.type_k import measured_degc
        from benchtemp.readings.opening import open_source

        source = open_source(self.port, layout_from(self.layout_name, self.port), emf_to_degc=measured_degc)
        for channel in self.channels:
            if channel not in source.channels:
                raise BadInput(
                    f"A probe was named for {channel}, but the interface has only "
                    f"{', '.join(source.channels)}; name it for one of them."
                )
        return source

    def _virtual_bath(self) -> Source:
        import msgspec

        from benchtemp.readings.virtual.pot import PROBES, Bath, VirtualPot, ready_made

        count = max(int(channel[1:]) for channel in self.channels)
        if count > len(PROBES):
            raise BadInput(f"The virtual bath has {len(PROBES)} probes; name T1 to T{len(PROBES)}.")
        probes = PROBES[:count]
        if self.virtual == "open":
            probes = tuple(msgspec.structs.replace(probe, is_open=True) for probe in probes)
        water = ready_made(Bath.POT if self.virtual == "open" else Bath(str(self.virtual)))
        speed = self.speed or _VIRTUAL_SPEED
        if self.how != "plunge":
            return VirtualPot(water, probes, seed=self.seed, speed=speed)
        water = msgspec.structs.replace(water, start_degc=water.end_degc)
        return VirtualPot(water, probes, seed=self.seed, rate_hz=10.0, speed=speed, dips_s=((8.0, inf),))
