import pytest

from benchtemp.teaching.marking import Answer, Part, PartMark
from benchtemp.teaching.practice import RoundStage, RoundView
from benchtemp.units import TempUnit
from benchtemp.window.practice_page.sentences import difference_text, next_step, value_text

FULL = {"pump_on_s": 12.0, "plateau_start_s": 20.0, "brew_temp_degc": 93.0, "counts": True}


def view(stage=RoundStage.WATCHING, number=1, t_s=10.0, **answer):
    return RoundView(stage=stage, number=number, count=3, t_s=t_s, answer=Answer(**answer))


def answered(*names):
    return {name: FULL[name] for name in names}


@pytest.mark.parametrize(
    ("where", "how", "words"),
    [
        (view(t_s=0.0), {"playing": False, "over": False}, "Enter to let the trace run"),
        (view(), {"playing": False, "over": False}, "Press K"),
        (view(), {"playing": True, "over": False}, "Space at the moment the pump goes on"),
        (view(**answered("pump_on_s")), {"playing": True, "over": False}, "Enter at the moment the plateau"),
        (
            view(**answered("pump_on_s", "plateau_start_s")),
            {"playing": True, "over": False},
            "press End to see all",
        ),
        (view(), {"playing": False, "over": True}, "Home plays the trace again"),
        (
            view(**answered("pump_on_s", "plateau_start_s")),
            {"playing": False, "over": True},
            "Type the brew temperature",
        ),
        (view(), {"playing": False, "over": True, "temp_passed": True}, "Does the shot count"),
        (
            view(**answered("brew_temp_degc")),
            {"playing": False, "over": True},
            "Does the shot count",
        ),
        (view(**FULL), {"playing": False, "over": True}, "hand your answer in"),
        (view(RoundStage.SHOWN), {"playing": False, "over": True}, "the next shot"),
        (view(RoundStage.SHOWN, number=3), {"playing": False, "over": True}, "your score"),
        (view(RoundStage.OVER), {"playing": False, "over": True}, "over"),
    ],
)
def test_at_every_moment_one_sentence_says_what_is_next(where, how, words):
    sentence = next_step(where, **how)
    assert words in sentence
    assert sentence.endswith(".")


def test_values_are_written_as_people_write_them():
    assert value_text(Part.PUMP_ON, 72.34, TempUnit.DEGC) == "1:12.3"
    assert value_text(Part.PLATEAU_START, None, TempUnit.DEGC) == "none"
    assert value_text(Part.BREW_TEMP, 93.25, TempUnit.DEGF) == "199.85 °F"
    assert value_text(Part.COUNTS, False, TempUnit.DEGC) == "“does not count”"  # noqa: FBT003


@pytest.mark.parametrize(
    ("part", "difference", "unit", "text"),
    [
        (Part.PUMP_ON, -0.44, TempUnit.DEGC, "−0.4 s"),
        (Part.BREW_TEMP, 0.5, TempUnit.DEGC, "+0.50 °C"),
        (Part.BREW_TEMP, -1.0, TempUnit.DEGF, "−1.80 °F"),
        (Part.COUNTS, None, TempUnit.DEGC, ""),
    ],
)
def test_differences_carry_their_sign(part, difference, unit, text):
    mark = PartMark(part=part, given=None, reference=None, difference=difference)
    assert difference_text(mark, unit) == text
