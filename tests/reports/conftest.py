"""Recordings and shot files to make reports of, some of them with bad intent."""

import datetime as dt
import hashlib
import sys

import msgspec
import numpy as np
import pytest

from benchtemp.bench.keeping import shot_header
from benchtemp.logbook.ecsv import read_stream, write_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.places import demo_streams_dir
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.reports.gathering import read_tested
from benchtemp.shots.shot import analyse_stream

SCRIPT = "<script>document.title = 'ran'</script>"
HOSTILE = {
    "machine": f"../../x{SCRIPT}",
    "coffee": f"</svg></style></title>{SCRIPT}",
    '" onmouseover="alert(1)': '=HYPERLINK("http://evil.example","x")',
    "shop": "<img src='http://evil.example/x.png' onerror='alert(1)'>",
    "price": r"$\frac{1}{0}$ and 100 % \ & {{ 7 * 7 }} {% for %}",
    "writing": "right\N{RIGHT-TO-LEFT OVERRIDE}left \N{SMILING FACE WITH SUNGLASSES} 漢字",
}


@pytest.fixture(scope="session")
def recorded():
    """Make a recording: pulls of 24 s, two minutes apart, that settle at the temperatures given."""

    def make(*brews_degc, meta=None, notes=(), marked=True, started="2031-03-04T13:00:00+00:00"):
        t_s = np.round(np.arange(0, 60 + 120 * len(brews_degc), 0.25), 4)
        degc = np.full(len(t_s), 62.0)
        marks = []
        for number, brew_degc in enumerate(brews_degc):
            on_s = 30.0 + 120 * number
            brewing = (t_s >= on_s + 1) & (t_s < on_s + 25)
            degc[brewing] = brew_degc - (brew_degc - 62) * np.exp(-(t_s[brewing] - on_s - 1) / 1.5)
            after = (t_s >= on_s + 25) & (t_s < on_s + 120)
            degc[after] = 62 + (brew_degc - 62) * np.exp(-(t_s[after] - on_s - 25) / 20)
            if marked:
                marks += [Mark(on_s, MarkKind.PUMP_ON), Mark(on_s + 25, MarkKind.PUMP_OFF)]
        marks += [Mark(at_s, MarkKind.NOTE, text) for at_s, text in notes]
        marks.sort(key=lambda mark: mark.t_s)
        noise = np.random.default_rng(7).normal(0, 0.02, len(t_s))
        return Stream(
            channels=("T1",),
            t_s=t_s,
            temps_degc=np.round(degc + noise, 2).reshape(-1, 1),
            marks=tuple(marks),
            mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s, side="right")) for mark in marks),
            meta={
                "kind": "recording",
                "started": started,
                "machine": "Ferrowick Two",
                "tags": {"machine": "Ferrowick Two", "coffee": "Ninth Lantern"},
                **(meta or {}),
            },
        )

    return make


@pytest.fixture
def recording(tmp_path, recorded):
    """Write a recording and give its path."""

    def write(*brews_degc, name="sitting.ecsv", **more):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_stream(path, recorded(*brews_degc, **more))
        return path

    return write


@pytest.fixture
def logbook(tmp_path, recorded):
    """Make a logbook with a recording and a shot file for each of its pulls."""

    def make(*brews_degc, **more):
        book = Logbook(tmp_path / "book")
        stream = recorded(*brews_degc, **more)
        book.recordings_dir.mkdir(parents=True)
        name = "20310304-130000_Ferrowick-Two.ecsv"
        write_stream(book.recordings_dir / name, stream)
        for shot in analyse_stream(stream).shots:
            began = dt.datetime.fromisoformat(stream.meta["started"])
            pulled = began + dt.timedelta(seconds=round(shot.result.pump_on_s))
            named = msgspec.structs.replace(shot, recording=name, started=pulled.isoformat())
            rows = (stream.t_s >= shot.result.pump_on_s - 20) & (stream.t_s <= shot.result.pump_on_s + 60)
            cut = Stream(
                channels=stream.channels,
                t_s=stream.t_s[rows],
                temps_degc=stream.temps_degc[rows],
                meta={**stream.meta, **shot_header(named, stream.meta), "kind": "shot"},
            )
            book.save_shot(cut)
        return book

    return make


@pytest.fixture(scope="session")
def series():
    """Return six shots three minutes apart, from the demo stream."""
    return read_tested([demo_streams_dir() / "series_three_minutes.ecsv"])


@pytest.fixture(scope="session")
def single():
    """Return one shot, from the demo stream."""
    return read_tested([demo_streams_dir() / "dual_boiler_steady.ecsv"])


@pytest.fixture(scope="session")
def demo_stream():
    """Read a demo stream by its name."""

    def read(name):
        return read_stream(demo_streams_dir() / f"{name}.ecsv")

    return read


@pytest.fixture(scope="session")
def hostile(recorded, tmp_path_factory):
    """Return shots whose every text wants to be something else."""
    name = "plain.ecsv" if sys.platform == "win32" else f"a&b {SCRIPT.replace('/', '')}.ecsv"
    path = tmp_path_factory.mktemp("hostile") / name
    stream = recorded(
        93.0,
        92.5,
        meta={"machine": HOSTILE["machine"], "tags": HOSTILE, "notes": f"note {SCRIPT}"},
        notes=((40.0, f"cup {SCRIPT} changed"),),
    )
    write_stream(path, stream)
    return read_tested([path])


@pytest.fixture
def digest_of():
    """Return a file's SHA-256."""

    def work_out(path):
        return hashlib.sha256(path.read_bytes()).hexdigest()

    return work_out
