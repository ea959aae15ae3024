import re
from dataclasses import replace

import msgspec
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.index.editing import set_aside
from benchtemp.logbook.probe_file import add_check
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.reports.answering import Asked, Wanted, answers
from benchtemp.reports.content import Bullets, Drawing, Facts, Grid, Paragraph
from benchtemp.reports.gathering import read_tested
from benchtemp.reports.html import html_bytes
from benchtemp.reports.report import make_report
from benchtemp.shots.budget import budget_of
from benchtemp.studies.evidence.shot_set import Selection
from benchtemp.studies.steadiness import steadiness
from benchtemp.units import TempUnit


def section(report, heading):
    (found,) = (one for one in report.sections if one.heading.startswith(heading))
    return found


def facts(report, heading):
    rows = {}
    for block in section(report, heading).blocks:
        if isinstance(block, Facts):
            rows |= dict(block.rows)
    return rows


def said(report, heading):
    found = []
    for block in section(report, heading).blocks:
        if isinstance(block, Bullets):
            found += block.items
        elif isinstance(block, Paragraph):
            found.append(block.text)
    return "\n".join(found)


def grid(report, title):
    blocks = [block for one in report.sections for block in one.blocks if isinstance(block, Grid)]
    (found,) = (block for block in blocks if block.title == title)
    return found


def column(table, heading):
    place = table.headings.index(heading)
    return [row.cells[place] for row in table.rows]


def test_the_parts_stand_in_their_order(series):
    study = steadiness(series.shot_set)
    report = make_report(series, studies=[study], made="today")
    assert report.title == "Brew temperature of Ferrowick Two"
    assert report.byline[0] == "6 shots on Ferrowick Two, pulled 2031-03-04 15:00 to 15:15"
    assert [one.heading for one in report.sections] == [
        "What was tested",
        "Steadiness of Ferrowick Two",
        "The shots",
        "How it was measured",
        "How sure the figures are",
        "Cautions",
        "How to reproduce it",
    ]
    (answer,) = report.answers
    assert answer.sentence == study.sentence(TempUnit.DEGC)
    assert answer.limits == (*study.limits(TempUnit.DEGC), "the probe never checked before these shots")
    assert len(answer.concerns) == len(study.concerns) > 0
    drawn = [block for block in report.sections[1].blocks if isinstance(block, Drawing)]
    assert [block.chart for block in drawn] == list(study.charts())


def test_one_shot_says_what_it_brewed_at_and_how_far_that_is_sure(single):
    (answer,) = make_report(single).answers
    assert answer.sentence == (
        "Ferrowick Two brewed at 92.6 ± 3.1 °C in this shot, inside the target band of 90.5 to 96.0 °C, "
        "though its uncertainty reaches across the edge."
    )


@pytest.mark.parametrize(
    ("brew_degc", "half_k", "said"),
    [
        (93.0, 0.5, "93.0 ± 0.5 °C in this shot, inside the target band of 90.5 to 96.0 °C."),
        (95.8, 0.5, "95.8 ± 0.5 °C in this shot, inside the target band of 90.5 to 96.0 °C, though"),
        (96.2, 0.5, "96.2 ± 0.5 °C in this shot, above the target band of 90.5 to 96.0 °C, though"),
        (98.0, 0.5, "98.0 ± 0.5 °C in this shot, above the target band of 90.5 to 96.0 °C."),
        (90.0, 0.1, "90.0 ± 0.1 °C in this shot, below the target band of 90.5 to 96.0 °C."),
        (93.0, None, "93.0 °C in this shot, inside the target band of 90.5 to 96.0 °C."),
    ],
)
def test_the_band_is_judged_with_the_uncertainty(single, brew_degc, half_k, said):
    (one,) = single.shots
    result = msgspec.structs.replace(one.shot.result, brew_temp_degc=brew_degc)
    record = msgspec.structs.replace(one.record, brew_temp_degc=brew_degc, expanded_uncertainty_k=half_k)
    changed = replace(one, shot=msgspec.structs.replace(one.shot, result=result), record=record)
    (answer,) = make_report(replace(single, shots=(changed,))).answers
    assert said in answer.sentence


