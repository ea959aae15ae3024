from collections import deque
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.readings.reading import Mark, MarkKind, Reading
from benchtemp.shots.result import Origin, PullKind
from benchtemp.shots.stages import STANDBY_STATE, Stage, initial_state, step
from benchtemp.shots.transitions import NEXT, Cause, IllegalTransitionError, next_stage

ON, OFF, UNDO = MarkKind.PUMP_ON, MarkKind.PUMP_OFF, MarkKind.UNDO


def run(items, state=None):
    """Feed items one by one; return the last state and all changes."""
    state = initial_state() if state is None else state
    changes = []
    for item in items:
        state, new = step(state, item)
        changes += new
    return state, changes


def with_marks(readings, *marks):
    """Put marks among readings, each before the first reading that is not earlier."""
    items = list(readings)
    for mark in marks:
        at = next((i for i, item in enumerate(items) if item.t_s >= mark.t_s), len(items))
        items.insert(at, mark)
    return items


def stages(changes):
    return [change.stage for change in changes]


# -- the table
# -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("stage", "cause"), list(product(Stage, Cause)), ids=str)
def test_every_pair_is_in_the_table_or_refused(stage, cause):
    if (stage, cause) in NEXT:
        assert next_stage(stage, cause) is NEXT[stage, cause]
    else:
        with pytest.raises(IllegalTransitionError, match=f"{cause} while {stage}"):
            next_stage(stage, cause)


def test_standby_can_be_reached_from_everywhere():
    for stage in Stage:
        seen, queue = {stage}, deque([stage])
        while queue:
            at = queue.popleft()
            for (here, _), there in NEXT.items():
                if here is at and there not in seen:
                    seen.add(there)
                    queue.append(there)
        assert Stage.STANDBY in seen


def test_only_an_ended_pull_can_be_resumed():
    resuming = [Cause.OFF_TAKEN_BACK, Cause.OFF_TAKEN_BACK_EARLY, Cause.CAME_BACK]
    assert {stage for stage, cause in NEXT if cause in resuming} == {Stage.ENDED}


# -- a shot nobody marks
# ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("noise_k", [0.02, 0.2])
@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 4.0, 10.0, 20.0])
def test_a_shot_from_the_trace_alone(one_pull, rate_hz, noise_k):
    pull = one_pull(rate_hz=rate_hz, noise_k=noise_k, tail_s=40.0, fall_k_per_s=1.5)
    state, changes = run(pull.readings)
    assert stages(changes) == [Stage.RISING, Stage.PLATEAU, Stage.ENDED, Stage.STANDBY]
    rising, plateau, ended, _ = changes
    assert rising.since_s == pytest.approx(pull.pump_on_s, abs=1.5)
    assert plateau.since_s == pytest.approx(pull.start_s, abs=1.5)
    assert ended.since_s == pytest.approx(pull.pump_off_s, abs=1.2)
    assert 0.0 < ended.t_s - pull.pump_off_s <= 4.0
    assert ended.kind is PullKind.SHOT
    assert state.stage is Stage.STANDBY
    assert state.rise_s is None


def test_the_state_tells_what_is_known(one_pull):
    pull = one_pull(slope_k_per_s=0.05)
    state, _ = run([item for item in pull.readings if item.t_s < 36.0])
    assert state.stage is Stage.PLATEAU
    assert state.under_way
    assert (state.pump_marked, state.pump_on_source) == (False, Origin.ESTIMATED)
    assert state.pump_on_s == state.rise_s == state.began_s
    inside = (pull.t_s >= state.plateau_start_s) & (pull.t_s < 36.0)
    assert state.plateau_mean_degc == pytest.approx(pull.temp_degc[inside].mean(), abs=0.03)
    assert state.plateau_s == pytest.approx(36.0 - state.plateau_start_s, abs=0.8)
    assert state.pump_off_s is None


