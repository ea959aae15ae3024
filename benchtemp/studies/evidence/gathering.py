"""Gathering shots from a logbook's files: figures from shot files, preparation from their recordings."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import msgspec

from benchtemp.errors import BadInput, BenchtempError, StorageError
from benchtemp.logbook.ecsv import parse_stream, read_meta, read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.header_text import parse_header
from benchtemp.logbook.probe_file import load_probe
from benchtemp.logbook.regular_file import read_regular, shown, why
from benchtemp.probes.probe import Probe
from benchtemp.readings.reading import Mark, Stream
from benchtemp.shots.budget import stored_grounds
from benchtemp.shots.marks import standing_pump_marks
from benchtemp.shots.result import Origin, Result
from benchtemp.shots.shot import Shot, analyse_stream, header_entries, stored_correction
from benchtemp.studies.evidence.shot_record import Known, Setting, ShotRecord, outline_of, record_of
from benchtemp.studies.evidence.shot_set import Selection, ShotSet, chosen

FEW_FILES = 150
"""Up to so many files are read as they are; with more, the logbook's index is brought up to date first."""
Probes = Callable[[str], Probe | None]
"""Finds a probe by its name."""
RECORDINGS_KEPT = 2000
"""Of so many recordings the marks are kept in memory: whole files have to be read for them."""


def gather(logbook: Logbook, selection: Selection | None = None) -> ShotSet:
    """Return the shots of a logbook that are meant, in order of time.

    Headers are enough for most of it; of recordings only the rows with marks are read. Where there are many
    files, headers come from the logbook's index as far as it knows them, which changes nothing but the time
    it takes. A file that cannot be read is named in the set's complaints and the others are used all the
    same.

    Raises:
        StorageError: The folder cannot be read.
    """
    gathered = _Gathered(selection or Selection(), logbook.recordings_dir, probes_of(logbook))
    paths = list(logbook.shots())
    place = {path: number for number, path in enumerate(paths)}
    for path, meta in _indexed(logbook) if len(paths) > FEW_FILES else ():
        if place.pop(path, None) is not None:
            gathered.take(path, meta)
    for path in place:
        gathered.read(path)
    return gathered.as_set({path: number for number, path in enumerate(paths)})


def gather_files(
    paths: Iterable[Path],
    selection: Selection | None = None,
    *,
    recordings_dir: Path | None = None,
    probes: Probes | None = None,
) -> ShotSet:
    """Return the shots of these shot files that are meant; see `gather`."""
    gathered = _Gathered(selection or Selection(), recordings_dir, probes or _no_probe)
    places: dict[Path, int] = {}
    for path in paths:
        if path not in places:
            places[path] = len(places)
            gathered.read(path)
    return gathered.as_set(places)


def logbook_of(path: Path) -> Logbook | None:
    """Return the logbook a file or folder lies in, None where it lies in none."""
    for folder in (path, *path.absolute().parents)[:5]:
        if folder.is_dir() and (folder / "shots").is_dir() and (folder / "recordings").is_dir():
            return Logbook(folder)
    return None


def probes_of(logbook: Logbook | None) -> Probes:
    """Return what finds the probes of a logbook; each file is read once, one that cannot be read is none."""
    if logbook is None:
        return _no_probe

    @cache
    def find(name: str) -> Probe | None:
        try:
            return load_probe(logbook, name) if name else None
        except BenchtempError:
            return None

    return find


def _no_probe(_name: str) -> Probe | None:
    return None


class _Gathered:
    """Shots as they come in, in whatever order their headers are at hand."""

    def __init__(self, wanted: Selection, recordings_dir: Path | None, probes: Probes) -> None:
        self._wanted = wanted
        self._probes = probes
        self._recordings_dir = recordings_dir
        self._records: dict[Path, ShotRecord] = {}
        self._complaints: dict[Path, str] = {}
        self._marks: dict[str, tuple[Mark, ...]] = {}
        self._unmarked: dict[str, str] = {}

    def read(self, path: Path) -> None:
        """Take a shot's file."""
        try:
            meta = read_meta(path)
        except BenchtempError as error:
            self._complaints[path] = str(error)
        else:
            self.take(path, meta)

    def take(self, path: Path, meta: Mapping[str, Any]) -> None:
        """Take a shot's header."""
        try:
            shot = shot_of(meta, path)
        except BenchtempError as error:
            self._complaints[path] = str(error)
            return
        if not shot.is_flush and self._wanted.wants(outline_of(shot, machine=_machine(meta))):
            marks = self._marks_of(shot.recording)
            self._records[path] = _record(shot, meta, marks, probe=self._probes(shot.correction.probe))

    def _marks_of(self, recording: str) -> tuple[Mark, ...]:
        if recording not in self._marks:
            said: list[str] = []
            self._marks[recording] = _recording_marks(self._recordings_dir, recording, said)
            if said:
                self._unmarked[recording] = said[0]
        return self._marks[recording]

    def as_set(self, places: Mapping[Path, int]) -> ShotSet:
        """Return all that came, as if it had come in the order of the files."""
        said: list[str] = []
        for path in sorted({*self._records, *self._complaints}, key=places.__getitem__):
            if path in self._complaints:
                said.append(self._complaints[path])
            elif (recording := self._records[path].recording) in self._unmarked:
                said.append(self._unmarked.pop(recording))
        records = [self._records[path] for path in sorted(self._records, key=places.__getitem__)]
        return chosen(with_times_between(records), self._wanted, complaints=said)


