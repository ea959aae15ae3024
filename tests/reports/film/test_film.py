import sys
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image

from benchtemp.errors import BadInput
from benchtemp.reports.charts.palette import PictureLook
from benchtemp.reports.film import film_of, write_film
from benchtemp.reports.film.takers import FilmLibraryMissing
from benchtemp.reports.stopping import Stopped

SIZE = (320, 180)
RATE = Fraction(1)


@pytest.fixture(scope="module")
def film(single, demo_stream):
    """Make a small film of the demo shot."""

    def make(look="light", rate=RATE, size_px=SIZE, **more):
        stream = demo_stream("dual_boiler_steady")
        return film_of(stream, single.shots[0], size_px=size_px, look=PictureLook(look), rate=rate, **more)

    return make


def test_a_folder_gets_a_picture_for_every_moment(film, tmp_path):
    folder = tmp_path / "frames"
    told = []
    made = film("transparent", title="<b>$x$</b>")
    count = write_film(made, folder, progress=lambda done, total: told.append((done, total)))
    names = sorted(path.name for path in folder.iterdir())
    assert names == [f"frame-{number:06d}.png" for number in range(1, count + 1)]
    # Three seconds before a pump time of 24.1 s, five after it, a picture a second and the first one.
    assert count == made.count == 33
    assert told == [(number, count) for number in range(1, count + 1)]
    pictures = [np.asarray(Image.open(folder / name)) for name in names]
    assert {picture.shape for picture in pictures} == {(180, 320, 4)}
    assert all(picture[0, 0, 3] == 0 for picture in pictures)
    # The line grows: more is drawn in later pictures, and what is drawn stays.
    drawn = [(picture[60:160, 40:300, 3] > 200).sum() for picture in pictures[5:29]]
    assert drawn[-1] > drawn[0] + 60


def test_a_film_on_a_ground_shows_nothing_through(film, tmp_path):
    write_film(film("dark", size_px=(160, 120)), tmp_path / "frames")
    picture = np.asarray(Image.open(tmp_path / "frames" / "frame-000010.png"))
    assert (picture[..., 3] == 255).all()
    assert np.median(picture[..., :3]) < 80


def test_a_folder_that_holds_something_is_left_alone(film, tmp_path):
    (tmp_path / "keep.txt").write_text("mine")
    with pytest.raises(BadInput, match="not an empty folder"):
        write_film(film(), tmp_path)
    with pytest.raises(BadInput, match="not an empty folder"):
        write_film(film(), tmp_path / "keep.txt" if sys.platform == "win32" else tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["keep.txt"]


@pytest.mark.parametrize("name", ["frames", "film.mp4"])
def test_a_film_that_was_stopped_leaves_nothing_behind(film, tmp_path, name):
    if name.endswith("mp4"):
        pytest.importorskip("av")
    asked = iter([False, False, True])
    with pytest.raises(Stopped):
        write_film(film(), tmp_path / name, cancelled=lambda: next(asked))
    assert list(tmp_path.iterdir()) == []


def test_an_interrupt_from_the_keyboard_leaves_nothing_behind(film, tmp_path):
    def interrupt(_done, _total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_film(film(), tmp_path / "frames", progress=interrupt)
    assert list(tmp_path.iterdir()) == []


def test_a_film_file_has_true_timing(film, tmp_path):
    av = pytest.importorskip("av")
    made = film(rate=Fraction(2000, 1001), size_px=(161, 121))
    path = tmp_path / "shot.mp4"
    count = write_film(made, path)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        times = [float(frame.time) for frame in container.decode(video=0)]
        assert (stream.width, stream.height) == (160, 120)
        assert stream.average_rate == Fraction(2000, 1001)
    assert len(times) == count
    assert times == pytest.approx([number * 1001 / 2000 for number in range(count)], abs=1e-4)
    assert times[-1] == pytest.approx(made.until_s - made.from_s, abs=0.51)
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(("name", "decoder"), [("clear.mov", ""), ("clear.webm", "libvpx-vp9")])
def test_a_film_without_a_ground_stays_transparent(film, tmp_path, name, decoder):
    av = pytest.importorskip("av")
    path = tmp_path / name
    write_film(film("transparent"), path)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        # The usual decoder of this format passes over the opacity.
        reader = av.CodecContext.create(decoder, "r") if decoder else stream.codec_context
        frames = [frame for packet in container.demux(stream) for frame in reader.decode(packet)]
        picture = frames[20].to_ndarray(format="rgba")
    assert picture[2, 2, 3] < 5
    assert (picture[..., 3] > 240).sum() > 200


def test_what_cannot_be_is_told_before_anything_is_drawn(film, tmp_path):
    with pytest.raises(BadInput, match=r"\.mp4 cannot be transparent"):
        write_film(film("transparent"), tmp_path / "clear.mp4")
    with pytest.raises(BadInput, match="cannot be written as"):
        write_film(film(), tmp_path / "film.avi")
    (tmp_path / "there.mp4").write_bytes(b"mine")
    with pytest.raises(BadInput, match="already"):
        write_film(film(), tmp_path / "there.mp4")
    with pytest.raises(BadInput, match="pixels"):
        film(size_px=(10, 10))


def test_a_missing_film_library_is_told_with_its_cure(film, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(FilmLibraryMissing, match=r"pip install 'benchtemp\[film\]'"):
        write_film(film(), tmp_path / "film.mp4")
    assert list(tmp_path.iterdir()) == []


def test_an_existing_film_is_replaced_only_when_wanted(film, tmp_path):
    pytest.importorskip("av")
    path = tmp_path / "there.mp4"
    path.write_bytes(b"old")
    write_film(film(size_px=(160, 120)), path, overwrite=True)
    assert path.stat().st_size > 1000
