"""Shots of many benches as one Parquet dataset, in folders by machine and month.

    FOLDER/machine=Kestrel%20Two/month=2025-11/north-bench-3f2a….parquet

Any engine that reads Parquet in such folders can question it, for instance
`SELECT machine, avg(brew_temp_degc) FROM read_parquet('FOLDER/**/*.parquet') GROUP BY machine`.
Each logbook has one file to a folder and replaces only its own; so several benches can export into one
shared place, again and again. The folders' names are percent-encoded; a machine without a name, or a shot
without a date, stands under the usual word for "none".
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from typing import TYPE_CHECKING, Any, get_type_hints
from urllib.parse import quote

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.export.record import Record
from benchtemp.logbook.folder import Logbook, make_folder
from benchtemp.logbook.lock import this_computer
from benchtemp.logbook.names import safe_part

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

NONE = "__HIVE_DEFAULT_PARTITION__"
"""How such datasets commonly say that a folder's value is not known."""
FOLDER_NAME_MAX = 150
_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])\Z", re.ASCII)


class Written(msgspec.Struct, frozen=True):
    """What an export came to: shots and files written, and files of earlier exports taken away."""

    shots: int
    files: int
    removed: int


def require_parquet() -> None:
    """Do nothing where Parquet can be written.

    Raises:
        BadInput: The optional package for it is missing.
    """
    try:
        import pyarrow.parquet  # noqa: F401, PLC0415 - heavy, and an optional extra
    except ImportError as error:
        raise BadInput(
            "Parquet needs an optional package that is not installed; "
            "install it with: python -m pip install 'benchtemp[parquet]'"
        ) from error


def bench_id(logbook: Logbook) -> str:
    """Return what tells this computer's logbook from all others that share a dataset."""
    where = f"{this_computer()}\0{os.path.normcase(logbook.root.absolute())}"
    return hashlib.sha256(where.encode("utf-8", "replace")).hexdigest()[:12]


def write_dataset(folder: Path, records: Iterable[Record], *, bench: str, logbook: Logbook) -> Written:
    """Put a logbook's shots into a dataset, in place of all that it had put there before.

    The columns are those of `Record`; `machine_name` is the machine as written, which the folder's name
    holds without regard to case, and shortened where it is very long.

    Args:
        folder: Of the dataset; made where missing.
        records: The shots.
        bench: Name of the bench, for the names of files.
        logbook: Which they come from.

    Raises:
        BadInput: The optional package is missing.
        StorageError: The disk does not take it; each file is the old one or the new one, never half of one.
    """
    require_parquet()
    groups: dict[str, list[Record]] = {}
    place_of: dict[str, str] = {}
    for record in records:
        place = f"machine={_machine_folder(record.machine)}/month={_month_folder(record.month)}"
        # File systems that do not tell "A" from "a" must not mix up two machines' files.
        groups.setdefault(place_of.setdefault(place.casefold(), place), []).append(record)
    name = f"{safe_part(bench, 'bench')}-{bench_id(logbook)}.parquet"
    written = set()
    for place, members in sorted(groups.items()):
        target = folder / place / name
        make_folder(target.parent)
        write_whole(target, [_file_bytes(members)], overwrite=True)
        written.add(target)
    removed = _remove_earlier(folder, bench_id(logbook), written)
    return Written(sum(map(len, groups.values())), len(groups), removed)


def _machine_folder(machine: str) -> str:
    if not machine:
        return NONE
    shortened = machine
    while len(_encoded(shortened)) > FOLDER_NAME_MAX:
        shortened = shortened[:-1]
    if shortened != machine:
        digest = hashlib.sha256(machine.casefold().encode("utf-8", "replace")).hexdigest()[:8]
        return _encoded(f"{shortened}~{digest}")
    return _encoded(machine)


def _encoded(text: str) -> str:
    # A name that ends with a dot loses it on some systems, and one that begins with it is hidden.
    return quote(text, safe="", errors="replace").replace(".", "%2E")


def _month_folder(month: str) -> str:
    return month if _MONTH.match(month) else NONE


def _remove_earlier(folder: Path, own_id: str, written: set[Path]) -> int:
    """Take away what an earlier export of this logbook left in folders that it has no shots for now."""
    removed = 0
    for path in folder.glob(f"machine=*/month=*/*-{own_id}.parquet"):
        if path in written or path.is_symlink():
            continue
        path.unlink(missing_ok=True)
        removed += 1
        for empty in (path.parent, path.parent.parent):
            with contextlib.suppress(OSError):
                empty.rmdir()
    return removed


def _file_bytes(records: list[Record]) -> bytes:
    import pyarrow as pa  # noqa: PLC0415 - heavy, and an optional extra
    import pyarrow.parquet as pq  # noqa: PLC0415

    rows = [_columns(record) for record in records]
    sink = pa.BufferOutputStream()
    pq.write_table(pa.Table.from_pylist(rows, schema=_schema(pa)), sink, compression="zstd")
    return bytes(sink.getvalue().to_pybytes())


def _columns(record: Record) -> dict[str, Any]:
    values = msgspec.structs.asdict(record)
    del values["machine"], values["month"]
    return {
        "machine_name": record.machine,
        **values,
        "reasons": list(record.reasons),
        "remarks": list(record.remarks),
        "tags": list(record.tags.items()),
    }


def _schema(pa: Any) -> Any:
    """Return the same types for every file, whatever happens to be empty in one."""
    types = {
        str: pa.string(),
        bool: pa.bool_(),
        int: pa.int64(),
        int | None: pa.int64(),
        float | None: pa.float64(),
        tuple[str, ...]: pa.list_(pa.string()),
        dict[str, str]: pa.map_(pa.string(), pa.string()),
    }
    hints = get_type_hints(Record)
    fields = [(name, types[hint]) for name, hint in hints.items() if name not in ("machine", "month")]
    return pa.schema([("machine_name", pa.string()), *fields])