def test_several_machines_get_an_answer_each(recording):
    first = recording(93.0, 92.0, name="a.ecsv")
    tags = {"machine": "Ostrel Long Arm"}
    second = recording(97.0, 98.0, name="b.ecsv", meta={"machine": "Ostrel Long Arm", "tags": tags})
    report = make_report(read_tested([first, second]))
    assert [answer.title for answer in report.answers] == ["Ferrowick Two", "Ostrel Long Arm"]
    assert "92.5 °C on average in 2 shots, the coolest at 92.0 °C" in report.answers[0].sentence
    assert (
        "none of them inside the target band, though the probe's ± 3.1 °C reaches"
        in report.answers[1].sentence
    )
    assert "all temperatures may be off together by ± 3.1 °C (probe, place)" in report.answers[1].limits
    assert "the probe never checked before these shots" in report.answers[1].limits
    assert column(grid(report, "All shots"), "machine") == ["Ferrowick Two", "Ostrel Long Arm"] * 2


def test_no_shot_is_left_out_of_the_table_and_the_reason_is_told(logbook):
    book = logbook(93.0, 91.0, 92.0)
    set_aside(sorted(book.shots())[1], "basket not dried")
    report = make_report(read_tested([book.root]))
    table = grid(report, "All shots")
    assert [row.muted for row in table.rows] == [False, True, False]
    counts = column(table, "counts")
    assert (counts[0], counts[2]) == ("yes", "yes")
    assert counts[1] == "no: set aside: basket not dried"
    assert [float(cell) for cell in column(table, "brew temperature °C")] == pytest.approx(
        [93.0, 91.0, 92.0], abs=0.1
    )
    assert report.answers[0].limits[0] == "2 of 3 shots count"
    assert "1 shot is shown but left out of the verdict" in said(report, "Cautions")


def test_a_shot_that_does_not_count_gives_no_verdict(logbook):
    book = logbook(93.0)
    set_aside(next(book.shots()), "spilled")
    (answer,) = make_report(read_tested([book.root])).answers
    assert answer.sentence == (
        "The shot does not count (set aside: spilled), so nothing can be said of what Ferrowick Two brews at."
    )


def test_shots_of_a_machine_nobody_named_are_not_forgotten(recording):
    paths = [
        recording(93.0, name="a.ecsv"),
        recording(91.0, name="b.ecsv", meta={"machine": "", "tags": {}}),
    ]
    answers_made = make_report(read_tested(paths)).answers
    assert [answer.title for answer in answers_made] == ["Ferrowick Two", "The machine"]


def test_shots_that_do_not_count_are_used_where_that_is_wanted(recording):
    path = recording(93.0, 92.0, meta={"recipe": {"plateau_min_s": 40.0}})
    assert [one.used for one in read_tested([path]).shots] == [False, False]
    wanted = Selection(even_not_counting=True)
    assert [one.used for one in read_tested([path], selection=wanted).shots] == [True, True]


def test_files_are_named_with_their_digests(logbook, digest_of):
    book = logbook(93.0, 91.0)
    paths = [*sorted(book.shots()), next(book.recordings())]
    table = grid(make_report(read_tested([book.root])), "Files")
    assert column(table, "file") == [path.name for path in paths]
    assert column(table, "SHA-256") == [digest_of(path) for path in paths]
    assert column(table, "shots") == ["1", "1", "—"]


