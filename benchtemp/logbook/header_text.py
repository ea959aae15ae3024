"""The header of an ECSV 1.0 file: YAML in lines that begin with `# `, written and read safely.

YAML from other people's files is never trusted: plain values only, at most 64 kB, no anchors or aliases,
no deep nesting; a tag nobody knows gives the plain value under it. An ordered map becomes a plain dict.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import msgspec
import numpy as np
import yaml

from benchtemp.errors import BadInput, DamagedFile
from benchtemp.logbook.header_events import quick_header

MAGIC = "# %ECSV 1.0"
HEADER_LIMIT = 64 * 1024
DEPTH_LIMIT = 40

_SafeLoader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_SafeDumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


class _Loader(_SafeLoader):  # type: ignore[misc]  # which of the two it is depends on how PyYAML was built
    """Plain values only."""


class _Dumper(_SafeDumper):  # type: ignore[misc]
    """No aliases, and nothing that could break a line."""

    def ignore_aliases(self, data: Any) -> bool:
        """Write everything out."""
        del data
        return True


def _plain_node(loader: Any, node: yaml.Node) -> Any:
    if isinstance(node, yaml.ScalarNode):
        return loader.construct_scalar(node)
    if isinstance(node, yaml.SequenceNode):
        return loader.construct_sequence(node, deep=True)
    return loader.construct_mapping(node, deep=True)


def _ordered_map(loader: Any, node: yaml.Node) -> dict[Any, Any]:
    if isinstance(node, yaml.MappingNode):
        return dict(loader.construct_mapping(node, deep=True))
    found: dict[Any, Any] = {}
    if isinstance(node, yaml.SequenceNode):
        for entry in node.value:
            if not isinstance(entry, yaml.MappingNode):
                raise yaml.constructor.ConstructorError(
                    problem="an ordered map holds something else than pairs"
                )
            found.update(loader.construct_mapping(entry, deep=True))
    return found


_Loader.add_constructor(None, _plain_node)
_Loader.add_constructor("tag:yaml.org,2002:omap", _ordered_map)


def _one_line_text(dumper: Any, text: str) -> yaml.ScalarNode:
    style = None if text.isprintable() else '"'
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)  # type: ignore[no-any-return]


_Dumper.add_representer(str, _one_line_text)


@dataclass(frozen=True, slots=True)
class Column:
    """One column as the header describes it: name, datatype, and unit (empty without one)."""

    name: str
    datatype: str
    unit: str = ""

    @property
    def is_number(self) -> bool:
        """Return whether its fields are numbers."""
        return self.datatype.startswith(("float", "int", "uint"))


@dataclass(frozen=True, slots=True)
class HeaderText:
    """What an ECSV header says.

    Attributes:
        columns: All columns in order.
        delimiter: Comma or space.
        meta: The header's `meta`, plain values only.
        rows_at: Offset in bytes of the line with the column names.
    """

    columns: tuple[Column, ...]
    delimiter: str
    meta: dict[str, Any]
    rows_at: int


def header_bytes(columns: tuple[Column, ...], meta: Mapping[str, Any]) -> bytes:
    """Return the header lines for a comma-separated file, without the line of column names.

    Raises:
        BadInput: `meta` holds something that is no plain value, or is too long.
    """
    described = []
    for column in columns:
        entry = {"name": column.name, "datatype": column.datatype}
        if column.unit:
            entry["unit"] = column.unit
        described.append(entry)
    head = {"delimiter": ",", "datatype": described, "meta": plain(meta), "schema": "astropy-2.0"}
    try:
        text = yaml.dump(head, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=2**30)
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        raise BadInput(f"The header cannot be written ({error}); leave out what is unusual in it.") from error
    lines = [MAGIC, "# ---", *(f"# {line}" for line in text.removesuffix("\n").split("\n"))]
    written = ("\n".join(lines) + "\n").encode()
    if len(written) > HEADER_LIMIT:
        raise BadInput(f"The header would be longer than {HEADER_LIMIT // 1024} kB; shorten notes and tags.")
    return written


def parse_header(start: bytes, name: str) -> HeaderText:
    """Read a header from the first bytes of a file (all of it, or at least `HEADER_LIMIT` + 1 bytes).

    Args:
        start: The file's beginning.
        name: What to call the file in a message.

    Raises:
        BadInput: It is not ECSV, or not ECSV that can be used safely.
        DamagedFile: It begins as ECSV and then breaks off or makes no sense.
    """
    at = 3 if start.startswith(b"\xef\xbb\xbf") else 0
    if not start[at : at + 8] == b"# %ECSV ":
        raise BadInput(f"{name} is not an ECSV file: it does not begin with '{MAGIC}'; import it instead.")
    lines: list[str] = []
    while True:
        end = start.find(b"\n", at, HEADER_LIMIT + 1)
        if end < 0:
            if len(start) > HEADER_LIMIT:
                raise BadInput(
                    f"{name} has a header longer than {HEADER_LIMIT // 1024} kB, which is refused."
                )
            raise DamagedFile(f"{name} breaks off within its header; there are no readings in it.")
        line = start[at:end].rstrip(b"\r")
        if line and not line.startswith(b"#"):
            break
        lines.append(
            line[2:].decode("utf-8", "replace")
            if line.startswith(b"# ")
            else line[1:].decode("utf-8", "replace")
        )
        at = end + 1
    version = lines[0].removeprefix("%ECSV").strip()
    if version.split(".")[0] not in ("0", "1"):
        raise BadInput(f"{name} is ECSV {version[:20]}; only version 1 can be read.")
    head = _load("\n".join(lines[1:]), name)
    return HeaderText(_columns(head, name), _delimiter(head, name), _meta(head), at)


def _load(text: str, name: str) -> dict[str, Any]:
    found = quick_header(text, _SafeLoader)
    return _load_fully(text, name) if found is None else found


def _load_fully(text: str, name: str) -> dict[str, Any]:
    try:
        _refuse_traps(text, name)
        head = yaml.load(text, Loader=_Loader)  # noqa: S506 - derived from the safe loader
        found = plain(head)
    except BadInput:
        raise
    except (yaml.YAMLError, ValueError, RecursionError, TypeError, OverflowError, AttributeError) as error:
        mark = getattr(error, "problem_mark", None)
        place = "" if mark is None else f" near line {mark.line + 2}"
        raise DamagedFile(
            f"{name} has a header that cannot be understood{place}; mend it or use a copy."
        ) from error
    if not isinstance(found, dict):
        raise DamagedFile(f"{name} has a header that describes no columns; it cannot be read.")
    return found


def _refuse_traps(text: str, name: str) -> None:
    """Raise BadInput for what makes a small header large, before anything is built from it."""
    depth = 0
    for event in yaml.parse(text, Loader=_SafeLoader):
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None) is not None:
            raise BadInput(f"{name} has anchors or aliases in its header, which are refused for safety.")
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > DEPTH_LIMIT:
                raise BadInput(f"{name} has a header nested beyond {DEPTH_LIMIT} levels, which is refused.")
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1


def _columns(head: dict[str, Any], name: str) -> tuple[Column, ...]:
    described = head.get("datatype")
    if not isinstance(described, list) or not described:
        raise DamagedFile(f"{name} has a header that describes no columns; it cannot be read.")
    columns = []
    for entry in described:
        if not isinstance(entry, dict) or "name" not in entry:
            raise DamagedFile(
                f"{name} describes a column without a name in its header; mend it or use a copy."
            )
        unit = entry.get("unit")
        columns.append(
            Column(str(entry["name"]), str(entry.get("datatype", "")), unit if isinstance(unit, str) else "")
        )
    return tuple(columns)


def _delimiter(head: dict[str, Any], name: str) -> str:
    delimiter = head.get("delimiter", " ")
    if delimiter not in (",", " "):
        raise BadInput(
            f"{name} says its fields are separated by {delimiter!r}; ECSV knows comma and space only."
        )
    return str(delimiter)


def _meta(head: dict[str, Any]) -> dict[str, Any]:
    meta = head.get("meta")
    if isinstance(meta, list) and meta and all(isinstance(entry, dict) for entry in meta):
        # A list of one-pair maps is how an ordered map looks once its tag is lost.
        return {key: value for entry in meta for key, value in entry.items()}
    return meta if isinstance(meta, dict) else {}


def plain(value: Any, depth: int = 0) -> Any:
    """Return a copy of a value made of plain dicts, lists, texts, numbers, booleans and None only.

    Raises:
        BadInput: There is something in it that has no plain form, or it is nested without end.
    """
    if depth > DEPTH_LIMIT + 10:
        raise BadInput("A header nested that deep cannot be kept; make it flatter.")
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Enum):
        return plain(value.value, depth + 1)
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, np.generic | np.ndarray):
        return plain(value.tolist(), depth + 1)
    if isinstance(value, int):
        if not -(2**63) <= value < 2**63:
            raise BadInput("A whole number in the header is beyond 64 bits; it cannot be kept.")
        return int(value)
    if isinstance(value, float):
        return float(value)
    if isinstance(value, Mapping):
        return {_plain_key(key): plain(entry, depth + 1) for key, entry in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(entry, depth + 1) for entry in value]
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, msgspec.Struct):
        return plain(msgspec.to_builtins(value), depth + 1)
    raise BadInput(f"A {type(value).__name__} cannot be kept in a header; give text or numbers.")


def _plain_key(key: Any) -> str:
    if isinstance(key, str):
        return key.encode("utf-8", "replace").decode("utf-8")
    if isinstance(key, float) and not math.isfinite(key):
        return "nan"
    return str(key)
