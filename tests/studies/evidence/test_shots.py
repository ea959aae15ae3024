import msgspec
import pytest

from benchtemp.errors import BadInput
from benchtemp.probes.correction import Correction
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.recipe import Recipe
from benchtemp.shots.shot import Shot
from benchtemp.studies.evidence.shot_record import Known, record_of
from benchtemp.studies.evidence.shot_set import Selection, chosen


@pytest.fixture
def shot(brewed):
    tags = {
        "setpoint": "95 °C",
        "idle time": "20 min",
        "flush": "3 s",
        "operator": "Wren",
        "machine": "Ferrowick Two",
    }
    checked = Correction(probe="K-07", checked="2031-02-27", uncertainty_k=0.1)
    return Shot(number=3, result=brewed, recipe=Recipe(), tags=tags, correction=checked)


MARKS = [Mark(10.0, MarkKind.PUMP_ON), Mark(35.0, MarkKind.PUMP_OFF), Mark(640.0, MarkKind.PUMP_ON)]


def test_what_was_typed_is_used_where_nothing_was_measured(shot):
    record = record_of(shot)
    assert record.setpoint_degc == 95.0
    assert (record.idle_min.value, record.idle_min.known) == (20.0, Known.TYPED)
    assert (record.flush_s.value, record.flush_s.known) == (3.0, Known.TYPED)
    assert record.operator == "Wren"
    assert record.counts


def test_what_was_measured_goes_first(shot):
    record = record_of(shot, marks=MARKS)
    assert record.idle_min.value == pytest.approx(605 / 60)
    assert record.idle_min.known is Known.MEASURED
    assert record.interval_min.value == pytest.approx(10.5)


def test_a_typed_flush_that_nobody_marked_is_believed(shot):
    record = record_of(shot, marks=MARKS)
    assert (record.flush_s.value, record.flush_s.known) == (3.0, Known.TYPED)


def test_uncertainty_tells_what_is_shared(shot):
    record = record_of(shot)
    assert record.checked == "2031-02-27"
    assert any("K-07" in name for name in record.shared_k)
    assert record.expanded_uncertainty_k > 2 * 0.1
    never = record_of(msgspec.structs.replace(shot, correction=Correction(probe="K-11")))
    assert never.checked == ""
    assert never.expanded_uncertainty_k > 2.0


def test_labels_for_telling_shots_apart(shot):
    record = record_of(shot, pulled="2031-03-04T09:30:00+00:00")
    assert record.label("setpoint") == "95 °C"
    assert record.label("date") == "2031-03-04"
    assert record.label("Flush") == "3 s"
    assert record.label("coffee") == ""


def test_shots_that_do_not_count_are_left_out_with_their_reason(make_record):
    shots = [
        make_record(0, 93.0),
        make_record(1, 92.0, counts=False, reasons=("ran 14.0 s, window 22–28 s",)),
        make_record(2, None, counts=False, reasons=("the trace never settles on a plateau",)),
        make_record(3, 93.1, set_aside="cup fell", reasons=("set aside: cup fell",)),
    ]
    found = chosen(shots)
    assert [shot.number for shot in found.used] == [1]
    assert [left.reasons[0] for left in found.left_out] == [shot.reasons[0] for shot in shots[1:]]
    every = chosen(shots, Selection(even_not_counting=True))
    assert [shot.number for shot in every.used] == [1, 2]


def test_selecting(make_record):
    shots = [
        make_record(0, 93.0, tags={"coffee": "Ninth Lantern", "plan": "Steady"}),
        make_record(1, 93.0, machine="Pindlebay One"),
        make_record(700, 93.0),
    ]

    def numbers(**selection):
        return [shot.number for shot in chosen(shots, Selection(**selection)).used]

    assert numbers() == [1, 2, 701]
    assert numbers(machines=("pindlebay one",)) == [2]
    assert numbers(tags={"Coffee": "ninth lantern"}) == [1]
    assert numbers(plan="steady") == [1]
    assert numbers(since="2031-03-04") == [701]
    assert numbers(until="2031-03-03") == [1, 2]
    with pytest.raises(BadInput, match="is no day"):
        Selection(since="tuesday")


def test_shots_that_lack_the_point_of_a_study_are_beside_it(make_record):
    shots = chosen(
        [make_record(0, 93.0, setpoint_degc=95.0), make_record(1, 93.0), make_record(2, 93.0, counts=False)]
    )
    found = shots.keeping(lambda shot: shot.setpoint_degc is not None, "its setpoint is not known")
    assert [left.beside for left in found.left_out] == [True, True]
    assert len(found) == 1
