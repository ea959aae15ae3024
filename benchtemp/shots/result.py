"""What is read off one shot's trace."""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Origin(StrEnum):
    """Where a pump time comes from."""

    MARKED = "marked"
    ESTIMATED = "estimated"


class PullKind(StrEnum):
    """What kind of pull a stretch of a recording is."""

    SHOT = "shot"
    FLUSH = "flush"
    """Water through the basket too short, or too unsettled, to be an extraction."""


class Result(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of one pull; times are in the recording's `t`, temperatures corrected.

    Definitions (all on the corrected temperature of the basket probe):
        plateau start: last moment before the plateau's end at which the probe still climbs faster than
            0.25 °C/s; plateau end: pump off, or without a mark the moment the trace leaves the plateau
            downwards for good; brew temperature: time-weighted mean over the plateau.

    Attributes:
        kind: Shot or flush.
        rise_s: When the probe began to climb.
        pump_on_s, pump_off_s: The operator's marks, else estimated (rise begins; plateau ends); pump_off_s
            is None where the recording ends before the pull does.
        plateau_start_s, plateau_end_s: None where no plateau was found.
        plateau_start_uncertainty_s, plateau_end_uncertainty_s: Standard uncertainties of the boundaries.
        brew_temp_degc: None without a plateau.
        brew_temp_uncertainty_k: Standard uncertainty (k = 1) of the mean from noise, quantisation and the
            boundaries alone; the probe's own share is not in it.
        sd_k: Standard deviation of the readings on the plateau about their mean.
        highest_degc, lowest_degc: Over the plateau.
        drift_k_per_s: Least-squares slope over the plateau.
        time_to_plateau_s: From pump on to plateau start.
        in_band_share: Share of the plateau's time inside the target band, 0 to 1.
        readings: Readings the mean rests on.
        independent_readings: How many independent ones they are worth, since neighbours may share noise; None
            in files of before it was told.
        spikes_excluded, readings_missing: Left out on the plateau, counted.
        longest_gap_s: Longest time without a reading on the plateau.
        reasons: Sentences on why this is not a whole, settled shot; empty when it is.
    """

    kind: PullKind
    rise_s: float
    pump_on_s: float
    pump_on_source: Origin
    pump_off_s: float | None
    pump_off_source: Origin
    plateau_start_s: float | None = None
    plateau_end_s: float | None = None
    plateau_start_uncertainty_s: float | None = None
    plateau_end_uncertainty_s: float | None = None
    brew_temp_degc: float | None = None
    brew_temp_uncertainty_k: float | None = None
    sd_k: float | None = None
    highest_degc: float | None = None
    lowest_degc: float | None = None
    drift_k_per_s: float | None = None
    time_to_plateau_s: float | None = None
    in_band_share: float | None = None
    readings: int = 0
    independent_readings: float | None = None
    spikes_excluded: int = 0
    readings_missing: int = 0
    longest_gap_s: float = 0.0
    reasons: tuple[str, ...] = ()

    @property
    def shot_time_s(self) -> float | None:
        """Return the time from pump on to pump off in s."""
        return None if self.pump_off_s is None else self.pump_off_s - self.pump_on_s

    @property
    def plateau_s(self) -> float:
        """Return the plateau's length in s, 0 without one."""
        if self.plateau_start_s is None or self.plateau_end_s is None:
            return 0.0
        return self.plateau_end_s - self.plateau_start_s
