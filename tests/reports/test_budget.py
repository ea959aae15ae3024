from math import sqrt

import msgspec
import pytest

from benchtemp.probes.brew_budget import (
    DRIFT,
    JUNCTION,
    POSITION,
    SLOPE,
    TOLERANCE,
    brew_temp_budget,
    difference_budget,
)
from benchtemp.probes.calibration import COMMONLY_AT_WORST_K
from benchtemp.probes.correction import Correction
from benchtemp.probes.uncertainty import Budget, Contribution
from benchtemp.reports.budget import (
    BAR_WIDTH,
    bar,
    budget_json,
    budget_lines,
    budget_rows,
    cure_lines,
    cures,
    difference_line,
    result_text,
)
from benchtemp.units import TempUnit

CHECKED = Correction(probe="p", checked="2031-03-01T09:00:00+00:00", uncertainty_k=0.1)


def unchecked(mean_degc=93.0, **more):
    return brew_temp_budget(mean_degc, shot_uncertainty_k=0.02, interface="i", **more)


@pytest.mark.parametrize(
    ("share", "drawn"), [(0.0, ""), (1.0, "████"), (0.5, "██"), (0.28, "█▏"), (7.0, "████")]
)
def test_bars_are_as_long_as_their_share(share, drawn):
    assert bar(share, 4) == drawn
    assert bar(share, 4, unicode=False) == "#" * round(4 * min(share, 1.0))


def test_the_table_adds_up_and_begins_with_the_largest():
    budget = unchecked()
    lines = budget_lines(budget)
    assert lines[1].startswith(TOLERANCE)
    assert "█" * BAR_WIDTH in lines[1]
    assert "85 %" in lines[1]
    rows = budget_rows(budget)
    assert sum(row.share for row in rows) == pytest.approx(1.0)
    assert sqrt(sum(row.contribution.share_k**2 for row in rows)) == pytest.approx(budget.uncertainty_k)
    assert f"{budget.uncertainty_k:.3f} °C" in lines[-2]
    assert lines[-1] == "expanded: ± 3.13 °C, coverage factor k = 2.00 (about 95 %)"
    assert any("estimate" in line for line in lines if line.startswith(POSITION))


def test_everything_is_told_in_the_unit_asked_for():
    lines = budget_lines(unchecked(), TempUnit.DEGF)
    assert "± 5.63 °F" in lines[-1]
    assert " 2.598 " in lines[1]
    assert "± 0.98 °F" in cure_lines(unchecked(), TempUnit.DEGF)[1]


def test_without_unicode_bars_are_plain():
    assert all("█" not in line for line in budget_lines(unchecked(), unicode=False))
    assert "#" * BAR_WIDTH in budget_lines(unchecked(), unicode=False)[1]


def test_what_would_make_it_better_names_the_most_helpful_first():
    whole = unchecked(correction=CHECKED, drift_half_width_k=0.5)
    found = cures(whole)
    assert [cure.name for cure in found] == [DRIFT, POSITION, JUNCTION]
    assert [cure.reached_k for cure in found] == sorted(cure.reached_k for cure in found)
    assert found[0].reached_k == pytest.approx(whole.without(DRIFT).expanded_k())
    old = unchecked(correction=CHECKED, drift_half_width_k=2.0)
    assert cures(old)[0].text == "check the probe again"


def test_a_check_of_an_unchecked_probe_is_promised_no_more_than_it_gives():
    best, *others = cures(unchecked())
    assert best.name == TOLERANCE
    assert "boiling water" in best.text
    # What such a check really leaves.
    checked = unchecked(correction=CHECKED, drift_half_width_k=COMMONLY_AT_WORST_K)
    assert best.reached_k == pytest.approx(checked.expanded_k(), rel=0.02)
    assert JUNCTION not in [cure.name for cure in others]
    # Who knows the interface better keeps what they entered.
    own = unchecked(junction_half_width_k=2.0)
    assert cures(own)[0].reached_k > 2.0


def test_a_probe_without_a_history_is_not_told_to_repeat_yesterdays_check():
    fresh = unchecked(correction=CHECKED, drift_half_width_k=COMMONLY_AT_WORST_K, position_half_width_k=0.0)
    told = {cure.name: cure.text for cure in cures(fresh)}
    assert "three checks" in told[DRIFT]


def test_the_cure_for_a_slope_depends_on_how_many_baths_there_were():
    single = Correction(
        probe="p", checked="2031", uncertainty_k=0.02, slope_uncertainty_k_per_k=0.05, reference_degc=99.5
    )
    several = msgspec.structs.replace(single, slope_k_per_k=0.001, offset_slope_correlation=0.5)
    kinds = []
    for correction in (single, several):
        budget = unchecked(correction=correction)
        kinds.append({cure.name: cure.text for cure in cures(budget)}[SLOPE])
        notes = {line.name: line.note for line in budget.contributions}
        assert ("several baths" in notes[SLOPE]) == (correction is several)
    assert "ice" in kinds[0]
    assert "further apart" in kinds[1]


def test_nothing_is_promised_where_nothing_helps():
    alone = Budget(quantity="q", value=93.0, contributions=(Contribution(name="other", uncertainty=0.1),))
    assert cure_lines(alone) == []
    nothing = Budget(quantity="q", value=93.0, contributions=(Contribution(name="other", uncertainty=0.0),))
    assert "0.000" in budget_lines(nothing)[1]


def test_a_difference_is_told_both_ways():
    first, second = unchecked(probe="p"), unchecked(93.4, probe="p")
    line = difference_line("shot 2 minus shot 1", difference_budget(first, second))
    assert line == (
        "shot 2 minus shot 1: +0.40 ± 0.06 °C; what both share cancels (± 4.42 °C if nothing were shared)"
    )
    other = unchecked(92.6, probe="q")
    apart = brew_temp_budget(92.6, shot_uncertainty_k=0.02, probe="q", interface="j")
    assert "nothing is shared" in difference_line("a", difference_budget(first, apart))
    assert "−0.40" in difference_line("a", difference_budget(first, other))


def test_results_are_told_with_their_uncertainty():
    assert result_text(93.204, 0.351, TempUnit.DEGC) == "93.20 ± 0.35 °C"
    assert result_text(93.204, 0.351, TempUnit.DEGF) == "199.77 ± 0.63 °F"
    assert result_text(-0.5, 0.1, TempUnit.DEGF, difference=True) == "−0.90 ± 0.18 °F"


def test_plain_values_hold_the_whole_budget():
    plain = budget_json(unchecked(correction=CHECKED))
    assert plain["value"] == 93.0
    assert plain["expanded_uncertainty_k"] == pytest.approx(2.0 * plain["uncertainty_k"], rel=1e-4)
    assert sum(line["part"] for line in plain["contributions"]) == pytest.approx(1.0)
    assert all(
        line["expanded_without_k"] <= plain["expanded_uncertainty_k"] for line in plain["contributions"]
    )
