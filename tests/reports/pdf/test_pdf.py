import io
import re

import msgspec
import pytest
from pypdf import PdfReader

from benchtemp.reports.content import Answer, Bullets, Drawing, Facts, Grid, Paragraph, Report, Row, Section
from benchtemp.reports.pdf import Paper, pdf_bytes
from benchtemp.reports.report import make_report
from benchtemp.studies.steadiness import steadiness

DRAWN = {"Shot by shot", "All shots laid over each other", "Their plateaus alone"}


def with_charts(made, titles):
    """Return a report with only those of its charts that have these titles: each takes its time."""
    parts = tuple(
        msgspec.structs.replace(
            part,
            blocks=tuple(
                block
                for block in part.blocks
                if not isinstance(block, Drawing) or block.chart.title in titles
            ),
        )
        for part in made.sections
    )
    return msgspec.structs.replace(made, sections=parts)


@pytest.fixture(scope="module")
def content(series):
    made = make_report(series, studies=[steadiness(series.shot_set)], made="2031-03-05 09:00")
    return with_charts(made, DRAWN)


@pytest.fixture(scope="module")
def document(content):
    return PdfReader(io.BytesIO(pdf_bytes(content)))


def pages(report, **more):
    reader = PdfReader(io.BytesIO(pdf_bytes(report, **more)))
    return reader, [page.extract_text() for page in reader.pages]


def report(*blocks, **more):
    return Report(
        **{"title": "A title", "byline": (), "answers": (), "sections": (Section("A part", blocks),), **more}
    )


def test_text_is_text_with_all_its_signs(document, content):
    text = "\n".join(page.extract_text() for page in document.pages)
    for sign in ("°C", "±", "−", "√" if "√" in repr(content) else "°"):
        assert sign in text
    first = " ".join(document.pages[0].extract_text().split())
    assert first.startswith("Brew temperature of Ferrowick Two")
    assert " ".join(content.answers[0].sentence.split()) in first
    for section in content.sections:
        assert section.heading in text


def test_charts_are_drawn_not_pictures_and_their_names_stay_text(document, content):
    assert not [image for page in document.pages for image in page.images]
    text = " ".join(page.extract_text() for page in document.pages)
    assert {chart.title for chart in content.charts()} == DRAWN
    assert "control limits" in text
    assert "brew temperature (°C)" in text
    assert text.count("time since pump on (s)") == 2


def test_pages_are_numbered_and_carry_program_and_date(document):
    count = len(document.pages)
    assert count >= 4
    for number, page in enumerate(document.pages, 1):
        text = page.extract_text()
        assert f"page {number} of {count}" in text
        assert "benchtemp" in text
        assert "2031-03-05 09:00" in text


def test_it_has_a_title_and_a_list_of_contents(document, content):
    assert document.metadata.title == content.title
    assert [entry.title for entry in document.outline] == [one.heading for one in content.sections]


def test_the_same_report_gives_the_same_bytes(content):
    made = report(Drawing(next(content.charts())), Paragraph("°C"), made="today")
    assert pdf_bytes(made) == pdf_bytes(made)


def long_table(
    rows, *, wide="some words that take more than one line in a narrow column, since they go on " * 3
):
    return Grid(
        title="A table",
        headings=("number", "words"),
        rows=tuple(Row((f"row{row}", f"begin{row} {wide} end{row}")) for row in range(rows)),
        figures=(0,),
        wide=(1,),
    )


def test_heads_repeat_on_every_page_and_no_row_is_cut():
    reader, texts = pages(report(long_table(90)))
    assert len(reader.pages) > 3
    seen = []
    for text in texts:
        assert "number" in text
        assert "words" in text
        begun = re.findall(r"begin(\d+) ", text)
        assert begun == re.findall(r"end(\d+)", text)
        assert begun == re.findall(r"row(\d+)", text)
        seen += begun
    assert seen == [str(row) for row in range(90)]


