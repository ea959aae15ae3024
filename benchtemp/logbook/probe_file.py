"""Probes as files: `probes/NAME.toml` in the logbook, one for each, with the history of its checks.

A file appears whole or not at all. Names a person types stay inside the folder; the name itself stands in the
file, so that two probes whose names make the same file name are kept apart. What this version does not know
in a file stays in it.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import tomli_w

from benchtemp.errors import BadInput, DamagedFile, StorageError
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.folder import Logbook, make_folder
from benchtemp.logbook.header import merged, parted
from benchtemp.logbook.lock import edit_turn
from benchtemp.logbook.names import free_paths, safe_part
from benchtemp.logbook.preferences import without_none
from benchtemp.logbook.regular_file import read_regular, shown, why
from benchtemp.probes.check import Check
from benchtemp.probes.probe import Probe
from benchtemp.toml_text import parse_toml

SUFFIX = ".toml"
SIZE_LIMIT = 8 * 1024 * 1024
"""Bytes; a check takes about 2 kB, so this is some thousand checks."""


def probes(logbook: Logbook) -> tuple[tuple[Probe, ...], tuple[str, ...]]:
    """Return all probes of a logbook by name, and a sentence about each file that cannot be read."""
    found: list[Probe] = []
    complaints: list[str] = []
    for path in _files(logbook):
        try:
            found.append(load_probe_file(path))
        except BadInput as error:
            complaints.append(str(error))
    return tuple(sorted(found, key=lambda probe: _folded(probe.name))), tuple(complaints)


def load_probe(logbook: Logbook, name: str) -> Probe:
    """Return a probe by its name; capitals do not matter.

    Raises:
        DamagedFile: Its file cannot be read as a probe's.
        BadInput: There is none of that name.
    """
    path = find_probe(logbook, name)
    if path is None:
        known = [probe.name for probe in probes(logbook)[0]]
        cure = (
            f"there are {', '.join(known[:8])}" if known else "check one with 'benchtemp check-probe' first"
        )
        raise BadInput(f"There is no probe '{_told(name)}' in {shown(logbook.root)}; {cure}.")
    return load_probe_file(path)


def load_probe_file(path: Path) -> Probe:
    """Return the probe in a file.

    Raises:
        DamagedFile: It cannot be read as a probe's.
        BadInput: There is no such file, or it is none that can be read.
    """
    return _parted(path)[0]


def find_probe(logbook: Logbook, name: str) -> Path | None:
    """Return a probe's file by the probe's name, None where there is none.

    A damaged file counts as that of the name it was given.
    """
    wanted = _folded(name)
    usual = _usual_path(logbook, name)
    paths = sorted(_files(logbook), key=lambda path: path != usual)
    damaged = None
    for path in paths:
        try:
            if _folded(load_probe_file(path).name) == wanted:
                return path
        except BadInput:
            damaged = path if path == usual else damaged
    return damaged


def save_probe(logbook: Logbook, probe: Probe) -> Path:
    """Keep a probe as it is now, in place of its earlier version if there is one; return its file.

    Raises:
        DamagedFile: Its file is damaged and is left as it is.
        StorageError: The disk does not take it.
    """
    return change_probe(logbook, probe.name, lambda _: probe)


def change_probe(logbook: Logbook, name: str, change: Callable[[Probe], Probe]) -> Path:
    """Change a probe, or make a new one, while nobody else changes it; return its file.

    Args:
        logbook: Where it is kept.
        name: The probe's.
        change: Gets the probe as it stands in its file (a new one without checks where there is none) and
            returns what it shall be.

    Raises:
        DamagedFile: Its file is damaged and is left as it is.
        BadInput: What `change` raises.
        StorageError: The disk does not take it.
    """
    make_folder(logbook.probes_dir)
    with edit_turn(logbook.probes_dir):
        path = find_probe(logbook, name)
        if path is None:
            return _write_new(_usual_path(logbook, name), change(Probe(name=name.strip())))
        before, unknown = _parted(path)
        write_whole(path, [_content(change(before), unknown)], overwrite=True, mode_from=path)
        return path


def add_check(logbook: Logbook, name: str, check: Check) -> Path:
    """Add a check to a probe's history, making the probe where it is new; return its file.

    Raises:
        BadInput: There is a check of that very moment already, or the file is damaged.
        StorageError: The disk does not take it.
    """
    return change_probe(logbook, name, lambda probe: probe.with_check(check))


def _write_new(path: Path, probe: Probe) -> Path:
    content = _content(probe, {})
    for candidate in free_paths(path):
        try:
            write_whole(candidate, [content], overwrite=False)
        except FileExistsError:
            continue
        return candidate
    raise AssertionError("there is always another free name")


def _content(probe: Probe, unknown: dict[Any, Any]) -> bytes:
    """Return a probe's file, with what another version had written into the one before."""
    by_moment = unknown.get("checks")
    at = {check.checked: index for index, check in enumerate(probe.checks)}
    if isinstance(by_moment, dict):
        moved = {at[checked]: more for checked, more in by_moment.items() if checked in at}
        unknown = {**unknown, "checks": moved}
    plain = probe.to_dict()
    # What was unknown about a part goes with that part.
    kept = {key: more for key, more in unknown.items() if key in plain or key not in Probe.__struct_fields__}
    return tomli_w.dumps(without_none(merged(plain, kept))).encode()


def _parted(path: Path) -> tuple[Probe, dict[Any, Any]]:
    """Return the probe in a file and what else is in it; what belongs to a check stands by its moment."""
    content = read_regular(path, SIZE_LIMIT)
    try:
        written = parse_toml(content)
    except ValueError as error:
        raise DamagedFile(
            f"{shown(path)} cannot be read as a probe's file: it is damaged, or something else; mend it, or "
            "move it away and check the probe again."
        ) from error
    known, unknown = parted(Probe, written)
    try:
        probe = Probe.from_dict(known)
    except DamagedFile as error:
        raise DamagedFile(f"{shown(path)}: {error}") from error
    if isinstance(by_index := unknown.get("checks"), dict):
        unknown["checks"] = {probe.checks[index].checked: more for index, more in by_index.items()}
    in_order = tuple(sorted(probe.checks, key=lambda check: check.when))
    return msgspec.structs.replace(probe, checks=in_order), unknown


def _files(logbook: Logbook) -> list[Path]:
    folder = logbook.probes_dir
    try:
        with os.scandir(folder) as entries:
            names = [
                entry.name
                for entry in entries
                if entry.name.endswith(SUFFIX) and not entry.name.startswith(".") and entry.is_file()
            ]
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise StorageError(f"The folder {shown(folder)} cannot be read ({why(error)}).") from error
    return [folder / name for name in sorted(names)]


def _usual_path(logbook: Logbook, name: str) -> Path:
    return logbook.probes_dir / f"{safe_part(name, 'probe')}{SUFFIX}"


def _folded(name: str) -> str:
    return unicodedata.normalize("NFKC", " ".join(name.split())).casefold()


def _told(name: str) -> str:
    text = "".join(char if char.isprintable() else "?" for char in name)
    return text if len(text) <= 60 else f"{text[:59]}…"
