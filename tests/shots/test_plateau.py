import numpy as np
import pytest

from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.plateau import Findings, find_pulls
from benchtemp.shots.result import Origin, PullKind


def only(found):
    assert len(found.pulls) == 1, found
    return found.pulls[0]


def hump(v):
    return 3.0 * (1 - np.exp(-v / 1.5)) * np.exp(-v / 6.0)


def dip(v):
    return -1.5 * np.exp(-(((v - 15.0) / 1.2) ** 2))


def sag(v):
    return -0.08 * np.maximum(v - 10.0, 0.0)


def creep(v):
    return 1.5 * (1 - np.exp(-v / 12.0))


SHAPES = {
    "flat": {},
    "slow climb": {"slope_k_per_s": 0.07},
    "hump after a long idle": {"extra": hump, "level_degc": 91.5},
    "sag of a small boiler": {"extra": sag},
    "dip in the pressure": {"extra": dip},
    "creep": {"extra": creep},
    "slow probe": {"tau_s": 5.0, "pull_s": 45.0},
    "quick probe": {"tau_s": 0.9},
}


@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 4.0, 10.0, 20.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_is_read_without_marks(one_pull, shape, rate_hz):
    pull = one_pull(rate_hz=rate_hz, **SHAPES[shape])
    result = only(find_pulls(pull.t_s, pull.temp_degc))
    assert result.kind is PullKind.SHOT
    assert result.reasons == ()
    assert result.pump_on_source is Origin.ESTIMATED
    assert result.brew_temp_degc == pytest.approx(pull.mean_degc, abs=0.06)
    assert result.plateau_start_s == pytest.approx(pull.start_s, abs=0.8)
    assert result.plateau_end_s == pytest.approx(pull.pump_off_s, abs=0.5 / rate_hz + 0.4)
    assert result.pump_on_s == pytest.approx(pull.pump_on_s, abs=2.0)


@pytest.mark.parametrize("shape", SHAPES)
def test_marks_are_taken_and_make_it_better(one_pull, shape):
    without, with_marks = [], []
    for seed in range(6):
        pull = one_pull(rate_hz=2.0, noise_k=0.2, seed=seed, **SHAPES[shape])
        free = find_pulls(pull.t_s, pull.temp_degc).pulls
        marked = only(find_pulls(pull.t_s, pull.temp_degc, pull.marks))
        assert (marked.pump_on_s, marked.pump_off_s) == (pull.pump_on_s, pull.pump_off_s)
        assert marked.pump_off_source is Origin.MARKED
        assert marked.plateau_end_s == pull.pump_off_s
        assert marked.plateau_end_uncertainty_s == 0.0
        with_marks.append(abs(marked.brew_temp_degc - pull.mean_degc))
        without.append(abs(free[0].brew_temp_degc - pull.mean_degc) if free else np.inf)
    assert np.mean(with_marks) <= np.mean(without) + 0.002


def test_stated_uncertainty_covers_the_truth(one_pull):
    covered = []
    for seed in range(150):
        pull = one_pull(rate_hz=4.0, noise_k=0.1, tau_s=1.0 + seed % 5, seed=seed, pull_s=34.0)
        result = only(find_pulls(pull.t_s, pull.temp_degc))
        covered.append(abs(result.brew_temp_degc - pull.mean_degc) <= 2 * result.brew_temp_uncertainty_k)
    # 150 tries at 95 % have a standard deviation of 1.8 %.
    assert 0.89 <= np.mean(covered) <= 1.0


def test_figures_of_a_known_plateau(one_pull):
    pull = one_pull(noise_k=0.0, quantum_k=1e-6, slope_k_per_s=0.05, level_degc=92.0, tau_s=1.0)
    result = only(find_pulls(pull.t_s, pull.temp_degc, pull.marks))
    start_s, end_s = result.plateau_start_s, result.plateau_end_s
    assert result.brew_temp_degc == pytest.approx(pull.mean_degc, abs=0.002)
    assert result.drift_k_per_s == pytest.approx(0.05, abs=0.003)
    assert result.highest_degc == pytest.approx(92.0 + 0.05 * 28.0, abs=0.02)
    assert result.time_to_plateau_s == pytest.approx(start_s - 10.0)
    assert result.shot_time_s == pytest.approx(28.0)
    assert result.plateau_s == pytest.approx(end_s - start_s)
    assert result.readings == pytest.approx(10 * result.plateau_s, abs=2)
    assert result.sd_k == pytest.approx(0.05 * result.plateau_s / np.sqrt(12), rel=0.15)


