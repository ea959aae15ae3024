from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.readings.lines import LONGEST_LINE_BYTES, LineDecoder, TimedLine

contents = st.binary(min_size=1, max_size=30).filter(lambda raw: b"\r" not in raw and b"\n" not in raw)
ends = st.sampled_from([b"\n", b"\r", b"\r\n"])


def cut(wire: bytes, cuts: list[int]) -> list[bytes]:
    places = sorted({0, len(wire), *(place for place in cuts if place <= len(wire))})
    return [wire[a:b] for a, b in pairwise(places)]


@given(st.lists(st.tuples(contents, ends), max_size=20), st.lists(st.integers(0, 600), max_size=12))
def test_framing_does_not_depend_on_chunking(lines, cuts):
    wire = b"".join(content + end for content, end in lines)
    decoder = LineDecoder(drop_first=False)
    found = [line.raw for chunk in cut(wire, cuts) for line in decoder.feed(chunk, 0.0, 0.0)]
    assert found == [content for content, _ in lines]


@given(st.binary(max_size=400), st.lists(st.integers(0, 400), max_size=10))
def test_any_bytes_give_the_same_lines_however_they_are_cut(wire, cuts):
    whole, parts = LineDecoder(), LineDecoder()
    expected = [line.raw for line in whole.feed(wire, 1.0, 0.0)]
    assert [line.raw for chunk in cut(wire, cuts) for line in parts.feed(chunk, 1.0, 0.0)] == expected
    assert whole.dropped_bytes == parts.dropped_bytes


@given(
    st.lists(
        st.tuples(st.binary(max_size=60), st.floats(0, 3), st.floats(0, 1)),
        max_size=30,
    ),
    st.sampled_from([0.0, 0.001]),
)
def test_times_never_go_back_and_stay_within_what_is_possible(chunks, character_s):
    decoder = LineDecoder(character_s)
    now_s = drained_s = 0.0
    last_s = 0.0
    for raw, pause_s, share in chunks:
        now_s += pause_s
        for line in decoder.feed(raw + b"\n", now_s, drained_s):
            assert last_s <= line.t_s <= now_s + 1e-9
            last_s = line.t_s
        drained_s += (now_s - drained_s) * share


def test_the_first_part_of_a_line_is_dropped():
    decoder = LineDecoder()
    assert decoder.feed(b"3.2", 1.0) == []
    assert [line.raw for line in decoder.feed(b"5\n93.30\n93", 1.1)] == [b"93.30"]
    assert decoder.dropped_bytes == 4


def test_an_answer_is_whole_from_its_first_byte():
    assert [line.raw for line in LineDecoder(drop_first=False).feed(b"93.25\n", 1.0)] == [b"93.25"]


def test_joining_at_the_end_of_a_line_loses_only_what_is_not_whole():
    decoder = LineDecoder()
    assert [line.raw for line in decoder.feed(b"\n93.25\r\n", 1.0)] == [b"93.25"]


@pytest.mark.parametrize("cuts", [[], [1], [100, 4000], [LONGEST_LINE_BYTES, LONGEST_LINE_BYTES + 1]])
def test_a_line_that_never_ends_is_dropped_whole(cuts):
    decoder = LineDecoder(drop_first=False)
    wire = b"x" * (LONGEST_LINE_BYTES + 1) + b"tail\n93.25\n" + b"y" * LONGEST_LINE_BYTES + b"\n"
    found = [line.raw for chunk in cut(wire, cuts) for line in decoder.feed(chunk, 1.0)]
    assert found == [b"93.25", b"y" * LONGEST_LINE_BYTES]
    assert decoder.dropped_bytes == LONGEST_LINE_BYTES + 1 + 4


def test_a_line_is_stamped_when_its_first_byte_arrives():
    decoder = LineDecoder(character_s=0.001, drop_first=False)
    assert decoder.feed(b"9", 5.000, 4.9) == []
    assert decoder.feed(b"3.25\n", 5.006, 5.000) == [TimedLine(b"93.25", 5.0)]


def test_a_line_in_the_middle_of_a_chunk_is_stamped_by_the_bytes_after_it():
    decoder = LineDecoder(character_s=0.001, drop_first=False)
    decoder.feed(b"1", 0.9, 0.8)
    first, second = decoder.feed(b"1.1\n22.2\n33", 1.010, 0.9)
    assert (first.raw, first.t_s) == (b"11.1", 0.9)
    assert (second.raw, second.t_s) == (b"22.2", pytest.approx(1.010 - 0.006))
    assert not second.time_estimated