def test_spikes_and_silent_readings_change_nothing(one_pull):
    pull = one_pull(tail_s=40.0)
    temp = pull.temp_degc.copy()
    temp[[60, 150, 250, 251, 300]] = [600.0, -300.0, 470.0, -80.0, 20.0]
    temp[330:340] = np.nan
    hurt = [Reading(t, (y,)) for t, y in zip(pull.t_s.tolist(), temp.tolist(), strict=True)]
    assert stages(run(hurt)[1]) == stages(run(pull.readings)[1])


def test_several_shots_in_a_row(one_pull, several_pulls):
    t_s, temp, _ = several_pulls(one_pull(), one_pull(seed=1), one_pull(seed=2))
    _, changes = run(Reading(t, (y,)) for t, y in zip(t_s.tolist(), temp.tolist(), strict=True))
    assert [change.kind for change in changes if change.stage is Stage.ENDED] == [PullKind.SHOT] * 3


def test_a_new_climb_arms_at_once(one_pull, several_pulls):
    t_s, temp, _ = several_pulls(one_pull(tail_s=6.0), one_pull(lead_s=2.0), pause_s=0.1)
    _, changes = run(Reading(t, (y,)) for t, y in zip(t_s.tolist(), temp.tolist(), strict=True))
    assert Stage.STANDBY not in stages(changes)[:4]
    assert stages(changes)[:4] == [Stage.RISING, Stage.PLATEAU, Stage.ENDED, Stage.RISING]


def test_a_short_pull_is_a_flush(one_pull):
    pull = one_pull(pull_s=5.0, tau_s=1.0, tail_s=60.0, fall_k_per_s=1.5)
    _, changes = run(pull.readings)
    assert [change.kind for change in changes if change.stage is Stage.ENDED] == [PullKind.FLUSH]


def test_a_pause_in_the_climb_is_no_end(one_pull):
    def pause(v):
        return np.where(v < 14.0, -6.0, -6.0 * np.exp(-(v - 14.0) / 1.5))

    pull = one_pull(extra=pause, pull_s=42.0, tau_s=1.2, tail_s=40.0)
    _, changes = run(pull.readings)
    ended = [change for change in changes if change.stage is Stage.ENDED]
    assert [change.kind for change in ended] == [PullKind.SHOT]
    assert stages(changes)[:4] == [Stage.RISING, Stage.PLATEAU, Stage.RISING, Stage.PLATEAU]


def test_a_hump_after_a_long_idle_is_no_end(one_pull):
    def hump(v):
        return 4.0 * (1 - np.exp(-v / 1.0)) * np.exp(-v / 5.0)

    pull = one_pull(extra=hump, level_degc=91.0, tail_s=40.0)
    _, changes = run(pull.readings)
    ended = [change for change in changes if change.stage is Stage.ENDED]
    assert [change.kind for change in ended] == [PullKind.SHOT]
    assert ended[0].t_s > pull.pump_off_s


def test_a_dip_closes_nothing_for_good(one_pull):
    for depth in (0.8, 1.5, 2.5):
        for width in (0.8, 1.5, 2.5):

            def dip(v, depth=depth, width=width):
                return -depth * np.exp(-(((v - 16.0) / width) ** 2))

            pull = one_pull(extra=dip, tail_s=40.0, pull_s=34.0)
            _, changes = run(pull.readings)
            ended = [change for change in changes if change.stage is Stage.ENDED]
            resumed = [change for change in changes if change.resumed]
            assert len(ended) - len(resumed) == 1
            assert ended[-1].t_s > pull.pump_off_s
            assert ended[-1].kind is PullKind.SHOT


