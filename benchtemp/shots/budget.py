"""How far a shot's brew temperature may be from the truth, from what its file says of probe and interface.

What a header holds for it, beside each channel's `probe` and `correction`:

    channels: [{name: T1, tolerance_class: IEC class 2, drift_half_width_k: 0.17}]
    uncertainty: {position_half_width_k: 0.5, position_fixed: true, room_degc: 25}
"""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any

import msgspec

from benchtemp.errors import BadInput
from benchtemp.probes.brew_budget import (
    POSITION_HALF_WIDTH_K,
    USUAL_ROOM_DEGC,
    Difference,
    brew_temp_budget,
    difference_budget,
)
from benchtemp.probes.correction import Correction
from benchtemp.probes.tolerance import ToleranceClass
from benchtemp.probes.uncertainty import Budget
from benchtemp.shots.result import Result

if TYPE_CHECKING:
    from benchtemp.probes.probe import Probe
    from benchtemp.shots.shot import Shot

WIDEST_K = 20.0
"""No estimate of ours is wider; a larger number is a slip."""


class Estimates(msgspec.Struct, frozen=True, kw_only=True):
    """What nobody measured and the user may know better than our estimates.

    Attributes:
        position_half_width_k: How far the water around the tip may be from what meets the coffee, K.
        position_fixed: The probe sits at the same place in every shot, so that this cancels in differences.
        junction_half_width_k: How far the interface may be off about its own terminals, K; None for 0.2 with
            a checked probe and 1 with an unchecked one.
        room_degc: Temperature of the terminals, °C.

    Raises:
        BadInput: A value cannot be.
    """

    position_half_width_k: float = POSITION_HALF_WIDTH_K
    position_fixed: bool = True
    junction_half_width_k: float | None = None
    room_degc: float = USUAL_ROOM_DEGC

    def __post_init__(self) -> None:
        for what, value in (
            ("place in the puck", self.position_half_width_k),
            ("reference junction", self.junction_half_width_k or 0.0),
        ):
            if not 0.0 <= value <= WIDEST_K:
                raise BadInput(f"An uncertainty of {value:g} °C for the {what} cannot be; give 0 to 20 °C.")
        if not -20.0 <= self.room_degc <= 80.0:
            raise BadInput(f"Terminals at {self.room_degc:g} °C cannot be; give the temperature of the room.")


class Grounds(msgspec.Struct, frozen=True, kw_only=True):
    """What an uncertainty rests on besides a shot's own readings and its correction.

    Attributes:
        estimates: What nobody measured.
        tolerance_class: The probe's class, which counts until it is checked.
        drift_half_width_k: How far the probe may have drifted between its check and the shot, K either way.
        drift_seen_k: By how much the checks before and after the shot differ, K; 0 without both. No file
            holds it: it is known only once there is a later check.
        interface: What tells the interface from others; empty if unknown.
    """

    estimates: Estimates = Estimates()
    tolerance_class: ToleranceClass = ToleranceClass.IEC_2
    drift_half_width_k: float = 0.0
    drift_seen_k: float = 0.0
    interface: str = ""


def interface_of(details: Mapping[str, Any]) -> str:
    """Return what tells an interface from others, from the facts about its source; empty if nothing does.

    An adapter with a serial number of its own is the same one in any socket.
    """
    identity = str(details.get("adapter_identity") or "")
    if identity:
        adapter, _, socket = identity.rpartition("@")
        return adapter if adapter.count(":") >= 2 and not adapter.endswith(":") else f"{adapter}@{socket}"
    if details.get("port"):
        return str(details["port"])
    return " ".join(str(details[key]) for key in ("kind", "name") if details.get(key))


def channel_note(probe: Probe, moment: str) -> dict[str, Any]:
    """Return what a header says of the channel a probe is plugged into at a moment (ISO 8601)."""
    note: dict[str, Any] = {
        "probe": probe.name,
        "correction": msgspec.to_builtins(probe.correction(moment)),
        "tolerance_class": str(probe.tolerance_class),
        "drift_half_width_k": probe.drift_half_width_k(moment),
    }
    if probe.time_constant is not None:
        note["time_constant_s"] = probe.time_constant.tau_s
    return note


