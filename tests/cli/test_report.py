import re
import shutil
import sys

import pytest
from pypdf import PdfReader

from benchtemp.cli.report import STUDIES
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.places import demo_streams_dir
from benchtemp.reports.answering import Asked

SERIES = demo_streams_dir() / "series_three_minutes.ecsv"


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path, monkeypatch):
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


def text_of(path):
    return re.sub(r"<[^>]+>", " ", path.read_text(encoding="utf-8"))


def test_every_study_can_be_asked_for():
    assert tuple(str(name) for name in Asked) == STUDIES


def test_a_report_is_written_where_it_is_wanted(command, tmp_path):
    out = tmp_path / "out.html"
    code, told, errors = command("report", SERIES, "--study", "steadiness", "--out", out, "--tester", "Ilva")
    assert (code, told, errors) == (0, f"{out}\n", "")
    text = text_of(out)
    assert "from shot to shot scatters by" in text
    assert "tested by Ilva" in text
    assert "benchtemp report series_three_minutes.ecsv --study steadiness --tester Ilva" in text
    assert str(SERIES.parent) not in text


def test_a_pdf_says_the_same(command, tmp_path):
    out = tmp_path / "out.pdf"
    code, _, errors = command(
        "report", SERIES, "--out", out, "--title", "For you", "--unit", "F", "--paper", "letter"
    )
    assert (code, errors) == (0, "")
    reader = PdfReader(out)
    text = " ".join(page.extract_text() for page in reader.pages)
    assert reader.metadata.title == "For you"
    assert "°F on average in 6 shots" in " ".join(text.split())
    assert float(reader.pages[0].mediabox.width) == pytest.approx(612)


def test_without_a_name_it_is_named_after_machine_and_day(command, in_a_folder_of_its_own):
    names = [command("report", SERIES)[1].strip() for _ in range(2)]
    assert names == ["report-Ferrowick-Two-2031-03-04.html", "report-Ferrowick-Two-2031-03-04-2.html"]
    assert {path.name for path in in_a_folder_of_its_own.iterdir()} == set(names)


@pytest.mark.parametrize("machine", ["../../x", "/etc/passwd", "\0"])
def test_a_machine_by_any_name_cannot_leave_the_folder(command, in_a_folder_of_its_own, tmp_path, machine):
    stream = read_stream(SERIES)
    stream.meta["machine"] = stream.meta["tags"]["machine"] = machine
    write_stream(tmp_path / "bad.ecsv", stream)
    before = set(tmp_path.rglob("*"))
    code, _, _ = command("report", tmp_path / "bad.ecsv")
    assert code == 0
    (new,) = set(tmp_path.rglob("*")) - before
    assert new.parent == in_a_folder_of_its_own
    assert new.name.startswith("report-")


def test_a_logbook_is_asked_for_the_shots_meant(command, tmp_path):
    book = tmp_path / "book"
    (book / "shots" / "2031-03").mkdir(parents=True)
    (book / "recordings").mkdir()
    for name in ("thermoblock", "series_three_minutes"):
        shutil.copy(demo_streams_dir() / f"{name}.ecsv", book / "shots" / "2031-03")
    out = tmp_path / "out.html"
    assert command("report", "--logbook", book, "--machine", "Kessamun Dash", "--out", out)[0] == 0
    assert "Kessamun Dash brewed at" in text_of(out)
    assert "Ferrowick" not in text_of(out)
    code, _, errors = command("report", book, "--tag", "coffee=other", "--out", tmp_path / "none.html")
    assert code == 1
    assert "None of these shots is the one meant" in errors


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["missing.ecsv"], "There is no file missing.ecsv"),
        ([SERIES, "--out", "report.docx"], "neither .html nor .pdf"),
        ([SERIES, "--out", "nowhere/report.html"], "There is no folder nowhere"),
        ([SERIES, "--study", "setpoint", "--out", "x.html"], "needs two or more"),
        ([SERIES, "--tag", "no-value", "--out", "x.html"], "is no tag"),
        ([SERIES, "--target", "warm", "--out", "x.html"], "is no temperature"),
        ([SERIES, "--since", "soon", "--out", "x.html"], "is no day"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence_and_nothing_is_written(
    command, in_a_folder_of_its_own, arguments, sentence
):
    code, told, errors = command("report", *arguments)
    assert (code, told) == (1, "")
    assert sentence in errors
    assert errors.count("\n") == 1
    assert list(in_a_folder_of_its_own.iterdir()) == []


def test_a_file_that_is_there_stays_unless_it_may_be_replaced(command, tmp_path):
    out = tmp_path / "mine.html"
    out.write_text("mine")
    code, _, errors = command("report", SERIES, "--out", out)
    assert (code, out.read_text()) == (1, "mine")
    assert "There is already" in errors
    assert command("report", SERIES, "--out", out, "--overwrite")[0] == 0
    assert out.stat().st_size > 10_000


def test_a_file_that_cannot_be_read_is_named_and_the_report_is_made(command, tmp_path):
    (tmp_path / "bad.ecsv").write_text("nothing\n")
    out = tmp_path / "out.html"
    code, _, errors = command("report", tmp_path / "bad.ecsv", SERIES, "--out", out)
    assert code == 0
    assert "bad.ecsv" in errors
    assert "bad.ecsv" in text_of(out)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows allows no such file names")
def test_a_file_by_any_name_is_only_shown(command, tmp_path):
    path = tmp_path / "<script>alert(1)<b>.ecsv"
    shutil.copy(SERIES, path)
    out = tmp_path / "out.html"
    assert command("report", path, "--out", out)[0] == 0
    assert "<script" not in out.read_text(encoding="utf-8")
    assert "&lt;script&gt;alert(1)&lt;b&gt;.ecsv" in out.read_text(encoding="utf-8")