def dips_and_ends(one_pull, dips):
    """Run shots that dip; return how long after the pump each was closed for good, and which too early."""
    delays_s, early = [], []
    for number, (depth_k, width_s, middle_s, rate_hz, fall_k_per_s) in enumerate(dips):

        def dip(v, depth_k=depth_k, width_s=width_s, middle_s=middle_s):
            return -depth_k * np.exp(-(((v - middle_s) / width_s) ** 2))

        pull = one_pull(
            extra=dip, rate_hz=rate_hz, pull_s=29.0, tail_s=15.0, fall_k_per_s=fall_k_per_s, seed=number
        )
        _, changes = run(pull.readings)
        ended = [change for change in changes if change.stage is Stage.ENDED]
        early.append(ended[0].t_s < pull.pump_off_s)
        delays_s.append(ended[-1].t_s - pull.pump_off_s)
    return np.array(delays_s), np.array(early)


def test_ends_are_found_in_time_and_dips_mostly_waited_for(one_pull):
    dips = list(product((0.7, 1.6), (0.9, 1.6, 2.3), (14.0, 17.0), (2.0, 10.0), (0.5, 1.2)))
    delays_s, early = dips_and_ends(one_pull, dips)
    assert early.mean() <= 0.12
    assert np.quantile(delays_s, 0.95) <= 3.2
    assert np.median(delays_s) <= 2.9


# -- marks
# -----------------------------------------------------------------------------------------------------


def test_pump_on_arms_before_anything_climbs(one_pull):
    pull = one_pull()
    early = Mark(pull.pump_on_s - 2.0, ON)
    _, changes = run(with_marks([item for item in pull.readings if item.t_s < pull.pump_on_s], early))
    assert stages(changes) == [Stage.RISING]
    assert changes[0].since_s == early.t_s


def test_the_second_press_ends_at_once(one_pull):
    pull = one_pull(tail_s=40.0)
    _, changes = run(with_marks(pull.readings, *pull.marks))
    ended = next(change for change in changes if change.stage is Stage.ENDED)
    assert (ended.t_s, ended.since_s, ended.kind) == (pull.pump_off_s, pull.pump_off_s, PullKind.SHOT)


def test_a_late_press_moves_pump_on_to_where_it_was_pressed(one_pull):
    pull = one_pull()
    state, changes = run(with_marks(pull.readings[:260], Mark(13.0, ON)))
    assert stages(changes) == [Stage.RISING, Stage.PLATEAU]
    assert (state.pump_on_s, state.pump_marked) == (13.0, True)
    assert state.rise_s == pytest.approx(pull.pump_on_s, abs=1.0)


def test_pump_off_of_an_unmarked_shot_ends_it(one_pull):
    pull = one_pull()
    state, changes = run(with_marks(pull.readings[:385], pull.marks[1]))
    assert stages(changes)[-1] is Stage.ENDED
    assert (state.pump_off_s, state.pump_off_source) == (pull.pump_off_s, Origin.MARKED)
    assert changes[-1].kind is PullKind.SHOT


def test_a_stray_pump_off_is_nothing():
    state, changes = run([Mark(1.0, OFF)])
    assert (state, changes) == (STANDBY_STATE, [])


def test_pump_on_while_the_pump_runs_ends_one_pull_and_begins_the_next(one_pull):
    pull = one_pull()
    _, changes = run(with_marks(pull.readings[:380], Mark(10.0, ON), Mark(37.0, ON)))
    assert stages(changes) == [Stage.RISING, Stage.PLATEAU, Stage.ENDED, Stage.RISING]
    assert changes[-1].since_s == 37.0


def test_a_marked_shot_waits_for_the_second_press(one_pull):
    pull = one_pull(tail_s=40.0)
    patient = with_marks(pull.readings, pull.marks[0], Mark(pull.pump_off_s + 6.0, OFF))
    _, changes = run(patient)
    ended = [change for change in changes if change.stage is Stage.ENDED]
    assert [change.t_s for change in ended] == [pull.pump_off_s + 6.0]


def test_a_forgotten_second_press_is_made_up_for(one_pull):
    pull = one_pull(tail_s=60.0)
    _, changes = run(with_marks(pull.readings, pull.marks[0]))
    ended = next(change for change in changes if change.stage is Stage.ENDED)
    assert ended.since_s == pytest.approx(pull.pump_off_s, abs=1.0)
    assert ended.t_s > pull.pump_off_s + 7.0