def test_share_of_time_in_the_band(one_pull):
    pull = one_pull(noise_k=0.0, slope_k_per_s=0.1, level_degc=92.0, tau_s=0.8)
    band = (90.0, 92.0 + 0.1 * 18.0)
    result = only(find_pulls(pull.t_s, pull.temp_degc, pull.marks, band_degc=band))
    leaves_band_s = 10.0 + 18.0
    assert result.in_band_share == pytest.approx(
        (leaves_band_s - result.plateau_start_s) / result.plateau_s, abs=0.02
    )


def test_spikes_and_gaps_are_counted_not_smoothed_in(one_pull):
    pull = one_pull()
    calm = only(find_pulls(pull.t_s, pull.temp_degc))
    hurt = pull.temp_degc.copy()
    hurt[[250, 300]] = [480.0, -60.0]
    hurt[320:335] = np.nan
    result = only(find_pulls(pull.t_s, hurt))
    assert result.spikes_excluded == 2
    assert result.readings_missing == 15
    assert result.longest_gap_s == pytest.approx(1.6, abs=1e-6)
    # The end itself may move by a reading.
    assert result.readings == pytest.approx(calm.readings - 17, abs=1)
    assert result.brew_temp_degc == pytest.approx(calm.brew_temp_degc, abs=0.01)


def test_irregular_times_weigh_by_time(one_pull):
    pull = one_pull(slope_k_per_s=0.1, noise_k=0.02)
    late = pull.t_s > 25.0
    keep = ~late | (np.arange(len(pull.t_s)) % 8 == 0)
    result = only(find_pulls(pull.t_s[keep], pull.temp_degc[keep], pull.marks))
    assert result.brew_temp_degc == pytest.approx(pull.mean_degc, abs=0.02)


def test_shots_and_flushes_in_one_recording(one_pull, several_pulls):
    first = one_pull(level_degc=92.0)
    flush = one_pull(pull_s=4.0, tau_s=1.0, level_degc=94.0)
    second = one_pull(level_degc=94.5, seed=3)
    t_s, temp, marks = several_pulls(first, flush, second)
    for given in ((), marks):
        found = find_pulls(t_s, temp, given)
        assert [pull.kind for pull in found.pulls] == [PullKind.SHOT, PullKind.FLUSH, PullKind.SHOT]
        assert found.pulls[0].brew_temp_degc == pytest.approx(first.mean_degc, abs=0.05)
        assert found.pulls[2].brew_temp_degc == pytest.approx(second.mean_degc, abs=0.05)
        assert (
            "at least 8 s are needed" in found.pulls[1].reasons[0] or "climbed" in found.pulls[1].reasons[0]
        )


def test_only_some_shots_are_marked(one_pull, several_pulls):
    t_s, temp, marks = several_pulls(one_pull(), one_pull(seed=1), one_pull(seed=2))
    found = find_pulls(t_s, temp, marks[2:4])
    sources = [pull.pump_on_source for pull in found.pulls]
    assert sources == [Origin.ESTIMATED, Origin.MARKED, Origin.ESTIMATED]


def test_a_mark_taken_back_does_not_count(one_pull):
    pull = one_pull()
    marks = (pull.marks[0], Mark(20.0, MarkKind.PUMP_OFF), Mark(21.0, MarkKind.UNDO), pull.marks[1])
    assert only(find_pulls(pull.t_s, pull.temp_degc, marks)).pump_off_s == pull.pump_off_s


def test_a_forgotten_pump_off_is_estimated(one_pull):
    pull = one_pull()
    result = only(find_pulls(pull.t_s, pull.temp_degc, pull.marks[:1]))
    assert (result.pump_on_source, result.pump_off_source) == (Origin.MARKED, Origin.ESTIMATED)
    assert result.pump_off_s == pytest.approx(pull.pump_off_s, abs=0.3)


def test_a_forgotten_pump_on_is_estimated(one_pull):
    pull = one_pull()
    result = only(find_pulls(pull.t_s, pull.temp_degc, pull.marks[1:]))
    assert (result.pump_on_source, result.pump_off_source) == (Origin.ESTIMATED, Origin.MARKED)
    assert result.brew_temp_degc == pytest.approx(pull.mean_degc, abs=0.05)


