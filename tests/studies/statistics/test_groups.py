import math

import numpy as np
import pytest
from scipy import stats

from benchtemp.studies.statistics import studentised_range
from benchtemp.studies.statistics.groups import (
    detectable_difference,
    equal_spread_p,
    every_pair,
    one_way,
    shots_needed,
    welch_anova_p,
    welch_difference,
)

GROUPS = [
    np.array([93.1, 92.8, 93.4, 93.0, 92.9, 93.3]),
    np.array([92.2, 92.9, 91.8, 92.5, 92.7]),
    np.array([93.6, 93.9, 93.2, 94.4, 93.5, 93.8, 93.1]),
]


def test_welch_is_scipys():
    expected = stats.ttest_ind(GROUPS[0], GROUPS[1], equal_var=False)
    found = welch_difference(GROUPS[0], GROUPS[1])
    interval = expected.confidence_interval(0.95)
    assert found.p == pytest.approx(expected.pvalue, rel=1e-10)
    assert found.dof == pytest.approx(expected.df, rel=1e-10)
    assert (found.interval.low, found.interval.high) == pytest.approx(
        (interval.low, interval.high), rel=1e-10
    )


def test_one_shot_in_a_group_bounds_nothing():
    found = welch_difference(GROUPS[0], np.array([92.0]))
    assert found.difference == pytest.approx(GROUPS[0].mean() - 92.0)
    assert not found.interval.bounded


def test_analysis_of_variance_is_scipys():
    expected = stats.f_oneway(*GROUPS)
    table = one_way(GROUPS)
    assert table.f == pytest.approx(expected.statistic, rel=1e-10)
    assert table.p == pytest.approx(expected.pvalue, rel=1e-10)


def test_analysis_of_variance_needs_more_values_than_groups():
    with pytest.raises(ValueError, match="two groups"):
        one_way([np.array([1.0]), np.array([2.0])])


def test_welch_anova_of_two_groups_is_welchs_test():
    expected = stats.ttest_ind(GROUPS[0], GROUPS[1], equal_var=False).pvalue
    assert welch_anova_p(GROUPS[:2]) == pytest.approx(expected, rel=1e-9)


def test_equal_spread_is_scipys_median_form():
    expected = stats.levene(*GROUPS, center="median").pvalue
    assert equal_spread_p(GROUPS) == pytest.approx(expected, rel=1e-10)


def test_all_pairs_by_the_studentised_range():
    found = every_pair(GROUPS)
    assert [(pair.first, pair.second) for pair in found] == [(0, 1), (0, 2), (1, 2)]
    for pair in found:
        factor = stats.studentized_range.ppf(0.95, 3, pair.dof) / math.sqrt(2)
        assert pair.interval.half_width == pytest.approx(factor * pair.uncertainty, rel=1e-5)
        seen = abs(pair.difference) / pair.uncertainty * math.sqrt(2)
        assert pair.p == pytest.approx(stats.studentized_range.sf(seen, 3, pair.dof), abs=1e-5)


def test_two_groups_need_no_widening():
    assert every_pair(GROUPS[:2])[0] == welch_difference(GROUPS[0], GROUPS[1])


@pytest.mark.parametrize(("groups", "dof"), [(2, 3.5), (3, 10.0), (4, 17.3), (6, 60.0)])
def test_studentised_range_is_scipys(groups, dof):
    for q in (0.8, 2.5, 4.0, 7.0):
        assert studentised_range.beyond(q, groups, dof) == pytest.approx(
            float(stats.studentized_range.sf(q, groups, dof)), abs=1e-5
        )


def test_studentised_range_of_two_is_students():
    assert studentised_range.quantile(0.95, 2, 12) == pytest.approx(
        math.sqrt(2) * stats.t.ppf(0.975, 12), rel=1e-6
    )


def test_detectable_difference_has_the_power_it_says():
    found = detectable_difference(0.1, 18, power=0.8)
    critical = stats.t.ppf(0.975, 18)
    assert stats.nct.sf(critical, 18, found / 0.1) == pytest.approx(0.8, abs=1e-6)
    assert detectable_difference(math.inf, 5) == math.inf


def test_shots_needed_is_the_fewest_that_suffice():
    count = shots_needed(0.3, 0.3, 0.25)
    for shots, enough in ((count, True), (count - 1, False)):
        uncertainty = 0.3 * math.sqrt(2 / shots)
        assert (detectable_difference(uncertainty, 2 * shots - 2) <= 0.25) is enough


def test_hopeless_differences_say_so():
    assert shots_needed(1.0, 1.0, 0.001) is None
    assert shots_needed(1.0, 1.0, 0.0) is None
    assert shots_needed(0.0, 0.0, 0.1) == 2
