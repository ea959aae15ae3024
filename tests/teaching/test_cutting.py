"""Shots cut out of recordings: what the trainee gets and what not."""

from dataclasses import replace

import numpy as np
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.ecsv import read_stream
from benchtemp.places import demo_streams_dir
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.readings.replay import ReplaySource
from benchtemp.shots.shot import analyse_stream
from benchtemp.teaching.cutting import AFTER_S, BEFORE_S, item_from, pulls_in, without_marks


@pytest.fixture(scope="module")
def series():
    return read_stream(demo_streams_dir() / "series_three_minutes.ecsv")


def test_nothing_in_what_is_replayed_tells_the_answer(series):
    item = item_from(series, pulls_in(series)[0])
    assert {mark.kind for mark in series.marks} > {MarkKind.PUMP_ON, MarkKind.SET, MarkKind.TARE}
    assert item.stream.marks == ()
    assert set(item.stream.meta) == {"kind", "format_version", "channels", "basket_channel", "recipe"}
    assert "truth" in series.meta
    assert [mark.kind for mark in item.pump_marks] == [MarkKind.PUMP_ON, MarkKind.PUMP_OFF]


def test_the_replay_source_plays_it(series):
    item = item_from(series, pulls_in(series)[1])
    source = ReplaySource(item.stream, item.title)
    assert source.start_s == 0.0
    assert source.end_s == item.length_s


def test_every_shot_keeps_its_figures_and_stays_off_its_neighbours(series):
    whole = analyse_stream(series).shots
    for shot in whole:
        item = item_from(series, shot)
        reference = item.reference
        assert reference.brew_temp_degc == pytest.approx(shot.result.brew_temp_degc, abs=0.01)
        assert reference.counts == shot.counts
        assert (item.dose_g, item.yield_g) == (shot.dose_g, shot.yield_g)
        assert BEFORE_S <= reference.pump_on_s <= BEFORE_S + 6.5
        assert item.length_s == pytest.approx(reference.pump_off_s + AFTER_S, abs=0.3)
        assert len(pulls_in(item.stream)) == 1


def test_nobody_can_count_instead_of_look(series):
    leads_s = [item_from(series, pull).reference.pump_on_s for pull in pulls_in(series)]
    assert max(leads_s) - min(leads_s) > 1.0


def test_leads_differ_among_files_of_shots_that_all_begin_alike(series):
    leads_s = []
    for pull in pulls_in(series):
        on_s = pull.result.pump_on_s
        first, last = np.searchsorted(series.t_s, (on_s - 15.0, on_s + 50.0))
        alike = replace(
            series,
            t_s=series.t_s[first:last],
            temps_degc=series.temps_degc[first:last],
            weight_g=series.weight_g[first:last],
            marks=tuple(mark for mark in series.marks if on_s - 15.0 <= mark.t_s <= on_s + 50.0),
        )
        leads_s.append(item_from(alike, pulls_in(alike)[0]).reference.pump_on_s)
    assert len({round(lead_s, 1) for lead_s in leads_s}) >= 5
    assert all(BEFORE_S - 0.3 <= lead_s <= 15.3 for lead_s in leads_s)


def test_ends_do_not_reach_into_another_pull(series):
    pulls = pulls_in(series)
    item = item_from(series, pulls[2], before_s=1000.0, after_s=1000.0)
    before = pulls[2].result.pump_on_s - pulls[1].result.pump_off_s
    assert item.reference.pump_on_s <= before
    assert len(pulls_in(item.stream)) == 1


def test_gaps_stay_as_they_happened():
    stream = read_stream(demo_streams_dir() / "unplugged_and_spikes.ecsv")
    item = item_from(stream, pulls_in(stream)[1])
    assert MarkKind.GAP in [mark.kind for mark in item.stream.marks]
    assert {mark.kind for mark in item.stream.marks} == {MarkKind.GAP}


def test_a_correction_stays_with_the_readings(steady):
    meta = {
        **steady.stream.meta,
        "channels": [{"name": "T1", "correction": {"probe": "p", "offset_k": 0.5}, "note": "secret"}],
    }
    changed = type(steady.stream)(**{**_fields(steady.stream), "meta": meta})
    bare = without_marks(changed)
    assert bare.meta["channels"] == [{"name": "T1", "correction": {"probe": "p", "offset_k": 0.5}}]


def _fields(stream):
    return {name: getattr(stream, name) for name in stream.__dataclass_fields__}


def test_marks_left_in_a_strangers_stream_are_taken_out(steady):
    marks = (Mark(1.0, MarkKind.NOTE, "here"), Mark(2.0, MarkKind.PUMP_ON), Mark(3.0, MarkKind.GAP, "out"))
    changed = type(steady.stream)(**{**_fields(steady.stream), "marks": marks, "mark_rows": (5, 9, 12)})
    bare = without_marks(changed)
    assert bare.marks == marks[2:]
    assert bare.mark_rows == (12,)
    np.testing.assert_array_equal(bare.temps_degc, steady.stream.temps_degc)


def test_a_teacher_s_notes_on_the_recording_come_along(series):
    pull = pulls_in(series)[1]
    on_s = pull.result.pump_on_s
    notes = (
        Mark(0.0, MarkKind.NOTE, "far before"),
        Mark(on_s + 1.0, MarkKind.NOTE, "Here the water comes."),
        Mark(on_s + 2.0, MarkKind.PUMP_ON),
        Mark(1e6, MarkKind.NOTE, "far behind"),
    )
    item = item_from(series, pull, notes=notes)
    assert [(note.t_s, note.text) for note in item.notes] == [
        (pytest.approx(item.reference.pump_on_s + 1.0), "Here the water comes.")
    ]


@pytest.mark.parametrize("seconds", [-1.0, float("nan"), 1e9])
def test_ends_that_cannot_be_are_refused(series, seconds):
    with pytest.raises(BadInput, match="cannot be kept"):
        item_from(series, pulls_in(series)[0], before_s=seconds)