def test_a_marked_pull_is_reported_even_where_nothing_happened():
    t_s = np.arange(0.0, 60.0, 0.1)
    marks = (Mark(10.0, MarkKind.PUMP_ON), Mark(35.0, MarkKind.PUMP_OFF))
    result = only(find_pulls(t_s, np.full(600, 25.0), marks))
    assert result.kind is PullKind.SHOT
    assert result.brew_temp_degc is None
    assert result.reasons == ("the trace never climbs onto a plateau",)


def test_a_short_marked_pull_is_a_flush(one_pull):
    pull = one_pull(pull_s=5.0)
    result = only(find_pulls(pull.t_s, pull.temp_degc, pull.marks))
    assert result.kind is PullKind.FLUSH
    assert result.reasons


def test_the_shortest_plateau_can_be_chosen(one_pull):
    pull = one_pull(pull_s=18.0)
    assert only(find_pulls(pull.t_s, pull.temp_degc, plateau_min_s=5.0)).kind is PullKind.SHOT
    strict = only(find_pulls(pull.t_s, pull.temp_degc, plateau_min_s=15.0))
    assert strict.kind is PullKind.FLUSH
    assert "at least 15 s are needed" in strict.reasons[0]


def kinds(one_pull, plateau_min_s=8.0, **more):
    found = []
    for seed in range(12):
        pull = one_pull(noise_k=0.2, rate_hz=1.0, tau_s=1.2, seed=seed, **more)
        found += [
            pull.kind for pull in find_pulls(pull.t_s, pull.temp_degc, plateau_min_s=plateau_min_s).pulls
        ]
    return found


def test_where_an_end_may_as_well_lie_seconds_later_a_shot_is_no_flush(one_pull):
    # The plateau lasts some 6 s as far as is known, and as likely as not some more.
    assert kinds(one_pull, pull_s=12.0, fall_k_per_s=0.1).count(PullKind.SHOT) >= 11


def test_where_a_plateau_is_much_too_short_it_is_a_flush_however_uncertain_its_end(one_pull):
    assert kinds(one_pull, pull_s=11.0, fall_k_per_s=0.2).count(PullKind.FLUSH) >= 9


def test_an_end_known_to_a_second_or_two_decides_between_shot_and_flush(one_pull):
    for seed in range(12):
        pull = one_pull(noise_k=0.15, rate_hz=1.0, pull_s=13.5, tau_s=1.2, fall_k_per_s=0.2, seed=seed)
        result = only(find_pulls(pull.t_s, pull.temp_degc))
        if result.plateau_end_uncertainty_s < 2.5:
            assert (result.kind is PullKind.FLUSH) is (result.plateau_s < 8.0)


def test_settling_later_means_a_later_plateau_at_the_same_temperature(one_pull):
    # Common practice, no source: a vibratory pump builds pressure more slowly than a rotary one, so at equal
    # water temperature its plateau begins later; what came before full pressure does not count.
    rotary = one_pull(tau_s=1.2, pull_s=40.0, noise_k=0.02)
    vibratory = one_pull(tau_s=3.5, pull_s=40.0, noise_k=0.02)
    quick = only(find_pulls(rotary.t_s, rotary.temp_degc, rotary.marks))
    slow = only(find_pulls(vibratory.t_s, vibratory.temp_degc, vibratory.marks))
    assert slow.time_to_plateau_s > quick.time_to_plateau_s + 3.0
    assert slow.brew_temp_degc == pytest.approx(quick.brew_temp_degc, abs=0.12)


# -- what is no pull
# -------------------------------------------------------------------------------------------