def stored_grounds(meta: Mapping[str, Any], channel: str) -> Grounds:
    """Return what a header says an uncertainty rests on; what cannot be meant is passed over."""
    described: Mapping[str, Any] = {}
    channels = meta.get("channels")
    for entry in channels if isinstance(channels, list) else []:
        if isinstance(entry, dict) and entry.get("name") == channel:
            described = entry
    source = meta.get("source")
    return Grounds(
        estimates=_estimates(meta.get("uncertainty")),
        tolerance_class=_class(described.get("tolerance_class")),
        drift_half_width_k=_width(described.get("drift_half_width_k")),
        interface=interface_of(source) if isinstance(source, dict) else "",
    )


def _estimates(written: object) -> Estimates:
    if not isinstance(written, dict):
        return Estimates()
    known = {name: value for name, value in written.items() if name in Estimates.__struct_fields__}
    try:
        return msgspec.convert(known, Estimates)
    except (msgspec.ValidationError, BadInput):
        return Estimates()


def _class(written: object) -> ToleranceClass:
    try:
        return ToleranceClass(str(written))
    except ValueError:
        return ToleranceClass.IEC_2


def _width(written: object) -> float:
    is_number = isinstance(written, int | float) and not isinstance(written, bool)
    width = float(written) if is_number else 0.0  # type: ignore[arg-type]  # told by `is_number`
    return width if isfinite(width) and 0.0 <= width <= WIDEST_K else 0.0


def brew_budget(
    result: Result, correction: Correction, grounds: Grounds | None = None, *, probe: str = ""
) -> Budget | None:
    """Return the uncertainty budget of a pull's brew temperature.

    Args:
        result: Its figures; quantisation, noise and the plateau's boundaries are in its own uncertainty.
        correction: The one its temperatures carry.
        grounds: What else it rests on.
        probe: The probe's name where the correction has none.

    Returns: None where there is no brew temperature, or none that the probe's class speaks of.
    """
    if result.brew_temp_degc is None:
        return None
    return _budget(
        result.brew_temp_degc,
        (result.brew_temp_uncertainty_k or 0.0, _freedom(result)),
        correction,
        grounds or Grounds(),
        probe,
    )


def _freedom(result: Result) -> float | None:
    """Return the degrees of freedom of the readings' own share, None where nothing is known of them."""
    if result.readings < 2:
        return None
    worth = result.independent_readings
    return max((float(result.readings) if worth is None else worth) - 1.0, 1.0)


def _budget(
    temp_degc: float,
    own: tuple[float, float | None],
    correction: Correction,
    grounds: Grounds,
    probe: str = "",
) -> Budget | None:
    """Return the budget; `own` is the standard uncertainty of the shot's readings with its dof."""
    estimates = grounds.estimates
    try:
        return brew_temp_budget(
            temp_degc,
            shot_uncertainty_k=own[0],
            shot_dof=own[1],
            correction=correction,
            tolerance_class=grounds.tolerance_class,
            drift_half_width_k=grounds.drift_half_width_k,
            drift_seen_k=grounds.drift_seen_k,
            junction_half_width_k=estimates.junction_half_width_k,
            room_degc=estimates.room_degc,
            # A probe nobody named is at least the one plugged into that interface.
            probe=correction.probe or probe or f"on {grounds.interface}",
            interface=grounds.interface,
            position_half_width_k=estimates.position_half_width_k,
            position_fixed=estimates.position_fixed,
        )
    except BadInput:
        return None


def standing_expanded_k(
    temp_degc: float, correction: Correction, grounds: Grounds | None = None
) -> float | None:
    """Return the expanded uncertainty in K that no shot's readings can undercut: probe, interface, place.

    For a brew temperature that is still being averaged; None where nothing can be said.
    """
    budget = _budget(temp_degc, (0.0, None), correction, grounds or Grounds())
    return None if budget is None else budget.expanded_k()


def budget_of(shot: Shot) -> Budget | None:
    """Return the uncertainty budget of a shot's brew temperature, None where it has none."""
    return brew_budget(shot.result, shot.correction, shot.grounds, probe=shot.tags.get("probe", ""))


def difference_of(first: Shot, second: Shot) -> Difference | None:
    """Return the budget of the second shot's brew temperature minus the first's, told both ways.

    None where one of them has no brew temperature.
    """
    budgets = budget_of(first), budget_of(second)
    if budgets[0] is None or budgets[1] is None:
        return None
    return difference_budget(budgets[0], budgets[1])