def test_a_broad_table_turns_the_page_and_the_next_part_turns_it_back():
    headings = tuple(f"heading {number}" for number in range(16))
    grid = Grid(
        title="Broad",
        headings=headings,
        rows=tuple(Row(tuple(f"{row}.{number:04d}" for number in range(16))) for row in range(4)),
        figures=tuple(range(16)),
    )
    reader, texts = pages(report(Paragraph("before"), grid, Paragraph("after")))
    sizes = [page.mediabox.width > page.mediabox.height for page in reader.pages]
    assert sizes == [False, True, False]
    assert "before" in texts[0]
    assert "3.0015" in texts[1]
    assert "after" in texts[2]


@pytest.mark.parametrize(("paper", "size"), [(Paper.A4, (595, 842)), (Paper.LETTER, (612, 792))])
def test_the_paper_is_as_wanted(paper, size):
    reader, _ = pages(report(Paragraph("text")), paper=paper)
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.5)


def test_markup_that_people_typed_is_text():
    bad = '<b>bold</b> <img src="file:///etc/passwd"/> <a href="http://evil.example">x</a> & <para> {{ 1 }}'
    grid = Grid(title=bad, headings=(bad, "x"), rows=(Row((bad, bad)),), wide=(0,), figures=(1,), note=bad)
    made = report(
        Paragraph(bad),
        Bullets((bad,)),
        Facts(((bad, bad),)),
        grid,
        title=bad,
        byline=(bad,),
        answers=(Answer(title=bad, sentence=bad, limits=(bad,), concerns=(bad,)),),
    )
    reader, texts = pages(made)
    text = " ".join(" ".join(texts).split())
    assert text.count("<b>bold</b>") >= 10
    assert '<img src="file:///etc/passwd"/>' in text
    assert not [page["/Annots"] for page in reader.pages if "/Annots" in page]
    assert not [image for page in reader.pages for image in page.images]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "x" * 3000,
        "word " * 3000,
        "漢字 \N{COFFIN} \u202e \0 \ud83d",
        "a\nb\tc </para>",
    ],
)
def test_no_text_breaks_the_layout(text):
    grid = Grid(
        title=text,
        headings=(text[:200], "b", "c"),
        rows=(Row((text[:400], text[:400], text[:40])),) * 3,
        wide=(0, 1),
        figures=(2,),
        code=(),
        note=text,
    )
    answer = Answer(title=text, sentence=text, limits=(text,), concerns=(text,))
    made = report(
        Paragraph(text), Bullets((text,)), Facts(((text[:200], text),)), grid, title=text, answers=(answer,)
    )
    reader, texts = pages(made)
    assert f"page 1 of {len(reader.pages)}" in texts[0]


def test_hostile_names_are_readable_in_it(hostile):
    # Names in charts are tested where charts are drawn.
    _, texts = pages(with_charts(make_report(hostile), ()))
    text = "".join("".join(texts).split())
    assert "../../x<script>document.title='ran'</script>" in text
    assert '=HYPERLINK("http://evil.example","x")' in text


def test_the_foot_of_a_page_has_room_for_its_number():
    number, made = "2031-03-05-4f1c2a", "2031-03-05 09:00 UTC+05:30"
    told = report(long_table(40), title="A very long title of a report " * 4, number=number, made=made)
    for text in pages(told)[1]:
        foot = next(line for line in text.splitlines() if number in line)
        assert foot.startswith("A very long")
        assert foot.endswith("09:00 UTC+05:30")


def test_a_small_table_is_not_parted(document, content):
    small = [
        block
        for section in content.sections
        for block in section.blocks
        if isinstance(block, Grid) and len(block.rows) <= 10 and block.title != "All shots"
    ]
    assert small
    texts = [page.extract_text() for page in document.pages]
    for grid in small:
        on = [number for number, text in enumerate(texts) if grid.title in text]
        last_row = [number for number, text in enumerate(texts) if grid.rows[-1].cells[0][:20] in text]
        assert set(on) & set(last_row), grid.title