def _indexed(logbook: Logbook) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Give the headers of shots that the logbook's index knows; none where it cannot be kept."""
    from benchtemp.logbook.index.index import LogbookIndex  # noqa: PLC0415  (start-up time)
    from benchtemp.logbook.index.query import Query  # noqa: PLC0415
    from benchtemp.logbook.index.row import Kind  # noqa: PLC0415

    index = LogbookIndex(logbook)
    with contextlib.suppress(StorageError):
        # Other processes would be started anew with whatever runs this.
        index.update(processes=1)
        for row, meta in index.headers(Query(kinds=(Kind.SHOT, Kind.FLUSH), limit=None)):
            yield logbook.root / row.path, meta


def gather_any(
    paths: Iterable[Path], selection: Selection | None = None
) -> tuple[ShotSet, dict[str, Stream]]:
    """Return the shots of any files: shot files by their headers, recordings read anew.

    Returns: the shots that are meant, and the recordings by file name.

    Raises:
        BadInput: A file cannot be read.
    """
    records: list[ShotRecord] = []
    recordings: dict[str, Stream] = {}
    known: dict[Path, Probes] = {}
    for path in paths:
        probes = known.get(path.parent)
        if probes is None:
            probes = known[path.parent] = probes_of(logbook_of(path))
        meta = read_meta(path)
        if isinstance(meta.get("shot"), dict):
            shot = shot_of(meta, path)
            if not shot.is_flush:
                records.append(_record(shot, meta, (), probe=probes(shot.correction.probe)))
            continue
        stream = read_stream(path)
        recordings[path.name] = stream
        records.extend(records_in(stream, path.name, probes=probes))
    return chosen(with_times_between(records), selection), recordings


def recordings_of(logbook: Logbook, names: Iterable[str]) -> dict[str, Stream]:
    """Return recordings of a logbook by file name; those that are not there or cannot be read are missing."""
    found: dict[str, Stream] = {}
    for name in dict.fromkeys(names):
        path = logbook.recordings_dir / name
        if name and path.name == name and path.exists():
            with contextlib.suppress(BenchtempError):
                found[name] = read_stream(path)
    return found


def shot_of(meta: Mapping[str, Any], path: Path) -> Shot:
    """Return the shot a shot file's header tells of; its rows are read only where the header has no result.

    Raises:
        BadInput: It is no shot's file.
    """
    note = meta.get("shot")
    if not isinstance(note, dict):
        raise BadInput(f"{shown(path)} is no shot's file; name shot files, or a logbook that holds them.")
    entries, _ = header_entries(meta)
    channels = meta.get("channels")
    first = (
        next((c.get("name") for c in channels if isinstance(c, dict)), "T1")
        if isinstance(channels, list)
        else "T1"
    )
    basket = str(meta.get("basket_channel") or first)
    try:
        result = msgspec.convert(note.get("result"), Result)
    except msgspec.ValidationError:
        found = analyse_stream(read_stream(path))
        pulls = [*found.shots, *found.flushes]
        if not pulls:
            why = "; ".join(found.reasons) or "there is no pull in it"
            raise BadInput(f"{shown(path)} holds no result and none can be read from it: {why}.") from None
        result = pulls[0].result
    number, grams = note.get("number"), note.get("yield_g")
    return Shot(
        number=number if isinstance(number, int) else 0,
        result=result,
        recipe=entries.recipe,
        dose_g=entries.recipe.dose_g,
        yield_g=float(grams) if isinstance(grams, int | float) and grams > 0 else None,
        tags=entries.tags,
        correction=stored_correction(meta, basket),
        grounds=stored_grounds(meta, basket),
        started=str(note.get("pulled") or ""),
        recording=str(note.get("recording") or ""),
        path=str(path),
        set_aside=str(note.get("set_aside") or ""),
        brew_temp_expanded_uncertainty_k=_number(note.get("brew_temp_expanded_uncertainty_k")),
    )