def test_a_line_is_never_stamped_before_its_bytes_can_have_come():
    decoder = LineDecoder(character_s=0.01, drop_first=False)
    (line,) = decoder.feed(b"93.25\n", 2.0, 1.99)
    assert line.t_s == 1.99


def steady(decoder: LineDecoder, lines: int, period_s: float) -> float:
    """Feed lines as they come from an interface that is read at once."""
    for number in range(lines):
        decoder.feed(b"9", number * period_s, number * period_s - 0.01)
        decoder.feed(b"3.2\n", number * period_s + 0.004, number * period_s)
    return (lines - 1) * period_s + 0.004


def test_a_backlog_is_spread_at_the_rhythm_of_the_interface_and_says_so():
    decoder = LineDecoder(character_s=0.001, drop_first=False)
    last_s = steady(decoder, 10, 0.1)
    lines = decoder.feed(b"".join(b"%d\n" % (10 + n) for n in range(8)), 1.75, last_s)
    times = [line.t_s for line in lines]
    assert all(line.time_estimated for line in lines)
    assert [b - a for a, b in pairwise(times)] == pytest.approx([0.1] * 7)
    assert times[-1] == pytest.approx(1.75 - 0.002)
    assert decoder.stall is not None
    assert decoder.stall.lines == 8
    assert decoder.stall.spread_s == pytest.approx(0.7)
    assert decoder.stall.late_s == pytest.approx(1.75 - last_s)
    (after,) = decoder.feed(b"9.5\n", 1.85, 1.84)
    assert not after.time_estimated
    assert decoder.stall is None


def test_a_backlog_never_reaches_back_before_the_last_line():
    decoder = LineDecoder(drop_first=False)
    last_s = steady(decoder, 10, 0.1)
    lines = decoder.feed(b"5\n" * 40, 1.9, last_s)
    assert lines[0].t_s > last_s
    assert lines[-1].t_s == 1.9
    steps = [b.t_s - a.t_s for a, b in pairwise(lines)]
    assert max(steps) - min(steps) < 1e-9
    assert 0 < steps[0] < 0.1


def test_a_backlog_before_any_rhythm_is_known_fills_the_time_it_had():
    decoder = LineDecoder(drop_first=False)
    lines = decoder.feed(b"5\n" * 4, 2.0, 0.0)
    assert [line.t_s for line in lines] == pytest.approx([0.5, 1.0, 1.5, 2.0])
    assert all(line.time_estimated for line in lines)


def test_a_lone_line_after_a_stall_is_flagged_too():
    decoder = LineDecoder(drop_first=False)
    (line,) = decoder.feed(b"5\n", 2.0, 0.5)
    assert line.time_estimated
    assert decoder.stall is not None


def test_the_part_that_came_before_a_stall_keeps_its_time():
    decoder = LineDecoder(character_s=0.001, drop_first=False)
    steady(decoder, 10, 0.1)
    decoder.feed(b"93", 1.0, 0.99)
    first, *waited = decoder.feed(b".2\n94.1\n94.2\n", 2.0, 1.0)
    assert (first.t_s, first.time_estimated) == (pytest.approx(0.999), False)
    assert all(line.time_estimated for line in waited)


def test_two_lines_of_one_packet_are_no_stall():
    decoder = LineDecoder(character_s=0.0001, drop_first=False)
    steady(decoder, 10, 0.01)
    lines = decoder.feed(b"1.1\n2.2\n", 0.2, 0.184)
    assert not any(line.time_estimated for line in lines)
    assert decoder.stall is None
    assert lines[1].t_s - lines[0].t_s == pytest.approx(0.008, abs=0.003)


def test_restarting_forgets_the_unfinished_line_but_not_the_rhythm():
    decoder = LineDecoder()
    steady(decoder, 10, 0.1)
    decoder.feed(b"half a li", 1.0)
    decoder.restart()
    assert [line.raw for line in decoder.feed(b"ne\nwhole\n", 2.0, 1.99)] == [b"whole"]
    assert decoder.rhythm_s == pytest.approx(0.1)