def climb(to_degc, tau_s, *, stay_s, out_tau_s, cold_degc=25.0):
    t_s = np.arange(0.0, 20.0 + stay_s + 60.0, 0.1)
    inside = to_degc - (to_degc - cold_degc) * np.exp(-np.maximum(t_s - 20.0, 0.0) / tau_s)
    gone = t_s > 20.0 + stay_s
    fall = cold_degc + (to_degc - cold_degc) * np.exp(-(t_s - 20.0 - stay_s) / out_tau_s)
    temp = np.where(t_s < 20.0, cold_degc, np.where(gone, fall, inside))
    return t_s, temp + 0.05 * np.random.default_rng(0).standard_normal(len(t_s))


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (climb(99.6, 0.8, stay_s=40.0, out_tau_s=3.0), "boiling water"),
        (climb(96.4, 0.8, stay_s=40.0, out_tau_s=3.0), "taken out"),
        (climb(80.0, 12.0, stay_s=60.0, out_tau_s=20.0), "warm-up"),
        (climb(90.0, 3.0, stay_s=200.0, out_tau_s=20.0), "no end within 75 s"),
    ],
    ids=["boiling check", "boiling check in the mountains", "lock-in", "left in the hot group"],
)
def test_idle_events_are_no_pulls(event, words):
    found = find_pulls(*event)
    assert found.pulls == ()
    assert any(words in reason for reason in found.reasons)


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 10.0])
def test_a_hand_on_the_wire_is_no_pull(rate_hz):
    t_s = np.arange(0.0, 300.0, 1.0 / rate_hz)
    rng = np.random.default_rng(3)
    touched = (t_s > 100.0) & (t_s < 130.0)
    temp = 90.0 + 0.05 * rng.standard_normal(len(t_s)) + touched * 4.0 * rng.standard_normal(len(t_s))
    assert find_pulls(t_s, temp).pulls == ()


def test_a_low_climb_counts_where_a_plateau_is_clearly_left(one_pull):
    pull = one_pull(cold_degc=84.0, level_degc=90.5, tau_s=4.0, pull_s=35.0, noise_k=0.05)
    assert only(find_pulls(pull.t_s, pull.temp_degc)).kind is PullKind.SHOT


def warm(one_pull, seed=0, **more):
    """A basket nearly as hot as the water: a climb as low and slow as a thermostat's."""
    pull = one_pull(cold_degc=84.5, level_degc=91.0, tau_s=4.0, pull_s=35.0, seed=seed, **more)
    return find_pulls(pull.t_s, pull.temp_degc)


@pytest.mark.parametrize("noise_k", [0.02, 0.05])
def test_a_low_climb_counts_where_a_slow_fall_begins_plainly(one_pull, noise_k):
    assert only(warm(one_pull, fall_k_per_s=0.12, noise_k=noise_k, tail_s=40.0)).kind is PullKind.SHOT


def test_a_low_climb_does_not_count_where_a_slow_fall_begins_somewhere_in_the_noise(one_pull):
    found = [
        len(warm(one_pull, seed, fall_k_per_s=0.1, noise_k=0.15, tail_s=15.0, rate_hz=1.0).pulls)
        for seed in range(12)
    ]
    assert sum(found) <= 5


@pytest.mark.parametrize("noise_k", [0.02, 0.05])
def test_a_low_climb_does_not_count_where_the_plainest_fall_is_no_faster_than_a_sag(one_pull, noise_k):
    found = warm(one_pull, fall_k_per_s=0.06, noise_k=noise_k, tail_s=40.0)
    assert found.pulls == ()
    assert "nothing clearly ends it" in found.reasons[0]


@pytest.mark.parametrize(("from_degc", "to_degc", "tau_s"), [(83.0, 91.5, 3.5), (84.4, 92.2, 2.6)])
def test_a_low_slow_climb_that_hardly_falls_afterwards_is_no_pull(one_pull, from_degc, to_degc, tau_s):
    pull = one_pull(
        cold_degc=from_degc, level_degc=to_degc, tau_s=tau_s, pull_s=20.0, tail_s=50.0, fall_k_per_s=0.02
    )
    found = find_pulls(pull.t_s, pull.temp_degc)
    assert found.pulls == ()
    assert any("hardly falls afterwards" in reason for reason in found.reasons)


def rattle(t_s, size_k):
    """Two moments of a loose contact, four to six seconds before the climb at 10 s."""
    return size_k * (((t_s > 4.0) & (t_s < 4.7)) | ((t_s > 5.2) & (t_s < 5.9)))


@pytest.mark.parametrize("size_k", [12.0, 18.0])
def test_a_loose_contact_just_before_a_climb_is_no_pull(one_pull, size_k):
    pull = one_pull(cold_degc=60.0)
    found = find_pulls(pull.t_s, pull.temp_degc + rattle(pull.t_s, size_k))
    assert found.pulls == ()
    assert any("loose contact" in reason for reason in found.reasons)


def test_a_portafilter_emptied_just_before_a_climb_is_no_loose_contact(one_pull):
    pull = one_pull(cold_degc=60.0)
    emptied = 18.0 * np.clip((6.0 - pull.t_s) / 1.5, 0.0, 1.0)
    assert only(find_pulls(pull.t_s, pull.temp_degc + emptied)).kind is PullKind.SHOT