def records_in(stream: Stream, name: str = "", *, probes: Probes | None = None) -> list[ShotRecord]:
    """Return the shots of a recording in memory, read anew; flushes are passed over.

    Args:
        stream: Its header names machine and tags.
        name: Of its file, for messages.
        probes: Finds the file of a probe; none where None.
    """
    find = probes or _no_probe
    started = _moment(stream.meta.get("started"))
    found: list[ShotRecord] = []
    marked = bool(standing_pump_marks(stream.marks))
    for shot in analyse_stream(stream).shots:
        pulled = ""
        if started is not None:
            pulled = (started + dt.timedelta(seconds=shot.result.pump_on_s)).isoformat(
                timespec="milliseconds"
            )
        named = msgspec.structs.replace(shot, recording=name, path=f"{name}#{shot.number}" if name else "")
        probe = find(shot.correction.probe)
        record = _record(named, stream.meta, stream.marks, pulled, probe=probe)
        if marked and shot.result.pump_on_source is not Origin.MARKED:
            # Where the operator marked the pump, a climb that nobody marked is a portafilter warming up.
            why = "nobody marked the pump, as was done for the other shots"
            record = msgspec.structs.replace(record, counts=False, reasons=(*record.reasons, why))
        found.append(record)
    return found


def _moment(written: object) -> dt.datetime | None:
    if isinstance(written, dt.datetime):
        return written
    try:
        return dt.datetime.fromisoformat(str(written)) if written else None
    except ValueError:
        return None


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _record(
    shot: Shot,
    meta: Mapping[str, Any],
    marks: tuple[Mark, ...],
    pulled: str = "",
    *,
    probe: Probe | None = None,
) -> ShotRecord:
    source = meta.get("source")
    return record_of(
        shot,
        marks=marks,
        machine=_machine(meta),
        pulled=pulled,
        interface=str(source.get("name") or source.get("port") or "") if isinstance(source, dict) else "",
        probe=probe,
    )


def _machine(meta: Mapping[str, Any]) -> str:
    return str(meta.get("machine") or "")


def _recording_marks(folder: Path | None, name: str, complaints: list[str]) -> tuple[Mark, ...]:
    if folder is None or not name or Path(name).name != name:
        return ()
    path = folder / name
    if not path.exists():
        complaints.append(f"The recording {name} is not in {shown(folder)}; idle times are those typed.")
        return ()
    try:
        at = path.stat()
        return _marks_of_version(path, at.st_size, at.st_mtime_ns)
    except OSError as error:
        complaints.append(f"{shown(path)} cannot be read ({why(error)}); idle times are those typed.")
        return ()
    except BenchtempError as error:
        complaints.append(str(error))
        return ()


@lru_cache(maxsize=RECORDINGS_KEPT)
def _marks_of_version(path: Path, _size: int, _mtime_ns: int) -> tuple[Mark, ...]:
    """Return the marks of a file that has not changed since it was last asked about."""
    return marks_in(path)


def marks_in(path: Path) -> tuple[Mark, ...]:
    """Return the marks of a file; of our own files only the rows with marks are parsed, for speed.

    Raises:
        BadInput: It cannot be read.
    """
    content = read_regular(path)
    header = parse_header(content, shown(path))
    if header.meta.get("kind") not in {"recording", "demo"}:
        return parse_stream(content, shown(path)).marks
    rows_at = content.index(b"\n", header.rows_at) + 1
    # Our own rows are short, and those with a mark end with its closing quote.
    marked = [line for line in content[rows_at:].split(b"\n") if line.endswith(b'"')]
    return parse_stream(content[:rows_at] + b"\n".join([*marked, b""]), shown(path)).marks


def with_times_between(records: Iterable[ShotRecord]) -> list[ShotRecord]:
    """Return the shots with intervals from the time of day where the recording does not tell them."""
    timed = sorted(
        ((moment, record) for record in records if (moment := record.moment) is not None),
        key=lambda pair: pair[0],
    )
    last_s: dict[str, float] = {}
    changed: dict[tuple[str, str, int], ShotRecord] = {}
    for moment, record in timed:
        now_s = moment.timestamp()
        before_s = last_s.get(record.machine)
        if before_s is not None and record.interval_min.value is None:
            gap_min = Setting(value=(now_s - before_s) / 60.0, known=Known.BETWEEN)
            changed[_key(record)] = msgspec.structs.replace(record, interval_min=gap_min)
        last_s[record.machine] = now_s
    return [changed.get(_key(record), record) for record in records]


def _key(record: ShotRecord) -> tuple[str, str, int]:
    return record.path, record.recording, record.number
