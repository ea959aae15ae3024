"""One shot as studies see it: what it brewed at, how it was prepared, and whether it counts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from enum import StrEnum

import msgspec

from benchtemp.probes.probe import Probe
from benchtemp.probes.uncertainty import Budget
from benchtemp.readings.reading import Mark
from benchtemp.shots.budget import budget_of
from benchtemp.shots.shot import Shot
from benchtemp.studies.evidence import typed
from benchtemp.studies.evidence.proof import NOT_PROVEN, Proof, enclosed, proof_of
from benchtemp.studies.evidence.pump_times import Preparation, preparation


class Known(StrEnum):
    """Where a setting comes from."""

    MEASURED = "measured"
    """From the marks of the recording."""
    TYPED = "typed"
    """From a tag."""
    BETWEEN = "between sittings"
    """From the time of day of the last recorded shot on this machine; use without a recording is not seen."""
    UNKNOWN = "unknown"


class Setting(msgspec.Struct, frozen=True, kw_only=True):
    """A number and where it comes from; no value where nothing is known."""

    value: float | None = None
    known: Known = Known.UNKNOWN


NOT_KNOWN = Setting()


class ShotRecord(msgspec.Struct, frozen=True, kw_only=True):
    """What a study needs of one shot.

    Attributes:
        path: The shot's file, empty for none.
        recording: File name of the recording it was cut from.
        number: In that recording.
        machine: Under test.
        pulled: ISO 8601 moment of pump on, empty if unknown.
        pump_on_s: The same on the recording's clock.
        brew_temp_degc: None where no plateau was found.
        reading_uncertainty_k: Standard uncertainty of the brew temperature from noise and boundaries alone.
        shared_k: Standard uncertainties this shot has in common with others, by what they share: the check
            of its probe (or, if it was never checked, the tolerance of its class), the interface, the place
            in the puck.
        expanded_uncertainty_k: Of the brew temperature from its whole budget (k = 2).
        sd_k, highest_degc, lowest_degc, drift_k_per_s, in_band_share, plateau_s, time_to_plateau_s,
            shot_time_s: As in the shot's result.
        band_low_degc, band_high_degc: Target band of its recipe.
        setpoint_degc: As displayed.
        interval_min: Since the pump start of the shot before.
        idle_min: Time without water before the shot and its own flush.
        flush_s, flush_g: Water let through for this shot.
        since_on_min: Since the machine was switched on.
        operator: Who pulled it.
        probe, checked: The basket's probe and the moment of the check its correction comes from; no moment
            for a probe that was never checked.
        proof: What checks say of that probe.
        tags: All of them.
        counts: Whether it counts; `reasons` say why not.
        set_aside: The operator's reason to leave it out.
    """

    path: str = ""
    recording: str = ""
    number: int = 0
    machine: str = ""
    pulled: str = ""
    pump_on_s: float = 0.0
    brew_temp_degc: float | None = None
    reading_uncertainty_k: float | None = None
    shared_k: dict[str, float] = {}
    expanded_uncertainty_k: float | None = None
    sd_k: float | None = None
    highest_degc: float | None = None
    lowest_degc: float | None = None
    drift_k_per_s: float | None = None
    in_band_share: float | None = None
    plateau_s: float = 0.0
    time_to_plateau_s: float | None = None
    shot_time_s: float | None = None
    band_low_degc: float = 90.5
    band_high_degc: float = 96.0
    setpoint_degc: float | None = None
    interval_min: Setting = NOT_KNOWN
    idle_min: Setting = NOT_KNOWN
    flush_s: Setting = NOT_KNOWN
    flush_g: Setting = NOT_KNOWN
    since_on_min: Setting = NOT_KNOWN
    operator: str = ""
    probe: str = ""
    checked: str = ""
    proof: Proof = NOT_PROVEN
    tags: dict[str, str] = {}
    counts: bool = False
    reasons: tuple[str, ...] = ()
    set_aside: str = ""

    @property
    def moment(self) -> dt.datetime | None:
        """Return the moment of pump on, None if unknown; without an offset it is taken as local time."""
        try:
            moment = dt.datetime.fromisoformat(self.pulled) if self.pulled else None
        except ValueError:
            return None
        return moment.astimezone() if moment is not None and moment.tzinfo is None else moment

    @property
    def date(self) -> str:
        """Return the day it was pulled, as written; empty if unknown."""
        return self.pulled[:10]

    @property
    def name(self) -> str:
        """Return what to call it in a table."""
        return f"{self.pulled[:16].replace('T', ' ')} shot {self.number}".strip()

    def label(self, factor: str) -> str:
        """Return the value of a setting or tag for telling shots apart, empty where it has none.

        Args:
            factor: `machine`, `setpoint`, `operator`, `probe`, `date`, `recording`, `plan`, or any tag.
        """
        own = {
            "machine": self.machine,
            "operator": self.operator,
            "probe": self.probe,
            "recording": self.recording,
        }
        if factor in own:
            return own[factor]
        if factor == "date":
            return self.date
        if factor == "setpoint":
            return "" if self.setpoint_degc is None else f"{self.setpoint_degc:g} °C"
        return typed.tag(self.tags, (factor.casefold(),))


def record_of(
    shot: Shot,
    *,
    marks: Sequence[Mark] = (),
    machine: str = "",
    pulled: str = "",
    interface: str = "",
    probe: Probe | None = None,
) -> ShotRecord:
    """Return a shot as studies see it.

    Args:
        shot: Its tags give what the recording cannot.
        marks: Of its whole recording; what they tell goes before what was typed.
        machine: Where the tags name none.
        pulled: ISO 8601 moment of pump on, where the shot itself does not know it.
        interface: What tells the interface from others.
        probe: The file of its probe, which also knows of checks made after the shot; what they show of drift
            goes into the uncertainty.
    """
    proof = proof_of(shot, probe, pulled)
    shot = enclosed(shot, proof)
    result, tags, correction = shot.result, shot.tags, shot.correction
    measured = preparation(marks, result.pump_on_s) if marks else Preparation()
    flush_s, flush_g = typed.flush_from(typed.tag(tags, typed.FLUSH_TAGS))
    budget = budget_of(_on(shot, interface))
    return msgspec.structs.replace(
        outline_of(shot, machine=machine, pulled=pulled),
        pump_on_s=result.pump_on_s,
        brew_temp_degc=result.brew_temp_degc,
        reading_uncertainty_k=result.brew_temp_uncertainty_k,
        shared_k={} if budget is None else _shared(budget),
        expanded_uncertainty_k=_expanded(shot, budget),
        sd_k=result.sd_k,
        highest_degc=result.highest_degc,
        lowest_degc=result.lowest_degc,
        drift_k_per_s=result.drift_k_per_s,
        in_band_share=result.in_band_share,
        plateau_s=result.plateau_s,
        time_to_plateau_s=result.time_to_plateau_s,
        shot_time_s=result.shot_time_s,
        band_low_degc=shot.recipe.band_low_degc,
        band_high_degc=shot.recipe.band_high_degc,
        interval_min=_setting(_minutes(measured.interval_s), None),
        idle_min=_setting(_minutes(measured.idle_s), typed.minutes_from(typed.tag(tags, typed.IDLE_TAGS))),
        # A flush that was typed but not marked is seen by nobody else: a measured 0 does not undo it.
        flush_s=_setting(measured.flush_s or (measured.flush_s if not flush_s else None), flush_s),
        flush_g=_setting(measured.flush_g or (measured.flush_g if not flush_g else None), flush_g),
        since_on_min=_setting(
            _minutes(measured.since_on_s), typed.minutes_from(typed.tag(tags, typed.SINCE_ON_TAGS))
        ),
        checked="" if correction.uncertainty_k is None else correction.checked or "yes",
        proof=proof,
        counts=shot.counts,
        reasons=shot.reasons,
        set_aside=shot.set_aside,
    )


def outline_of(shot: Shot, *, machine: str = "", pulled: str = "") -> ShotRecord:
    """Return as much of a shot as tells it from others, without its figures; see `record_of`."""
    tags = shot.tags
    return ShotRecord(
        path=shot.path,
        recording=shot.recording,
        number=shot.number,
        machine=typed.tag(tags, ("machine",)) or machine,
        pulled=shot.started or pulled,
        setpoint_degc=typed.temp_from(typed.tag(tags, typed.SETPOINT_TAGS)),
        operator=typed.tag(tags, typed.OPERATOR_TAGS),
        probe=shot.correction.probe or typed.tag(tags, ("probe",)),
        tags=dict(tags),
    )


def _on(shot: Shot, interface: str) -> Shot:
    """Return a shot with the interface it was taken through, where its own file does not tell."""
    if shot.grounds.interface or not interface:
        return shot
    grounds = msgspec.structs.replace(shot.grounds, interface=interface)
    return msgspec.structs.replace(shot, grounds=grounds)


def _shared(budget: Budget) -> dict[str, float]:
    found: dict[str, float] = {}
    for shared_as in dict.fromkeys(line.shared_as for line in budget.contributions if line.shared_as):
        others = [line.name for line in budget.contributions if line.shared_as != shared_as]
        found[shared_as] = budget.without(*others).uncertainty_k
    return found


def _expanded(shot: Shot, budget: Budget | None) -> float | None:
    if shot.brew_temp_expanded_uncertainty_k is not None:
        return shot.brew_temp_expanded_uncertainty_k
    return None if budget is None else budget.expanded_k()


def _minutes(seconds: float | None) -> float | None:
    return None if seconds is None else seconds / 60.0


def _setting(measured: float | None, written: float | None) -> Setting:
    if measured is not None:
        return Setting(value=measured, known=Known.MEASURED)
    return NOT_KNOWN if written is None else Setting(value=written, known=Known.TYPED)
