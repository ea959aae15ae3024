from math import nan

import numpy as np
import pytest

from benchtemp.readings.reading import TARED_BY_SCALE, Mark, MarkKind, Stream
from benchtemp.shots.entries import ShotEntries
from benchtemp.shots.recipe import Recipe, RecipeVerdict
from benchtemp.shots.result import Origin, PullKind, Result
from benchtemp.shots.shot import analyse_stream, header_entries, make_shot, scale_yield_g


def result(**changes):
    fields = {
        "kind": PullKind.SHOT,
        "rise_s": 22.0,
        "pump_on_s": 20.0,
        "pump_on_source": Origin.MARKED,
        "pump_off_s": 45.0,
        "pump_off_source": Origin.MARKED,
        "plateau_start_s": 28.0,
        "plateau_end_s": 45.0,
        "brew_temp_degc": 93.0,
    }
    return Result(**{**fields, **changes})


def shot(entries=None, **changes):
    return make_shot(result(**changes), entries or ShotEntries(recipe=Recipe()), number=1)


def test_a_settled_shot_without_entries_counts():
    assert shot().counts
    assert shot().verdict is RecipeVerdict.NOT_GIVEN


def test_a_short_plateau_does_not_count_and_says_so():
    short = shot(plateau_start_s=38.5)
    assert not short.counts
    assert short.reasons == ("plateau of 6.5 s, at least 8 s are needed",)


def test_a_shot_outside_its_recipe_does_not_count():
    outside = shot(ShotEntries(recipe=Recipe(), dose_g=18.0, yield_g=36.0), pump_off_s=39.4)
    assert outside.verdict is RecipeVerdict.OUTSIDE
    assert outside.reasons == ("ran 19.4 s, window 22–28 s",)
    assert not outside.counts


def test_a_flush_never_counts():
    flush = shot(kind=PullKind.FLUSH)
    assert flush.is_flush
    assert not flush.counts
    assert flush.reasons


def scale_trace(*, knock=False, tare_at_s=None):
    t_s = np.arange(0.0, 60.0, 0.1)
    weight_g = 210.0 + 36.0 * np.clip((t_s - 26.0) / 20.0, 0.0, 1.0)
    if tare_at_s is not None:
        weight_g[t_s < tare_at_s] = 4.0
    weight_g[::2] = nan
    if knock:
        weight_g[401] = 900.0
    return t_s, weight_g


@pytest.mark.parametrize("knock", [False, True])
def test_the_yield_is_what_was_added_to_the_cup(knock):
    t_s, weight_g = scale_trace(knock=knock)
    # Pump off at 44 s: what drips until 46 s belongs to the yield.
    assert scale_yield_g(t_s, weight_g, (), 20.0, 44.0) == pytest.approx(36.0, abs=0.4)


def test_a_cup_put_under_after_pump_on_is_tared():
    t_s, weight_g = scale_trace(tare_at_s=22.0)
    tare = Mark(23.0, MarkKind.TARE)
    assert scale_yield_g(t_s, weight_g, (tare,), 20.0, 44.0) == pytest.approx(36.0, abs=0.4)


def test_no_weight_no_yield():
    t_s = np.arange(0.0, 60.0, 0.1)
    assert scale_yield_g(t_s, np.full(len(t_s), nan), (), 20.0, 44.0) is None
    assert scale_yield_g(t_s, np.full(len(t_s), 5.0), (), 20.0, 44.0) is None
    assert scale_yield_g(t_s, np.full(len(t_s), 5.0), (), 20.0, None) is None


@pytest.mark.parametrize("recipe", [{"dose_g": -1}, {"dose_g": "much"}, {"brew_ratio": None}, [], "x"])
def test_a_header_that_cannot_be_meant_costs_the_recipe_not_the_file(recipe):
    entries, complaints = header_entries({"recipe": recipe, "tags": {"coffee": 3, "none": None}})
    assert entries.recipe == Recipe()
    assert entries.tags == {"coffee": "3"}
    assert bool(complaints) == isinstance(recipe, dict)


def test_the_basket_channel_named_in_the_header_is_read():
    t_s = np.arange(0.0, 80.0, 0.1)
    brewing = (t_s > 22) & (t_s < 46)
    basket_degc = np.full(len(t_s), 62.0)
    basket_degc[brewing] = 92.0 - 30.0 * np.exp(-(t_s[brewing] - 22) / 1.5)
    basket_degc[t_s >= 46] = 62.0 + 30.0 * np.exp(-(t_s[t_s >= 46] - 46) / 50.0)
    temps = np.column_stack([np.full(len(t_s), 21.0), basket_degc])
    stream = Stream(channels=("T1", "T2"), t_s=t_s, temps_degc=temps, meta={"basket_channel": "T2"})
    (found,) = analyse_stream(stream).shots
    assert found.result.brew_temp_degc == pytest.approx(92.0, abs=0.05)
    assert analyse_stream(Stream(channels=("T1", "T2"), t_s=t_s, temps_degc=temps)).shots == ()


def test_a_scale_that_tares_itself_after_pump_on_costs_no_yield():
    t_s, weight_g = scale_trace()
    weight_g[t_s >= 22.4] -= 210.0
    tare = Mark(22.0, MarkKind.TARE, TARED_BY_SCALE)
    assert scale_yield_g(t_s, weight_g, (tare,), 20.0, 44.0) == pytest.approx(36.0, abs=0.4)
