"""Which probe is plugged into which channel, and what a sitting's header must hold of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.preferences import Preferences
from benchtemp.logbook.probe_file import load_probe
from benchtemp.probes.probe import DEFAULT_CHECK_DAYS
from benchtemp.shots.budget import Estimates, channel_note, interface_of


class ProbeChoice(msgspec.Struct, frozen=True, kw_only=True):
    """Which probes a sitting uses.

    Attributes:
        by_channel: Names of probes named for this sitting; these go before what is remembered.
        remembered: Names by interface and channel, as preferences keep them.
        estimates: What uncertainties rest on besides.
        check_days: After how many days a check is called old.
    """

    by_channel: dict[str, str] = {}
    remembered: dict[str, dict[str, str]] = {}
    estimates: Estimates = Estimates()
    check_days: float = DEFAULT_CHECK_DAYS


def probe_choice(preferences: Preferences, by_channel: Mapping[str, str] | None = None) -> ProbeChoice:
    """Return the user's standing choice, with probes named for this sitting."""
    return ProbeChoice(
        by_channel=dict(by_channel or {}),
        remembered=preferences.probes,
        estimates=preferences.uncertainty,
        check_days=preferences.check_days,
    )


class Plugged(NamedTuple):
    """The probes of a sitting.

    Attributes:
        notes: What the header says of each channel that has a probe, by channel.
        warnings: Sentences about probes that should be checked, or of which nothing is known.
    """

    notes: dict[str, dict[str, Any]]
    warnings: tuple[str, ...]


def plugged_probes(
    choice: ProbeChoice,
    channels: tuple[str, ...],
    details: Mapping[str, Any],
    logbook: Logbook | None,
    started: str,
) -> Plugged:
    """Return what is known of the probes on a source's channels.

    Args:
        choice: Which probes.
        channels: The source's.
        details: Facts about the source, which tell its interface.
        logbook: Where the probes' files lie.
        started: ISO 8601 moment of the sitting, at which checks are looked at.

    Raises:
        BadInput: A probe was named for a channel that is not there, or it has no readable file. One that is
            only remembered costs a warning.
    """
    for channel in choice.by_channel:
        if channel not in channels:
            raise BadInput(
                f"A probe was named for {channel}, but the source has only {', '.join(channels)}; name it "
                "for one of them."
            )
    remembered = choice.remembered.get(interface_of(details), {})
    notes: dict[str, dict[str, Any]] = {}
    warnings: list[str] = []
    for channel in channels:
        named = choice.by_channel.get(channel, "")
        name = named or remembered.get(channel, "")
        if not name or logbook is None:
            continue
        try:
            probe = load_probe(logbook, name)
        except BadInput as error:
            if named:
                raise
            warnings.append(f"{channel} is not corrected: {error}")
            notes[channel] = {"probe": name}
            continue
        notes[channel] = channel_note(probe, started)
        if warning := probe.check_warning(started, choice.check_days):
            warnings.append(warning)
    return Plugged(notes, tuple(warnings))
