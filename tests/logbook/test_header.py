from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from benchtemp.errors import DamagedFile
from benchtemp.logbook.ecsv import read_meta
from benchtemp.logbook.header import ChannelNote, Header, ShotNote
from benchtemp.logbook.shot_file import write_shot
from benchtemp.probes.correction import Correction
from benchtemp.shots.recipe import Recipe, RecipeVerdict
from benchtemp.shots.result import Origin, PullKind, Result

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.readings.reading import Stream

RESULT = Result(
    kind=PullKind.SHOT,
    rise_s=1.0,
    pump_on_s=1.5,
    pump_on_source=Origin.MARKED,
    pump_off_s=None,
    pump_off_source=Origin.ESTIMATED,
    brew_temp_degc=93.1234567890123,
    reasons=("no plateau",),
)
HEADER = Header(
    kind="shot",
    program="benchtemp 0.1.0",
    started="2025-11-25T10:00:00.000+01:00",
    source={"port": "x", "baud": 9600},
    channels=(
        ChannelNote(name="T1", probe="needle 3", unit_as_sent="degF", correction=Correction(offset_k=0.25)),
        ChannelNote(name="T2"),
    ),
    basket_channel="T1",
    machine="Kestrel Two",
    recipe=Recipe(dose_g=18.0),
    tags={"coffee": "no. 7"},
    shot=ShotNote(
        number=3, recording="r.ecsv", yield_g=36.5, verdict=RecipeVerdict.WITHIN, counts=True, result=RESULT
    ),
    extra={},
)


def test_a_header_goes_through_a_file_unchanged(tmp_path: Path, small_stream: Stream) -> None:
    small_stream.meta.clear()
    small_stream.meta.update(HEADER.to_plain())
    meta = read_meta(write_shot(tmp_path / "s.ecsv", small_stream))
    del meta["digest"]
    assert Header.from_plain(meta) == HEADER


def test_what_is_unknown_keeps_its_place_at_every_depth() -> None:
    meta: dict[str, Any] = HEADER.to_plain()
    meta["later"] = {"a": [1, {"b": 2}]}
    meta["recipe"]["later"] = 1
    meta["channels"][1]["later"] = [1]
    meta["channels"][0]["correction"]["later"] = "x"
    meta["shot"]["result"]["later"] = None
    meta["extra"] = "a word of theirs"
    header = Header.from_plain(meta)
    assert header.recipe == HEADER.recipe
    written = header.to_plain()
    assert written["later"] == meta["later"]
    assert written["recipe"]["later"] == 1
    assert written["channels"][1] == {"name": "T2", "later": [1]}
    assert written["channels"][0]["correction"]["later"] == "x"
    assert "later" in written["shot"]["result"]
    assert written["extra"] == "a word of theirs"
    assert Header.from_plain(written) == header


def test_an_empty_header_is_a_header() -> None:
    assert Header.from_plain({}) == Header()
    assert Header().to_plain() == {"kind": "", "format_version": 1}


def test_numbers_typed_without_quotes_are_texts() -> None:
    header = Header.from_plain({"machine": 2, "tags": {"code": 10, "ratio": 1.5}, "shot": {"recording": 7}})
    assert header.machine == "2"
    assert header.tags == {"code": "10", "ratio": "1.5"}
    assert header.shot is not None
    assert header.shot.recording == "7"


def test_nothing_where_a_value_is_wanted_is_the_default() -> None:
    header = Header.from_plain(
        {"machine": None, "tags": None, "recipe": None, "channels": None, "shot": None}
    )
    assert header == Header()


@pytest.mark.parametrize(
    "meta",
    [
        {"machine": ["x"]},
        {"channels": "T1"},
        {"channels": [1]},
        {"recipe": {"dose_g": -1}},
        {"recipe": {"dose_g": "heaps"}},
        {"shot": {"verdict": "maybe"}},
        {"tags": {"a": ["b"]}},
        {"format_version": "one"},
    ],
)
def test_what_cannot_be_meant_is_refused_with_a_sentence(meta: dict[str, Any]) -> None:
    with pytest.raises(DamagedFile, match="header holds a value"):
        Header.from_plain(meta)
