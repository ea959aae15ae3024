"""Telling what happens at the bench on stdout: as JSON lines, or as lines for a person."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import click

from benchtemp.bench import Event, ShotEnded, ShotRevised, ShotSettled, StageChanged
from benchtemp.reports.terminal import event_lines
from benchtemp.shots.shot import Shot
from benchtemp.units import TempUnit


def teller(*, as_json: bool, unit: TempUnit) -> Callable[[Event], None]:
    """Return what writes each event it is given to stdout."""
    return _JsonTeller() if as_json else _TextTeller(unit)


class _JsonTeller:
    """One object a line: stage changes, and each pull once it is settled, and again if it is revised."""

    def __init__(self) -> None:
        self._settled: set[int] = set()

    def __call__(self, event: Event) -> None:
        match event:
            case StageChanged(change):
                found: dict[str, Any] = {
                    "t_s": change.t_s,
                    "stage": str(change.stage),
                    "since_s": change.since_s,
                }
                if change.reason:
                    found["reason"] = change.reason
                self._print(found)
            case ShotSettled(shot):
                self._settled.add(shot.key)
                self._print(self._shot(shot))
            case ShotRevised(shot) if shot.key in self._settled:
                self._print({**self._shot(shot), "revised": True})
            case _:
                pass

    @staticmethod
    def _shot(shot: Shot) -> dict[str, Any]:
        return {"kind": str(shot.result.kind), **shot.as_json()}

    @staticmethod
    def _print(found: dict[str, Any]) -> None:
        click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))


class _TextTeller:
    """Lines for a person; a shot is told again only when its line reads differently."""

    def __init__(self, unit: TempUnit) -> None:
        self._unit = unit
        self._told: dict[int, list[str]] = {}

    def __call__(self, event: Event) -> None:
        lines = event_lines(event, self._unit)
        if isinstance(event, ShotEnded | ShotRevised | ShotSettled):
            if self._told.get(event.shot.key) == lines:
                return
            self._told[event.shot.key] = lines
        for line in lines:
            click.echo(line)
