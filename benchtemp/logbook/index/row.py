"""What the index knows of one file of the logbook."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from benchtemp.shots.recipe import RecipeVerdict


class Kind(StrEnum):
    """What a file holds."""

    SHOT = "shot"
    FLUSH = "flush"
    RECORDING = "recording"
    UNREADABLE = "unreadable"


class Row(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One file of the logbook, as its header tells.

    Attributes:
        path: From the logbook's folder, with `/` between its parts.
        size: Bytes.
        mtime_ns: When it was last changed, ns since 1970.
        kind: What it holds.
        moment: ISO 8601 moment of pump on, or when the recording began; as written, empty if unknown.
        number: Counts the shots of a recording from 1.
        recording: File name of the recording it was cut from.
        probe, checked: The basket's probe, and when it was checked last before the shot.
        probes: All probes, the basket's first.
        dose_g, yield_g, brew_ratio: None where not known.
        brew_temp_degc, brew_temp_expanded_uncertainty_k, sd_k, highest_degc, lowest_degc, drift_k_per_s,
            time_to_plateau_s, plateau_s, shot_time_s, in_band_share: As in the shot's result.
        verdict: Whether the recipe was kept; None for anything but a shot or flush.
        counts: Whether studies use it; None likewise.
        reasons: Why it does not count.
        set_aside: The operator's reason to leave it out, empty for none.
        tags: Free names and values.
        notes: Written to the file as a whole.
        remarks: Notes that were timed, in their order.
        complaint: Why an unreadable file cannot be read, as a sentence.
    """

    path: str
    size: int = 0
    mtime_ns: int = 0
    kind: Kind = Kind.RECORDING
    moment: str = ""
    machine: str = ""
    number: int = 0
    recording: str = ""
    probe: str = ""
    checked: str = ""
    probes: tuple[str, ...] = ()
    dose_g: float | None = None
    yield_g: float | None = None
    brew_ratio: float | None = None
    brew_temp_degc: float | None = None
    brew_temp_expanded_uncertainty_k: float | None = None
    sd_k: float | None = None
    highest_degc: float | None = None
    lowest_degc: float | None = None
    drift_k_per_s: float | None = None
    time_to_plateau_s: float | None = None
    plateau_s: float | None = None
    shot_time_s: float | None = None
    in_band_share: float | None = None
    verdict: RecipeVerdict | None = None
    counts: bool | None = None
    reasons: tuple[str, ...] = ()
    set_aside: str = ""
    tags: dict[str, str] = {}
    notes: str = ""
    remarks: tuple[str, ...] = ()
    complaint: str = ""

    @property
    def day(self) -> str:
        """Return the day as written, `2025-11-25`, empty if unknown."""
        return self.moment[:10]

    @property
    def name(self) -> str:
        """Return the file's name."""
        return self.path.rpartition("/")[2]
