from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.entries import Entries, entries_until


def test_values_from_here_on():
    entries = Entries().taking("dose_g=18,2").taking("tag.coffee=house blend").taking("recipe.time_low_s=20")
    assert entries.recipe.dose_g == 18.2
    assert entries.recipe.time_low_s == 20.0
    assert entries.tags == {"coffee": "house blend"}
    assert entries.taking("tag.coffee=").tags == {}
    assert entries.taking("dose_g=").recipe.dose_g is None


def test_values_for_one_shot_only():
    entries = Entries().taking("dose_g=18").taking("shot 3 yield_g=36.4").taking("shot 3 tag.cup=a = b")
    assert entries.for_shot(3).yield_g == 36.4
    assert entries.for_shot(3).dose_g == 18
    assert entries.for_shot(3).tags == {"cup": "a = b"}
    assert entries.for_shot(2).yield_g is None
    assert entries.for_shot(2).tags == {}


@pytest.mark.parametrize(
    "text",
    [
        "dose_g", "dose_g=much", "dose_g=-3", "dose_g=nan", "dose_g=1e9", "colour=blue", "shot 3 colour=blue",
        "shot 3 yield_g=none", "recipe.colour=3", "recipe.time_low_s=soon", "recipe.time_low_s=99",
        "recipe.brew_ratio=", "tag.=x", "tag." + "n" * 201 + "=x", "",
    ],
)  # fmt: skip
def test_refuses_with_a_sentence(text):
    with pytest.raises(BadInput) as refused:
        Entries().taking(text)
    assert str(refused.value).endswith(".")


@given(st.text())
def test_any_text_is_taken_or_refused(text):
    with suppress(BadInput):
        assert isinstance(Entries().taking(text), Entries)


def test_a_shot_gets_what_held_when_its_pump_stopped():
    marks = [
        Mark(1.0, MarkKind.SET, "dose_g=18"),
        Mark(20.0, MarkKind.PUMP_ON),
        Mark(30.0, MarkKind.SET, "dose_g=18.5"),
        Mark(60.0, MarkKind.SET, "dose_g=20"),
        Mark(61.0, MarkKind.SET, "shot 1 yield_g=37"),
        Mark(62.0, MarkKind.SET, "nonsense"),
    ]
    entries, complaints = entries_until(Entries(), marks, 45.0)
    assert entries.for_shot(1).dose_g == 18.5
    assert entries.for_shot(1).yield_g == 37
    assert complaints == ()
    entries, complaints = entries_until(Entries(), marks, None)
    assert entries.for_shot(2).dose_g == 20
    assert len(complaints) == 1
    assert "62 s" in complaints[0]
