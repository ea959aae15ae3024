from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import pytest

from benchtemp.errors import StorageError
from benchtemp.logbook.preferences import (
    RECENT_KEPT,
    Appearance,
    Preferences,
    load_preferences,
    preferences_path,
    save_preferences,
)
from benchtemp.shots.recipe import Recipe
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from pathlib import Path


CHOSEN = Preferences(
    logbook="/somewhere/Käse",
    unit=TempUnit.DEGF,
    theme=Appearance.DARK,
    last_source={"kind": "port", "serial_number": "A1", "baud": 9600, "scale": None},
    layouts={"0403:6001:A1": {"separator": ";", "fields": [0, 2]}},
    recipe=Recipe(dose_g=18.5, time_low_s=20.0),
    tags={"coffee": "no. 7"},
    sound_muted=True,
    recent_recordings=("/a.ecsv",),
)


def test_without_a_file_the_usual_choices_hold() -> None:
    assert load_preferences() == (Preferences(), None)
    assert not preferences_path().exists()


def test_choices_come_back() -> None:
    save_preferences(CHOSEN)
    found, complaint = load_preferences()
    assert complaint is None
    assert found == msgspec.structs.replace(
        CHOSEN, last_source={"kind": "port", "serial_number": "A1", "baud": 9600}
    )
    save_preferences(Preferences())
    assert load_preferences() == (Preferences(), None)


def test_what_a_later_version_wrote_is_kept() -> None:
    save_preferences(CHOSEN)
    path = preferences_path()
    path.write_text(
        "later = [1, 2]\n" + path.read_text(encoding="utf-8") + "[new]\nx = 1\n", encoding="utf-8"
    )
    found, complaint = load_preferences()
    assert complaint is None
    save_preferences(msgspec.structs.replace(found, unit=TempUnit.DEGC))
    text = path.read_text(encoding="utf-8")
    assert "later = [" in text
    assert "[new]" in text
    assert load_preferences()[0].unit is TempUnit.DEGC


@pytest.mark.parametrize(
    "damage", [b"unit = ", b"\xff\xfe\x00", b"\0" * 50, b"x" * (1024 * 1024 + 1), b"a" * 10 + b"[" * 5000]
)
def test_a_damaged_file_is_set_aside_and_the_start_goes_on(damage: bytes) -> None:
    path = preferences_path()
    path.parent.mkdir()
    for number in (1, 2):
        path.write_bytes(damage)
        found, complaint = load_preferences()
        assert found == Preferences()
        assert complaint is not None
        assert "preferences-damaged" in complaint
        assert not path.exists()
        assert len(list(path.parent.iterdir())) == number
    assert (path.parent / "preferences-damaged-2.toml").read_bytes() == damage
    save_preferences(CHOSEN)


def test_one_choice_that_makes_no_sense_costs_only_itself() -> None:
    path = preferences_path()
    path.parent.mkdir()
    text = 'unit = "degX"\ntheme = "dark"\n[recipe]\ndose_g = -5\n[tags]\ncoffee = "a"\n'
    path.write_text(text, encoding="utf-8")
    for _ in range(2):
        found, complaint = load_preferences()
        assert (found.unit, found.theme, found.tags, found.recipe) == (
            TempUnit.DEGC,
            Appearance.DARK,
            {"coffee": "a"},
            Recipe(),
        )
        assert complaint is not None
        assert "unit, recipe" in complaint
    assert (path.parent / "preferences-damaged.toml").read_text(encoding="utf-8") == text
    assert len(list(path.parent.iterdir())) == 2


def test_an_unknown_recipe_field_does_not_cost_the_recipe() -> None:
    path = preferences_path()
    path.parent.mkdir()
    path.write_text("[recipe]\ndose_g = 18.0\nlater = 1\n", encoding="utf-8")
    assert load_preferences() == (Preferences(recipe=Recipe(dose_g=18.0)), None)


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "own-preferences").write_text("in the way", encoding="utf-8")
    with pytest.raises(StorageError, match="preferences cannot be kept"):
        save_preferences(Preferences())


def test_recent_recordings_are_few_and_each_once(tmp_path: Path) -> None:
    chosen = Preferences()
    for number in [*range(RECENT_KEPT + 5), 10]:
        chosen = chosen.with_recent(tmp_path / f"{number}.ecsv")
    assert len(chosen.recent_recordings) == RECENT_KEPT
    assert chosen.recent_recordings[0].endswith("10.ecsv")
    assert len(set(chosen.recent_recordings)) == RECENT_KEPT
