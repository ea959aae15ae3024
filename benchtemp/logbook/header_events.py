"""The usual header, read straight from YAML's events: several times faster than building its nodes first.

Only what headers usually are made of is taken: plain maps with text keys, lists and untagged values. Anything
else (an anchor, a tag, a merge key, a number as a key, a fault) is left to the full reader, so that what is
refused, and in which words, is decided in one place.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

import yaml

_DEPTH_LIMIT = 30
_DECIMAL = re.compile(r"-?\d{1,18}\.\d{1,25}\Z", re.ASCII)
_WORD = re.compile(r"(?!(?:yes|no|on|off|true|false|null|y|n)\Z)[a-z][a-z_]*\Z", re.ASCII | re.IGNORECASE)


class _Unusual(Exception):
    """The full reader has to look at it."""


def quick_header(text: str, loader: Any) -> dict[str, Any] | None:
    """Return the plain values of a usual header, None where it is unusual or faulty.

    Args:
        text: The YAML.
        loader: PyYAML's safe loader, compiled or not.
    """
    try:
        return _Quick(text, loader).header()
    except (_Unusual, yaml.YAMLError, ValueError, TypeError, OverflowError, AttributeError):
        return None


class _Quick:
    def __init__(self, text: str, loader: Any) -> None:
        self._loader = loader
        self._next = loader(text).get_event

    def header(self) -> dict[str, Any]:
        for expected in (yaml.StreamStartEvent, yaml.DocumentStartEvent):
            if type(self._next()) is not expected:
                raise _Unusual
        found = self._value(self._next(), 0)
        if type(self._next()) is not yaml.DocumentEndEvent or type(self._next()) is not yaml.StreamEndEvent:
            raise _Unusual
        if not isinstance(found, dict):
            raise _Unusual
        return found

    def _value(self, event: Any, depth: int) -> Any:
        if event.anchor is not None or depth > _DEPTH_LIMIT:
            raise _Unusual
        kind = type(event)
        if kind is yaml.AliasEvent or event.tag is not None:
            raise _Unusual
        if kind is yaml.ScalarEvent:
            return self._scalar(event)
        if kind is yaml.MappingStartEvent:
            return self._mapping(depth)
        if kind is yaml.SequenceStartEvent:
            found = []
            while type(event := self._next()) is not yaml.SequenceEndEvent:
                found.append(self._value(event, depth + 1))
            return found
        raise _Unusual

    def _mapping(self, depth: int) -> dict[str, Any]:
        found: dict[str, Any] = {}
        following, scalar, scalar_event = self._next, self._scalar, yaml.ScalarEvent
        while type(event := following()) is scalar_event:
            key = scalar(event)
            if type(key) is not str:
                raise _Unusual
            event = following()
            found[key] = scalar(event) if type(event) is scalar_event else self._value(event, depth + 1)
        if type(event) is not yaml.MappingEndEvent:
            raise _Unusual
        return found

    def _scalar(self, event: Any) -> Any:
        if event.anchor is not None or event.tag is not None:
            raise _Unusual
        text = event.value
        if event.implicit[0]:
            return float(text) if _DECIMAL.match(text) else _plain(text, self._loader)
        return text if text.isascii() else _as_text(text)


@lru_cache(maxsize=4096)
def _plain(text: str, loader: Any) -> Any:
    """Return what YAML takes an unquoted text for."""
    if _WORD.match(text):
        return text
    reader = loader("")
    tag = reader.resolve(yaml.ScalarNode, text, (True, False))
    value = reader.construct_object(yaml.ScalarNode(tag, text))
    if isinstance(value, str):
        return _as_text(value)
    if value is None or isinstance(value, bool | float) or (type(value) is int and abs(value) < 2**63):
        return value
    raise _Unusual


def _as_text(text: str) -> str:
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")