def test_undo_of_pump_off_lets_the_shot_go_on(one_pull):
    pull = one_pull(tail_s=40.0)
    wrong = (pull.marks[0], Mark(25.0, OFF), Mark(27.0, UNDO), pull.marks[1])
    _, changes = run(with_marks(pull.readings, *wrong))
    assert stages(changes)[:5] == [Stage.RISING, Stage.PLATEAU, Stage.ENDED, Stage.PLATEAU, Stage.ENDED]
    assert changes[3].resumed
    assert changes[4].since_s == pull.pump_off_s


def test_the_running_mean_survives_an_undo(one_pull):
    pull = one_pull(slope_k_per_s=0.08)
    plain, _ = run(with_marks(pull.readings[:370], pull.marks[0]))
    undone, _ = run(with_marks(pull.readings[:370], pull.marks[0], Mark(25.0, OFF), Mark(30.0, UNDO)))
    assert undone.plateau_mean_degc == pytest.approx(plain.plateau_mean_degc, abs=0.05)


def test_undo_of_pump_off_before_the_plateau(one_pull):
    pull = one_pull()
    _, changes = run(with_marks(pull.readings[:300], pull.marks[0], Mark(12.0, OFF), Mark(13.0, UNDO)))
    assert stages(changes)[:3] == [Stage.RISING, Stage.ENDED, Stage.RISING]


def test_undo_of_pump_on_leaves_what_the_trace_says(one_pull):
    pull = one_pull()
    state, changes = run(with_marks(pull.readings[:300], Mark(12.0, ON), Mark(20.0, UNDO)))
    assert state.stage is Stage.PLATEAU
    assert not state.pump_marked
    assert state.pump_on_s == state.rise_s
    quiet = [Reading(t, (25.0,)) for t in np.arange(0.0, 10.0, 0.1).tolist()]
    state, changes = run(with_marks(quiet, Mark(2.0, ON), Mark(5.0, UNDO)))
    assert stages(changes) == [Stage.RISING, Stage.STANDBY]


def test_undo_with_nothing_to_take_back(one_pull):
    assert run([Mark(1.0, UNDO)])[1] == []
    pull = one_pull()
    assert stages(run(with_marks(pull.readings[:300], Mark(20.0, UNDO)))[1]) == [Stage.RISING, Stage.PLATEAU]


def test_a_pump_left_running_is_closed_with_a_reason():
    items = [Mark(1.0, ON), *(Reading(t, (25.0,)) for t in np.arange(1.1, 140.0, 0.5).tolist())]
    _, changes = run(items)
    ended = changes[1]
    assert (ended.stage, ended.reason, ended.kind) == (Stage.ENDED, "no end within 120 s", PullKind.SHOT)
    _, changes = run(items, initial_state(longest_s=60.0))
    assert changes[1].t_s == pytest.approx(61.1, abs=0.6)


def test_a_silent_probe_does_not_keep_a_pull_open():
    items = [Mark(1.0, ON), *(Reading(t, (float("nan"),)) for t in np.arange(1.1, 140.0, 0.5).tolist())]
    assert Stage.ENDED in stages(run(items)[1])


# -- what is no shot
# -------------------------------------------------------------------------------------------


def idle(*parts, rate_hz=4.0):
    """String (seconds, target, time constant) together into an idle trace."""
    rng = np.random.default_rng(5)
    level, temp = 25.0, []
    for length_s, target, tau_s in parts:
        t = np.arange(0.0, length_s, 1.0 / rate_hz)
        temp.append(target + (level - target) * np.exp(-t / tau_s))
        level = float(temp[-1][-1])
    y = np.concatenate(temp)
    y = y + 0.05 * rng.standard_normal(len(y))
    return [Reading(i / rate_hz, (v,)) for i, v in enumerate(y.tolist())]


