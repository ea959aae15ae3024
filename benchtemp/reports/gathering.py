"""Reading what a report is about: shot files, recordings, folders and logbooks."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import msgspec

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.ecsv import parse_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.header_text import parse_header
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.probes.probe import DEFAULT_CHECK_DAYS, Probe
from benchtemp.readings.reading import MarkKind, Stream
from benchtemp.reports.printable import printable
from benchtemp.reports.stopping import Cancelled, Progress, go_on
from benchtemp.reports.tested import Tested, TestedFile, TestedShot, Trace, trace_from
from benchtemp.shots.budget import stored_grounds
from benchtemp.shots.shot import Shot, analyse_stream
from benchtemp.studies.evidence.channel import channel_of
from benchtemp.studies.evidence.gathering import (
    gather_files,
    logbook_of,
    probes_of,
    records_in,
    shot_of,
    with_times_between,
)
from benchtemp.studies.evidence.proof import enclosed
from benchtemp.studies.evidence.shot_record import ShotRecord, record_of
from benchtemp.studies.evidence.shot_set import Selection, chosen
from benchtemp.studies.evidence.typed import PLAN_TAG
from benchtemp.studies.plans.plan_file import find_plan
from benchtemp.studies.plans.status import where_it_stands

SUFFIX = ".ecsv"
BEFORE_S, AFTER_S = 10.0, 20.0
"""How much of a recording belongs to a shot's picture."""


def files_in(paths: Iterable[Path]) -> tuple[Path, ...]:
    """Return the files meant: those named, the shots of logbooks named, the ECSV files in other folders.

    Raises:
        BadInput: Nothing is there.
    """
    found: dict[Path, None] = {}
    for path in paths:
        if not path.is_dir():
            found[path] = None
        elif (path / "shots").is_dir():
            found.update(dict.fromkeys(Logbook(path).shots()))
        else:
            inside = sorted(path.rglob(f"*{SUFFIX}"))
            found.update(dict.fromkeys(one for one in inside if not one.name.startswith(".")))
    return tuple(found)


def read_tested(
    paths: Iterable[Path],
    *,
    selection: Selection | None = None,
    logbook: Logbook | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    check_days: float = DEFAULT_CHECK_DAYS,
) -> Tested:
    """Read shots, with all that a report tells of them.

    A recording whose shots are there as files of their own is only looked up, so that no shot counts twice.

    Args:
        paths: Shot files, recordings, folders of them, or logbooks.
        selection: Which of the shots are meant; all where None.
        logbook: Where probes, plans and recordings are looked up; found from the first path where None.
        progress: Told (files done, files in all).
        cancelled: Asked between files.
        check_days: After how many days a probe's check counts as old.

    Raises:
        BadInput: There is no file, no file can be read, or no shot is meant.
        Stopped: It was cancelled.
    """
    named = tuple(paths)
    files = files_in(named)
    if not files:
        folders = ", ".join(shown(path) for path in named) or "nothing"
        raise BadInput(f"There are no {SUFFIX} files in {folders}; name a file or another folder.")
    book = logbook or next((found for path in named if (found := logbook_of(path))), None)
    reader = _Reader(selection or Selection(), book, check_days)
    for done, path in enumerate(files):
        go_on(cancelled)
        reader.take(path)
        if progress:
            progress(done + 1, len(files))
    return reader.tested()


@dataclass
class _Read:
    """One file as read."""

    path: Path
    content: bytes
    stream: Stream

    @property
    def meta(self) -> Mapping[str, Any]:
        return self.stream.meta

    @property
    def is_shot(self) -> bool:
        return isinstance(self.meta.get("shot"), dict)