def test_the_budget_adds_up_to_the_uncertainty_in_the_table(single):
    report = make_report(single)
    table = grid(report, "2031-03-04 13:02 shot 1, the probe")
    shares = [float(cell) for cell in column(table, "share °C")]
    budget = budget_of(single.shots[0].shot)
    assert sum(share**2 for share in shares) ** 0.5 == pytest.approx(budget.uncertainty_k, abs=0.002)
    assert f"92.59 ± {budget.expanded_k():.2f} °C" in table.note
    assert column(grid(report, "Its figures"), "± °C") == [f"{budget.expanded_k():.2f}"]
    assert sum(float(cell.removesuffix(" %")) for cell in column(table, "of all")) == pytest.approx(
        100, abs=2
    )


def test_everything_is_shown_in_fahrenheit_where_it_is_wanted(single):
    report = make_report(single, unit=TempUnit.DEGF)
    assert "198.7 ± 5.6 °F" in report.answers[0].sentence
    assert column(grid(report, "Its figures"), "brew temperature °F") == ["198.65"]
    assert "± 4.5 °F" in repr(grid(report, "2031-03-04 13:02 shot 1, the probe"))
    assert "°C" not in repr(report)


@pytest.fixture
def checked(logbook):
    correction = {
        "probe": "K-07",
        "checked": "2031-02-27T16:40:00+00:00",
        "offset_k": -0.4,
        "uncertainty_k": 0.1,
    }
    channel = {"name": "T1", "probe": "K-07", "correction": correction}
    book = logbook(93.0, 92.0, meta={"channels": [channel]})
    add_check(book, "K-07", boiled("2031-02-27T16:40:00+00:00", 0.4))
    return book


def boiled(checked, error_k):
    point = CheckPoint(reported_degc=100.0 + error_k, reference_degc=100.0, reported_uncertainty_k=0.1)
    return make_check([point], probe="K-07", checked=checked, operator="Osk")


def test_the_probe_and_its_last_check_are_told(checked):
    report = make_report(read_tested([checked.root]))
    told = facts(report, "How it was measured")["Probe K-07"]
    assert "last checked 2031-02-27 16:40 in boiling water by Osk, passed (limit 1.0 °C)" in told
    assert "corrected by −0.40 °C at the brew temperature, standard uncertainty 0.10 °C" in told
    assert "never checked" not in said(report, "Cautions")


def test_an_unchecked_and_an_old_check_are_cautions(single, checked):
    assert "never checked" in said(make_report(single), "Cautions")
    assert "never checked" in facts(make_report(single), "How it was measured")["Probe"]
    assert "days old" not in said(make_report(read_tested([checked.root])), "Cautions")
    strict = read_tested([checked.root], check_days=3.0)
    assert "The last check of K-07 was 5 days old (more than 3 counts as old)" in said(
        make_report(strict), "Cautions"
    )


def test_a_check_after_the_shots_is_told_and_widens_what_it_must(checked):
    before = read_tested([checked.root])
    add_check(checked, "K-07", boiled("2031-03-10T12:00:00+00:00", 1.0))
    report = make_report(read_tested([checked.root]))
    told = facts(report, "How it was measured")["Probe K-07"]
    assert "5 days before these shots, and 6 days after them (moved by −0.60 °C, ± 0.28 °C)" in told
    assert "differ by −0.60 °C, more than they are uncertain by" in said(report, "Cautions")
    assert "± 0.60 °C between the checks before and after" in repr(report)
    (was_k,) = {one.record.expanded_uncertainty_k for one in before.shots[:1]}
    widths = column(grid(report, "All shots"), "± °C")
    assert float(widths[0]) > was_k + 0.3


def test_what_is_dangerous_or_not_for_drinking_is_always_told(series):
    told = said(make_report(series), "Cautions")
    for word in ("boiling water", "steam", "hot metal", "Mains", "not for drinking", "glues"):
        assert word in told


def test_a_virtual_machine_is_called_one_at_the_top_and_below(series, recording):
    report = make_report(series)
    assert "virtual machine" in said(report, "What was tested")
    assert "virtual machine" in said(report, "Cautions")
    assert "virtual machine" not in repr(make_report(read_tested([recording(93.0)])))