@pytest.mark.parametrize(
    "parts",
    [
        [(10, 25, 1), (60, 80, 10), (40, 30, 15)],
        [(10, 25, 1), (300, 92, 6), (40, 30, 15)],
        [(10, 25, 1), (40, 99.7, 0.7), (30, 30, 3)],
        [(10, 25, 1), (200, 88, 60), (120, 128, 30), (200, 85, 60)],
    ],
    ids=["locking in", "left in the hot group", "boiling check", "steam"],
)
def test_idle_events_are_not_to_be_kept(parts):
    _, changes = run(idle(*parts))
    assert all(change.kind is None for change in changes)


def test_noise_in_a_bath_of_boiling_water_is_no_end():
    bath = "32.75 78.75 92 95.25 96.25 96.75 96.5 97 96.5 96.75 96.5 96.5 96.75 96.75 96.5 96.75 96.75 96.75"
    bath += " 96.75 96.75 96.75 96.75 96.75 96.75 96.75 96.75 96.5 96.5 96.5 96.5 96.5 96.5 96.75 96.5 97 97"
    bath += " 96.75 96.75 96.25 96.5"
    taken_out = "81.5 68.25 58.5 51.5 46.25 42.25 39.5"
    rest = np.linspace(38.0, 33.0, 20)
    temp = [*rest.tolist(), *(float(word) for word in f"{bath} {taken_out}".split())]
    out_s = float(len(rest) + len(bath.split()))
    _, changes = run(Reading(float(t_s), (y,)) for t_s, y in enumerate(temp))
    ended = [change for change in changes if change.stage is Stage.ENDED]
    assert len(ended) == 1
    assert ended[0].t_s > out_s


def test_a_shot_as_hot_and_quick_as_a_bath_is_closed_all_the_same(one_pull):
    pull = one_pull(level_degc=96.3, tau_s=0.9, tail_s=40.0, fall_k_per_s=1.2)
    _, changes = run(pull.readings)
    ended = [change for change in changes if change.stage is Stage.ENDED]
    assert [change.kind for change in ended] == [PullKind.SHOT]
    assert 0.0 < ended[0].t_s - pull.pump_off_s <= 6.0


def test_a_channel_that_is_not_there():
    state, changes = step(STANDBY_STATE, Reading(1.0, (93.0,)), basket=3)
    assert (state, changes) == (STANDBY_STATE, ())


def test_the_basket_may_be_any_channel(one_pull):
    pull = one_pull(tail_s=40.0)
    state, changes = initial_state(), []
    for reading in pull.readings:
        state, new = step(state, replace(reading, temps_degc=(20.0, reading.temps_degc[0])), basket=1)
        changes += new
    assert stages(changes) == [Stage.RISING, Stage.PLATEAU, Stage.ENDED, Stage.STANDBY]


# -- whatever comes
# --------------------------------------------------------------------------------------------

items = st.lists(
    st.one_of(
        st.builds(
            Reading,
            st.floats(0.0, 500.0),
            st.tuples(st.one_of(st.floats(15.0, 140.0), st.floats(allow_nan=True, allow_infinity=True))),
        ),
        st.builds(Mark, st.floats(0.0, 500.0), st.sampled_from(list(MarkKind))),
    ),
    max_size=120,
)


@settings(max_examples=300, deadline=None)
@given(items)
def test_nothing_raises_and_the_past_stays_the_past(given_items):
    state = initial_state()
    for item in given_items:
        before = state
        again, _ = step(before, item)
        state, changes = step(before, item)
        assert again == state
        for change in changes:
            assert change.t_s == item.t_s
        if changes:
            assert changes[-1].stage is state.stage
        if state.stage is Stage.PLATEAU:
            assert state.plateau_start_s is not None
            assert state.plateau_mean_degc is not None


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_same_input_gives_the_same_stages(seed):
    rng = np.random.default_rng(seed)
    temp = 85.0 + np.cumsum(rng.standard_normal(200))
    readings = [Reading(0.25 * i, (y,)) for i, y in enumerate(temp.tolist())]
    assert run(readings) == run(readings)
