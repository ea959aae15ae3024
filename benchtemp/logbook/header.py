"""The words of our files' `meta`, typed; what we do not know is kept as it is."""

from __future__ import annotations

import types
import typing
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

from benchtemp.errors import BadInput, DamagedFile
from benchtemp.logbook.header_text import plain
from benchtemp.probes.correction import Correction
from benchtemp.shots.recipe import Recipe, RecipeVerdict
from benchtemp.shots.result import Result

FORMAT_VERSION = 1

Known = TypeVar("Known", bound=msgspec.Struct)


class ChannelNote(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What is known of one channel.

    Attributes:
        name: Its column.
        probe: The probe plugged into it, empty if not named.
        unit_as_sent: The unit the interface sent, before it was converted to °C.
        correction: Applied when the file is read; the rows hold what was reported.
    """

    name: str
    probe: str = ""
    unit_as_sent: str = ""
    correction: Correction | None = None


class ShotNote(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What is known of the shot in a shot file.

    Attributes:
        number: Counts the shots of its recording from 1; a flush has 0.
        recording: File name of the recording it was cut from.
        pulled: ISO 8601 moment of pump on.
        yield_g: Typed, or from the scale.
        verdict: Whether the recipe was kept.
        counts: Whether studies use it.
        reasons: Why it does not count.
        set_aside: The operator's reason to leave it out, empty for none.
        result: Its figures; times are in the rows' `t`.
    """

    number: int = 0
    recording: str = ""
    pulled: str = ""
    yield_g: float | None = None
    verdict: RecipeVerdict = RecipeVerdict.NOT_GIVEN
    counts: bool = False
    reasons: tuple[str, ...] = ()
    set_aside: str = ""
    result: Result | None = None


class Header(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A file's `meta`.

    Attributes:
        kind: `recording`, `shot` or `demo`; another tool's file may say anything or nothing.
        format_version: Of these words.
        program: Name and version of what wrote it.
        started: ISO 8601 moment of `t` = 0, with UTC offset.
        source: Facts about where the readings came from.
        channels: One note per channel that something is known of.
        basket_channel: Which channel's probe sits in the basket; empty for the first.
        machine: Name of the machine under test.
        recipe: Held to; None where none is given.
        tags: Free names and values.
        shot: In a shot file.
        extra: Everything in the header these words do not cover, in its place.
    """

    kind: str = ""
    format_version: int = FORMAT_VERSION
    program: str = ""
    started: str = ""
    source: dict[str, Any] = {}
    channels: tuple[ChannelNote, ...] = ()
    basket_channel: str = ""
    machine: str = ""
    recipe: Recipe | None = None
    tags: dict[str, str] = {}
    shot: ShotNote | None = None
    extra: dict[Any, Any] = {}

    @classmethod
    def from_plain(cls, meta: dict[str, Any]) -> Header:
        """Read a header's plain `meta`; numbers where texts are wanted are taken as texts.

        Raises:
            DamagedFile: A value is of a kind that cannot be meant.
        """
        known, extra = parted(cls, {key: value for key, value in meta.items() if key != "extra"})
        if "extra" in meta:
            extra["extra"] = meta["extra"]
        return msgspec.structs.replace(converted(known, cls), extra=extra)

    def to_plain(self) -> dict[str, Any]:
        """Return the plain `meta` to write, with all that was not understood in its place."""
        known = msgspec.to_builtins(msgspec.structs.replace(self, extra={}))
        known = {"kind": self.kind, "format_version": self.format_version, **known}
        whole = merged(known, self.extra)
        assert isinstance(whole, dict)
        return typing.cast("dict[str, Any]", plain(whole))


def converted(known: dict[str, Any], into: type[Known]) -> Known:
    """Return plain values as a struct.

    Raises:
        DamagedFile: A value is of a kind that cannot be meant.
    """
    try:
        return msgspec.convert(known, into)
    except (msgspec.ValidationError, BadInput, ValueError) as error:
        raise DamagedFile(f"A header holds a value that cannot be meant ({error}); correct it.") from error


def _struct_in(hint: Any) -> tuple[type[msgspec.Struct] | None, bool]:
    """Return the struct type within a type hint, and whether it is that of a list's entries."""
    if get_origin(hint) in (Union, types.UnionType):
        for part in get_args(hint):
            if found := _struct_in(part)[0]:
                return found, False
        return None, False
    if get_origin(hint) in (tuple, list):
        return _struct_in(get_args(hint)[0])[0], True
    return (hint if isinstance(hint, type) and issubclass(hint, msgspec.Struct) else None), False


def parted(struct: type[msgspec.Struct], found: dict[str, Any]) -> tuple[dict[str, Any], dict[Any, Any]]:
    """Part a plain dict into what a struct knows, made fit for it, and the rest, each in its place."""
    hints = get_type_hints(struct)
    known: dict[str, Any] = {}
    rest: dict[Any, Any] = {}
    for key, value in found.items():
        if key not in hints:
            rest[key] = value
            continue
        inner, listed = _struct_in(hints[key])
        if inner is not None and listed and isinstance(value, list):
            parts = [parted(inner, entry) if isinstance(entry, dict) else (entry, {}) for entry in value]
            known[key] = [part for part, _ in parts]
            if over := {number: more for number, (_, more) in enumerate(parts) if more}:
                rest[key] = over
        elif inner is not None and isinstance(value, dict):
            known[key], over = parted(inner, value)
            if over:
                rest[key] = over
        elif value is None and type(None) not in get_args(hints[key]):
            continue
        else:
            known[key] = _as_text(value, hints[key])
    return known, rest


def _as_text(value: Any, hint: Any) -> Any:
    """Return numbers as texts where texts are wanted: a hand-edited header may lack the quotes."""
    if hint is str and isinstance(value, int | float):
        return str(value)
    if hint == dict[str, str] and isinstance(value, dict):
        return {key: str(entry) if isinstance(entry, int | float) else entry for key, entry in value.items()}
    return value


def merged(known: Any, extra: Any) -> Any:
    """Put what `parted` took apart together again."""
    if isinstance(known, list | tuple) and isinstance(extra, dict):
        return [merged(entry, extra.get(number, {})) for number, entry in enumerate(known)]
    if isinstance(known, dict) and isinstance(extra, dict):
        whole = dict(known)
        for key, value in extra.items():
            whole[key] = merged(known[key], value) if key in known else value
        return whole
    return known