@dataclass
class _Reader:
    """Takes one file after the other and puts together what a report is about."""

    selection: Selection
    logbook: Logbook | None
    check_days: float = DEFAULT_CHECK_DAYS
    complaints: list[str] = field(default_factory=list)
    flushes: int = 0

    def __post_init__(self) -> None:
        self._shots: dict[str, TestedShot] = {}
        self._files: dict[Path, TestedFile] = {}
        self._records: list[ShotRecord] = []
        self._shot_paths: list[Path] = []
        self._recordings: list[_Read] = []
        self._streams: dict[str, Stream] = {}
        self._names: dict[Path, str] = {}
        self._passed_over = 0
        self._find_probe = probes_of(self.logbook)

    def take(self, path: Path) -> None:
        """Read one file; one that cannot be read becomes a complaint."""
        try:
            content = read_regular(path)
            meta = parse_header(content, shown(path)).meta
            shot = shot_of(meta, path) if isinstance(meta.get("shot"), dict) else None
            if shot is not None and not self._is_meant(shot, meta):
                return
            read = _Read(path, content, parse_stream(content, shown(path)))
        except BenchtempError as error:
            self.complaints.append(str(error))
            return
        self.complaints.extend(read.stream.warnings)
        if shot is None:
            self._recordings.append(read)
        elif shot.is_flush:
            self.flushes += 1
        else:
            self._take_shot(read, shot)

    def _is_meant(self, shot: Shot, meta: Mapping[str, Any]) -> bool:
        """Tell from the header alone whether a shot's rows are worth reading."""
        if self.selection.wants(record_of(shot, machine=str(meta.get("machine") or ""))):
            return True
        self._passed_over += 1
        return False

    def _take_shot(self, read: _Read, shot: Shot) -> None:
        channel = _basket(read.stream)
        shot = msgspec.structs.replace(shot, grounds=stored_grounds(read.meta, channel))
        self._shot_paths.append(read.path)
        self._shots[str(read.path)] = _tested_shot(read, shot, ShotRecord(path=str(read.path)))
        self._note_file(read.path, read.content, read.meta, "shot")

    def _note_file(self, path: Path, content: bytes, meta: Mapping[str, Any], what: str) -> None:
        state = verify(path)
        edits = meta.get("edits")
        dropped = meta.get("edits_dropped")
        self._files[path] = TestedFile(
            name=printable(path.name, 120),
            what=what,
            sha256=hashlib.sha256(content).hexdigest(),
            size=len(content),
            edits=(len(edits) if isinstance(edits, list) else 0)
            + (dropped if isinstance(dropped, int) else 0),
            remark="" if state.condition in {Condition.WHOLE, Condition.NO_DIGEST} else state.text,
        )

    def _take_recording(self, read: _Read) -> None:
        name = self._own_name(read.path)
        records = records_in(read.stream, name, probes=self._find_probe)
        analysis = analyse_stream(read.stream)
        self.complaints.extend(
            f"{name}: {warning}" for warning in analysis.warnings if warning not in self.complaints
        )
        self.flushes += len(analysis.flushes)
        self._streams[name] = read.stream
        self._note_file(read.path, read.content, read.meta, str(read.meta.get("kind") or "recording"))
        if not records and analysis.reasons:
            self.complaints.append(f"{name} holds no shot: {'; '.join(analysis.reasons)}.")
        for shot, record in zip(analysis.shots, records, strict=True):
            named = msgspec.structs.replace(shot, recording=name, started=record.pulled)
            self._records.append(record)
            self._shots[record.path] = _tested_shot(read, named, record)

    def _own_name(self, path: Path) -> str:
        """Return a recording's name, with its folder's where another one has the same."""
        candidates = [path.name, f"{path.parent.name}/{path.name}", str(path)]
        name = next(name for name in candidates if name not in self._streams)
        self._names[path] = name
        return name

    def tested(self) -> Tested:
        """Return everything, once all files were taken."""
        folder = self.logbook.recordings_dir if self.logbook else None
        cut_from = {one.shot.recording for one in self._shots.values() if one.shot.recording}
        for read in self._recordings:
            # What the shot files say goes before: they may have been edited since.
            if read.path.name in cut_from:
                self._note_file(read.path, read.content, read.meta, "recording")
                folder = folder or read.path.parent
            else:
                self._take_recording(read)
        kept = gather_files(self._shot_paths, recordings_dir=folder, probes=self._find_probe)
        self.complaints.extend(text for text in kept.complaints if text not in self.complaints)
        records = [*self._records, *kept.used, *(left.shot for left in kept.left_out)]
        shots = chosen(
            with_times_between(records),
            self.selection,
            complaints=tuple(self.complaints),
            check_days=self.check_days,
        )
        used = {record.path for record in shots.used}
        by_path = {record.path: record for record in (*shots.used, *(left.shot for left in shots.left_out))}
        reasons = {left.shot.path: left.reasons for left in shots.left_out}
        meant = [
            _with_record(one, _with_reasons(by_path[path], reasons.get(path, ())), used=path in used)
            for path, one in self._shots.items()
            if path in by_path
        ]
        if not meant:
            raise BadInput(self._nothing())
        meant.sort(key=_when)
        self._look_up_recordings(meant, folder)
        return Tested(
            shots=tuple(meant),
            shot_set=shots,
            files=self._counted(meant),
            flushes=self.flushes,
            complaints=tuple(self.complaints),
            probes=self._probes(meant),
            plans=self._plans(meant),
            streams=dict(self._streams),
            logbook=self.logbook,
        )

    def _nothing(self) -> str:
        if self._shots or self._passed_over:
            return "None of these shots is the one meant; choose another machine, tag or day."
        if self.complaints:
            return self.complaints[0]
        return "There is no shot in these files; name other files, or a logbook."

    def _look_up_recordings(self, meant: Sequence[TestedShot], folder: Path | None) -> None:
        """Note the digests of recordings that shot files were cut from, where they are still there."""
        if folder is None:
            return
        for name in dict.fromkeys(one.shot.recording for one in meant):
            path = folder / name
            if not name or Path(name).name != name or any(path.name == known.name for known in self._files):
                continue
            try:
                content = read_regular(path)
                self._note_file(path, content, parse_header(content, shown(path)).meta, "recording")
            except BenchtempError:
                continue

    def _counted(self, meant: Sequence[TestedShot]) -> tuple[TestedFile, ...]:
        """Return the files that were needed, each with how many shots it gave."""
        wanted = {one.shot.recording for one in meant}
        found: list[TestedFile] = []
        names = [path.name for path in self._files]
        for path, file in self._files.items():
            own = self._names.get(path, "")
            count = sum(
                one.record.path == str(path) or bool(own and one.record.recording == own) for one in meant
            )
            if not count and path.name not in wanted:
                continue
            name = file.name if names.count(path.name) == 1 else printable(f"{path.parent.name}/{path.name}")
            found.append(replace(file, name=name, shots=count))
        return tuple(found)

    def _probes(self, meant: Sequence[TestedShot]) -> dict[str, Probe]:
        names = dict.fromkeys(one.record.probe for one in meant)
        return {name: probe for name in names if (probe := self._find_probe(name)) is not None}

    def _plans(self, meant: Sequence[TestedShot]) -> tuple[Any, ...]:
        found = []
        for name in dict.fromkeys(one.record.label(PLAN_TAG) for one in meant):
            if not name or self.logbook is None:
                continue
            try:
                plan = find_plan(self.logbook, name)
            except BenchtempError:
                continue
            found.append(where_it_stands(plan, [one.record for one in meant]))
        return tuple(found)