def test_who_when_and_under_which_conditions(series):
    told = facts(make_report(series, tester="Ilva"), "What was tested")
    assert told["Tested by"] == "Ilva"
    assert told["Pulled"] == "2031-03-04 15:00 to 15:15 (UTC)"
    assert told["Time between pump starts"] == "3.0 min"
    assert told["Dose"] == "18.0 g"
    assert told["Coffee"] == "Ninth Lantern"
    recipe = facts(make_report(series), "How it was measured")["Recipe"]
    assert recipe.startswith("brew ratio 1:2 within ±10 % in 22 to 28 s; target band 90.5 to 96.0 °C")


def test_program_and_command_are_named(series):
    told = facts(make_report(series, commands=["benchtemp report x.ecsv"]), "How to reproduce it")
    assert told["Program"].startswith("benchtemp ")
    assert "numpy" in told["Program"]
    assert told["Command"] == "benchtemp report x.ecsv"


def test_the_title_and_the_moment_are_as_given(series):
    report = make_report(series, title="For a customer", made="one day")
    assert (report.title, report.made) == ("For a customer", "one day")
    assert make_report(series, made="x") == make_report(series, made="x")


def test_studies_are_asked_for_by_name(series):
    found = answers([Asked.STEADINESS, Asked.STEADINESS], series)
    assert [study.title for study in found] == ["Steadiness of Ferrowick Two"]


def test_a_comparison_lays_traces_of_recordings_over_each_other(recording):
    tags = {"machine": "Ostrel Long Arm"}
    paths = [
        recording(93.0, 92.9, 93.1, name="a.ecsv"),
        recording(95.0, 95.1, 94.9, name="b.ecsv", meta={"machine": "Ostrel Long Arm", "tags": tags}),
    ]
    (study,) = answers([Asked.COMPARISON], read_tested(paths), Wanted(by="machine"))
    assert "Traces laid over each other" in [chart.title for chart in study.charts()]


def test_a_cycle_without_a_channel_says_what_is_missing(series):
    with pytest.raises(BadInput, match="channel T2"):
        answers([Asked.CYCLE], series)


def test_for_whom_and_what_else_is_to_be_said(series):
    report = make_report(
        series,
        tester="Ilva",
        customer="Quillmarsh",
        notes="Group gasket new.\n\nWater 120 ppm.",
        made="2031-03-05",
    )
    assert report.byline[1] == "tested by Ilva, for Quillmarsh"
    assert facts(report, "What was tested")["Customer"] == "Quillmarsh"
    words = said(report, "What was tested")
    assert "Group gasket new." in words
    assert "Water 120 ppm." in words


def test_a_report_has_a_number_that_depends_on_its_files_and_its_moment(series, single):
    one = make_report(series, made="2031-03-05 09:00 UTC")
    assert one.number == make_report(series, made="2031-03-05 09:00 UTC", title="another").number
    assert one.number.startswith("2031-03-05-")
    others = {
        make_report(series, made="2031-03-05 09:01 UTC").number,
        make_report(single, made=one.made).number,
    }
    assert one.number not in others
    assert f"Report {one.number}, made 2031-03-05 09:00 UTC" in one.byline


def test_the_moment_tells_its_difference_to_utc(series):
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d UTC([+−]\d\d:\d\d)?", make_report(series).made)


def test_no_moment_is_written_as_files_have_it(checked):
    text = html_bytes(make_report(read_tested([checked.root]), made="2031-03-05")).decode()
    shown = re.sub(r"<(style|code|svg).*?</\1>", "", text, flags=re.DOTALL)
    assert not re.findall(r"\d\dT\d\d:\d\d", shown)


def test_for_what_the_figures_hold_is_told(series):
    assert "another of the same make may differ" in said(make_report(series), "Cautions")