@pytest.mark.parametrize(("noise_k", "pulls"), [(0.45, 1), (0.8, 0)])
def test_a_plateau_that_only_scatters_is_no_pull(one_pull, noise_k, pulls):
    for seed in range(4):
        pull = one_pull(noise_k=noise_k, tau_s=1.2, seed=seed)
        found = find_pulls(pull.t_s, pull.temp_degc)
        assert len(found.pulls) == pulls
        assert pulls or "too unsteady" in found.reasons[0]


def test_two_dozen_readings_are_enough_to_be_too_unsteady(one_pull):
    found = 0
    for seed in range(12):
        pull = one_pull(noise_k=0.8, rate_hz=2.0, pull_s=16.0, tau_s=1.2, seed=seed)
        found += len(find_pulls(pull.t_s, pull.temp_degc).pulls)
    assert found <= 6


def test_half_a_dozen_readings_say_too_little_to_be_too_unsteady(one_pull):
    for seed in range(12):
        pull = one_pull(noise_k=0.45, rate_hz=1.0, pull_s=12.0, tau_s=1.2, seed=seed)
        assert len(find_pulls(pull.t_s, pull.temp_degc).pulls) == 1


def test_thermostat_cycling_is_no_pull():
    t_s = np.arange(0.0, 3600.0, 0.25)
    temp = 90.0 + 3.0 * np.sin(2 * np.pi * t_s / 70.0)
    assert find_pulls(t_s, temp).pulls == ()


# -- bad input
# -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("t_s", "temp", "reason"),
    [
        ([], [], "the trace holds no reading"),
        ([0.0], [93.0], "the trace holds 1 readings, too few to tell anything"),
        ([0.0, 0.1, 0.2], [np.nan] * 3, "the trace holds no reading"),
        (np.arange(300.0), np.full(300, 25.0), "no stretch of this trace looks like a pull"),
        (
            np.arange(300.0),
            np.full(300, 93.0),
            "the trace begins hot and shows no climb: a pull under way when it began cannot be read",
        ),
    ],
    ids=["empty", "one sample", "all NaN", "constant", "constant and hot"],
)
def test_a_trace_without_a_pull_says_why(t_s, temp, reason):
    assert find_pulls(np.array(t_s), np.array(temp)) == Findings((), (reason,))


def test_time_running_backwards_leaves_one_reading():
    found = find_pulls(np.arange(100.0)[::-1], np.full(100, 93.0))
    assert found.pulls == ()
    assert found.reasons[0] == "99 readings whose time does not move forward are left out"


def test_repeated_times_count_once(one_pull):
    pull = one_pull()
    twice = find_pulls(np.repeat(pull.t_s, 2), np.repeat(pull.temp_degc, 2))
    assert twice.pulls == find_pulls(pull.t_s, pull.temp_degc).pulls
    assert f"{len(pull.t_s)} readings" in twice.reasons[0]


def test_columns_of_different_length(one_pull):
    pull = one_pull()
    found = find_pulls(pull.t_s, pull.temp_degc[:-50])
    assert len(found.pulls) == 1
    assert "what has no partner is left out" in found.reasons[0]


def test_a_trace_that_stops_in_the_middle_of_a_shot(one_pull):
    pull = one_pull()
    cut = pull.t_s < 32.0
    result = only(find_pulls(pull.t_s[cut], pull.temp_degc[cut]))
    assert result.kind is PullKind.SHOT
    assert result.pump_off_s is None
    assert result.shot_time_s is None
    assert result.reasons == ("the recording ends before the pull does",)
    assert result.brew_temp_degc == pytest.approx(93.0, abs=0.1)


def test_a_trace_that_starts_in_the_middle_of_a_shot(one_pull):
    pull = one_pull()
    late = pull.t_s > 25.0
    assert find_pulls(pull.t_s[late], pull.temp_degc[late]).pulls == ()
    marked = only(find_pulls(pull.t_s[late], pull.temp_degc[late], pull.marks[1:]))
    assert marked.brew_temp_degc is None
    assert marked.reasons == (
        "the recording begins with the pull under way: where its plateau began is not in it",
    )


def test_marks_outside_the_trace(one_pull):
    pull = one_pull()
    found = find_pulls(
        pull.t_s, pull.temp_degc, (Mark(900.0, MarkKind.PUMP_ON), Mark(930.0, MarkKind.PUMP_OFF))
    )
    assert found.pulls[-1].reasons == ("no reading lies within the marked pull",)
