"""The files of a case: sittings and checks, and nobody else's."""

import sys

import pytest

from benchtemp.errors import BadInput, DamagedFile
from benchtemp.logbook.folder import Logbook
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.case_folder import (
    case_folder,
    keep_check,
    keep_sitting,
    next_check,
    next_sitting,
    work_in,
)
from benchtemp.teaching.cases.fault import Fault


@pytest.fixture
def case(codes):
    return Case(codes[Fault.NONE][0])


@pytest.fixture
def folder(case, tmp_path):
    return case_folder(Logbook(tmp_path), case)


def test_sittings_and_checks_come_back_in_order(case, folder):
    assert next_sitting(folder) == next_check(folder) == 1
    assert work_in(folder, case) == ((), ())
    for number in (1, 2):
        keep_sitting(folder, number, case.pull(2, sitting=number))
    keep_check(folder, 1, case.boil())
    assert (next_sitting(folder), next_check(folder)) == (3, 2)
    work = work_in(folder, case)
    assert [shot.recording for shot in work.shots] == ["sitting-1.ecsv"] * 2 + ["sitting-2.ecsv"] * 2
    assert work.checks == (case.boil(),)
    assert {path.name for path in folder.iterdir()} == {
        "sitting-1.ecsv",
        "sitting-2.ecsv",
        "probe-check-1.json",
    }


def test_file_names_tell_nothing(folder, case):
    assert folder.name == f"case-{case.code:06d}"


def test_what_is_there_is_not_overwritten(case, folder):
    keep_sitting(folder, 1, case.pull(1))
    with pytest.raises(BadInput, match="already a file"):
        keep_sitting(folder, 1, case.pull(1))
    keep_check(folder, 1, case.boil())
    with pytest.raises(BadInput, match="already a file"):
        keep_check(folder, 1, case.boil())
    with pytest.raises(BadInput, match="enough"):
        keep_check(folder, 101, case.boil())


def test_another_case_s_recording_is_refused(case, folder, codes):
    keep_sitting(folder, 1, Case(codes[Fault.OFFSET][0]).pull(1))
    with pytest.raises(BadInput, match=f"not recorded on case {case.code}"):
        work_in(folder, case)


def test_a_damaged_check_is_one_sentence(case, folder):
    path = keep_check(folder, 1, case.boil())
    path.write_text("{", encoding="utf-8")
    with pytest.raises(DamagedFile, match="cannot be read"):
        work_in(folder, case)


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_links_are_passed_over(case, folder, tmp_path):
    folder.mkdir(parents=True)
    (folder / "sitting-1.ecsv").symlink_to(tmp_path / "elsewhere.ecsv")
    assert work_in(folder, case).shots == ()
