import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest

from benchtemp.reports.content import Answer, Bullets, Grid, Paragraph, Report, Row, Section
from benchtemp.reports.html import html_bytes
from benchtemp.reports.report import make_report
from benchtemp.studies.steadiness import steadiness

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
VOID = {"meta", "link", "br", "img", "input", "hr"}


class Page(HTMLParser):
    """Elements with their attributes and places, and all text."""

    def __init__(self, content):
        super().__init__()
        self.elements = []
        self.texts = []
        self.open = []
        self.feed(content.decode("utf-8"))

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.texts.append(data)

    @property
    def text(self):
        return " ".join("".join(self.texts).split())

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]


@pytest.fixture(scope="module")
def page(series):
    return Page(html_bytes(make_report(series, studies=[steadiness(series.shot_set)], made="today")))


def test_it_is_one_whole_page_in_english(page):
    assert page.open == []
    assert page.all("html") == [{"lang": "en"}]
    assert page.text.count("How to reproduce it") == 2
    assert page.all("title") == [{}, *({"id": one["id"]} for one in page.all("title")[1:])]


def test_the_verdict_comes_before_everything_else(page):
    sections = page.all("section")
    assert [one.get("class") for one in sections][:2] == ["answer", None]
    assert page.text.index("from shot to shot scatters") < page.text.index("What was tested")


def harmless(page, own=("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink")):
    """Check that nothing runs and nothing is loaded."""
    tags = {tag for tag, _ in page.elements}
    assert not tags & {"script", "iframe", "object", "embed", "link", "img", "base", "form", "foreignobject"}
    for tag, attributes in page.elements:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            if name in {"href", "xlink:href", "src", "action", "srcset", "data"}:
                assert value.startswith("#"), (tag, name, value)
            if name.startswith("xmlns"):
                assert value in own
            elif name == "style":
                assert not re.search(r"url\((?!#)|expression|import", value)
            elif name == "http-equiv":
                assert value == "Content-Security-Policy"


def test_nothing_runs_and_nothing_is_loaded(page):
    harmless(page)
    (policy,) = (one["content"] for one in page.all("meta") if one.get("http-equiv"))
    assert policy == "default-src 'none'; style-src 'unsafe-inline'"


def test_every_id_is_there_once_and_every_reference_leads_somewhere(page):
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    used = set()
    for _, attributes in page.elements:
        for name, value in attributes.items():
            if name in {"href", "xlink:href"}:
                used.add(value[1:])
            elif name == "aria-labelledby":
                used.update(value.split())
            used.update(re.findall(r"url\(#([^)]+)\)", value or ""))
    assert len(used) > 20
    assert used <= set(ids)


def test_charts_and_tables_can_be_read_without_seeing_them(page):
    charts = [one for one in page.all("svg") if one.get("role") == "img"]
    assert len(charts) == len(page.all("svg")) == len(page.all("figure")) == 6
    assert len(page.all("caption")) == len(page.all("table"))
    assert {one.get("scope") for one in page.all("th")} == {"col", "row"}


def test_the_style_knows_dark_screens_paper_and_figures_of_one_width():
    style = html_bytes(Report(title="", byline=(), answers=(), sections=())).decode()
    for wanted in ("prefers-color-scheme: dark", "@media print", "tabular-nums", "table-header-group"):
        assert wanted in style
    assert "break-inside: avoid" in style
    assert "{{" not in style


@pytest.fixture(scope="module")
def typed(hostile):
    """Return a page about hostile shots."""
    return html_bytes(make_report(hostile, title="A <b>title</b> & {{ 7 * 7 }}", tester="<script>1</script>"))


def test_what_people_typed_is_shown_and_never_runs(hostile, typed):
    page = Page(typed)
    harmless(page)
    assert b"<script" not in typed
    for wanted in (
        "A <b>title</b> & {{ 7 * 7 }}",
        "<script>1</script>",
        "../../x<script>document.title = 'ran'</script>",
        "</svg></style></title><script>document.title = 'ran'</script>",
        '=HYPERLINK("http://evil.example","x")',
        "<img src='http://evil.example/x.png' onerror='alert(1)'>",
        r"$\frac{1}{0}$ and 100 % \ & {{ 7 * 7 }} {% for %}",
        "note <script>document.title = 'ran'</script>",
        "cup <script>document.title = 'ran'</script> changed",
        hostile.shots[0].file,
    ):
        assert " ".join(wanted.split()) in page.text
    assert "right\ufffdleft \N{SMILING FACE WITH SUNGLASSES} 漢字" in page.text


def test_every_part_of_the_content_is_escaped():
    bad = "</p><script>x</script>\0"
    grid = Grid(title=bad, headings=(bad, bad), rows=(Row((bad, bad), muted=True),), code=(1,), note=bad)
    report = Report(
        title=bad,
        byline=(bad,),
        answers=(Answer(title=bad, sentence=bad, limits=(bad,), concerns=(bad,)),),
        sections=(Section(bad, (Paragraph(bad, quiet=True), Bullets((bad,)), grid)),),
        made=bad,
        program=bad,
    )
    content = html_bytes(report)
    assert b"<script" not in content
    assert b"\0" not in content
    assert Page(content).text.count("<script>x</script>") >= 17


@pytest.mark.skipif(CHROMIUM is None, reason="there is no Chromium on this computer")
def test_a_real_browser_runs_nothing_of_it(typed, tmp_path):
    path = tmp_path / "report.html"
    path.write_bytes(typed)
    done = subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
            "--disable-background-networking", "--disable-component-update", "--disable-quic",
            f"--user-data-dir={tmp_path / 'profile'}", "--dump-dom", path.as_uri(),
        ],
        capture_output=True,
        check=True,
        timeout=60,
    )  # fmt: skip
    assert b"<title>A &lt;b&gt;title&lt;/b&gt; &amp; {{ 7 * 7 }}</title>" in done.stdout
    assert b"<script" not in done.stdout
    assert done.stdout.count(b"<svg") == 3
