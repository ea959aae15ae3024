"""Asking whether to save what came of a check, and saving it."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click
import msgspec

from benchtemp.cli.keys import forget_typed, keyboard_there
from benchtemp.errors import BadInput, StorageError
from benchtemp.logbook.check_trace import keep_check_trace
from benchtemp.logbook.probe_file import change_probe, find_probe, load_probe_file
from benchtemp.logbook.regular_file import shown
from benchtemp.probes.probe import Probe

if TYPE_CHECKING:
    from benchtemp.cli.probe_check.wishes import Wishes
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.check import Check
    from benchtemp.probes.response import TimeConstant
    from benchtemp.readings.reading import Stream

_JOINED_WITHIN_H = 24.0
"""Baths further apart in time are two checks, not one: the probe may have changed in between."""


def known_probe(book: Logbook, name: str) -> Probe | None:
    """Return a probe as it stands in its file, None for a new one.

    Raises:
        BadInput: Its file is damaged, or it has a name that cannot be kept: better told before the pot is put
            on.
    """
    path = find_probe(book, name)
    if path is None:
        Probe(name=name)
        return None
    return load_probe_file(path)


def refuse_a_closed_logbook(book: Logbook) -> None:
    """Refuse a logbook that nothing can be kept in: better told before the pot is put on.

    Raises:
        StorageError: With the folder it fails at.
    """
    folder = next(path for path in (book.root, *book.root.absolute().parents) if path.exists())
    if not (folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)):
        raise StorageError(
            f"Nothing can be kept in {shown(book.root)}, as {shown(folder)} takes no files; choose another "
            "place for the logbook."
        )


def last_check(name: str, probe: Probe | None) -> Check:
    """Return the check a further bath can be added to.

    Raises:
        BadInput: There is none, or none of the last day.
    """
    last = None if probe is None else probe.check_at()
    if last is None:
        raise BadInput(f"{name} has no check yet to add a point to; leave out --add-point.")
    age_h = (dt.datetime.now().astimezone() - last.when).total_seconds() / 3600.0
    if abs(age_h) > _JOINED_WITHIN_H:
        raise BadInput(
            f"The last check of {name} is of {last.checked[:10]}; only baths of one day belong together, so "
            "leave out --add-point."
        )
    return last


def keep_checks(book: Logbook, found: Mapping[str, Check], trace: Stream, wishes: Wishes) -> dict[str, Path]:
    """Save checks and their readings if the user says yes; return the files of the probes.

    Raises:
        StorageError: The disk does not take them.
    """
    if not _wanted("this check" if len(found) == 1 else "these checks", wishes):
        return {}
    recording = keep_check_trace(book, next(iter(found)), trace)
    saved: dict[str, Path] = {}
    for name, check in found.items():
        kept = msgspec.structs.replace(check, recording=recording.name)

        def added(probe: Probe, kept: Check = kept) -> Probe:
            return _of_class(probe, wishes).with_check(kept)

        saved[name] = change_probe(book, name, added)
        click.echo(f"Saved: {saved[name]}", err=True)
    click.echo(f"Readings: {recording}", err=True)
    return saved


def keep_time_constant(book: Logbook, name: str, measured: TimeConstant, wishes: Wishes) -> Path | None:
    """Save a time constant if the user says yes; return the probe's file, None where it was not saved.

    Raises:
        StorageError: The disk does not take it.
    """
    if not _wanted("this time constant", wishes):
        return None
    path = change_probe(
        book,
        name,
        lambda probe: msgspec.structs.replace(_of_class(probe, wishes), time_constant=measured),
    )
    click.echo(f"Saved: {path}", err=True)
    return path


def _of_class(probe: Probe, wishes: Wishes) -> Probe:
    their_class = wishes.their_class
    return probe if their_class is None else msgspec.structs.replace(probe, tolerance_class=their_class)


def _wanted(what: str, wishes: Wishes) -> bool:
    """Ask whether to save; say why not where nobody can be asked."""
    if not wishes.names:
        click.echo("Nothing was saved: name the probe with --probe NAME to keep what came of it.", err=True)
        return False
    if wishes.yes:
        return True
    if not keyboard_there():
        click.echo("Nothing was saved: nobody can be asked here; give --yes to save.", err=True)
        return False
    forget_typed()  # whoever leant on a key while it was read has not answered yet
    if click.confirm(f"Save {what}?", default=False, err=True):
        return True
    click.echo("Nothing was saved.", err=True)
    return False
