import pytest

from benchtemp.errors import BadInput
from benchtemp.shots.recipe import Recipe, RecipeVerdict


def test_common_practice_example_is_within():
    # Common practice, no published source: 52 g out of a 26 g dose within 22 to 28 s.
    assert Recipe().judge(26.0, 52.0, 25.0) == (RecipeVerdict.WITHIN, ())


@pytest.mark.parametrize(("yield_g", "time_s"), [(32.4, 22.0), (39.6, 28.0), (36.0, 22.0), (36.0, 28.0)])
def test_limits_themselves_are_within(yield_g, time_s):
    assert Recipe().judge(18.0, yield_g, time_s)[0] is RecipeVerdict.WITHIN


def test_says_what_was_outside():
    verdict, reasons = Recipe().judge(18.0, 50.0, 19.4)
    assert verdict is RecipeVerdict.OUTSIDE
    assert reasons == ("brew ratio 1:2.78, window 1:1.80–1:2.20", "ran 19.4 s, window 22–28 s")


@pytest.mark.parametrize("given", [(None, 36.0, 25.0), (18.0, None, 25.0), (18.0, 36.0, None)])
def test_nothing_is_judged_unless_all_is_known(given):
    assert Recipe().judge(*given) == (RecipeVerdict.NOT_GIVEN, ())


@pytest.mark.parametrize(
    "fields",
    [
        {"dose_g": -1.0},
        {"dose_g": 0.0},
        {"brew_ratio": 0.0},
        {"brew_ratio_tolerance": 1.0},
        {"time_low_s": 28.0, "time_high_s": 22.0},
        {"band_low_degc": 96.0, "band_high_degc": 90.5},
        {"plateau_min_s": 0.0},
        {"dose_g": float("nan")},
    ],
)
def test_refuses_what_cannot_be(fields):
    with pytest.raises(BadInput):
        Recipe(**fields)


def test_target_yield():
    assert Recipe(dose_g=18.0).target_yield_g == 36.0
    assert Recipe().target_yield_g is None
