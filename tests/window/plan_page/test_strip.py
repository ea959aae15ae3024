"""The countdown and the words about the last shot."""

from __future__ import annotations

import pytest

from benchtemp.studies.evidence.shot_record import ShotRecord
from benchtemp.studies.plans.plan import PlannedShot, Step
from benchtemp.studies.plans.status import Done
from benchtemp.window.plan_strip import countdown, last_words


@pytest.mark.parametrize(
    ("wait_s", "figure", "words"),
    [
        (155.0, "2:35", "to pump start"),
        (5.4, "0:05", "to pump start"),
        (0.4, "NOW", "start the pump"),
        (-0.4, "NOW", "start the pump"),
        (-12.0, "+0:12", "late"),
        (None, "—", "when you are ready"),
    ],
)
def test_the_countdown(wait_s, figure, words):
    assert countdown(wait_s)[:2] == (figure, words)


def test_during_a_shot_and_at_the_end_nothing_is_counted_down():
    assert countdown(5.0, pulling=True)[1] == "shot under way"
    assert countdown(5.0, finished=True)[1] == "all done"


def test_late_and_put_back_are_said_as_they_were():
    step = Step(number=2, repeat=1, shot=PlannedShot())
    late = Done(step=step, shot=ShotRecord(), late_s=14.0, remarks=("started 14 s late",))
    assert last_words(late) == "Last: shot 2, started 14 s late."
    lost = Done(step=step, shot=ShotRecord(), put_back=True, remarks=("does not count: too short",))
    assert "put back" in last_words(lost)
    assert last_words(Done(step=step, shot=ShotRecord(), late_s=1.0)) == "Last: shot 2, started on time."
    assert last_words(None) == ""