def _when(one: TestedShot) -> tuple[bool, float, str, float]:
    moment = one.record.moment
    stamp = moment.timestamp() if moment else 0.0
    return moment is None, stamp, one.file, one.shot.result.pump_on_s


def _with_record(one: TestedShot, record: ShotRecord, *, used: bool) -> TestedShot:
    return replace(one, shot=enclosed(one.shot, record.proof), record=record, used=used)


def _with_reasons(record: ShotRecord, reasons: tuple[str, ...]) -> ShotRecord:
    return msgspec.structs.replace(record, reasons=reasons or record.reasons)


def _basket(stream: Stream) -> str:
    named = str(stream.meta.get("basket_channel") or stream.channels[0])
    return named if named in stream.channels else stream.channels[0]


def _tested_shot(read: _Read, shot: Shot, record: ShotRecord) -> TestedShot:
    on_s = shot.result.pump_on_s
    off_s = shot.result.pump_off_s or shot.result.plateau_end_s or on_s
    trace: Trace | None = None
    try:
        basket = channel_of(read.stream, _basket(read.stream))
        wanted = (basket.t_s >= on_s - BEFORE_S) & (basket.t_s <= off_s + AFTER_S)
        trace = trace_from(basket.t_s[wanted] - on_s, basket.degc[wanted])
    except BadInput:
        pass
    notes = [
        f"{mark.t_s - on_s:.0f} s: {mark.text}"
        for mark in read.stream.marks
        if mark.kind is MarkKind.NOTE and on_s - BEFORE_S <= mark.t_s <= off_s + AFTER_S
    ]
    # What was written to a whole recording is told once, with its first shot.
    if (written := str(read.meta.get("notes") or "").strip()) and (read.is_shot or shot.number == 1):
        notes.insert(0, written)
    source = read.meta.get("source")
    return TestedShot(
        shot=shot,
        record=record,
        path=read.path,
        file=printable(read.path.name, 120),
        trace=trace if trace is not None and len(trace.t_s) else None,
        source=source if isinstance(source, dict) else {},
        notes=tuple(notes),
    )
