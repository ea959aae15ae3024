import sys
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from benchtemp.places import demo_streams_dir

SERIES = demo_streams_dir() / "series_three_minutes.ecsv"
SINGLE = demo_streams_dir() / "dual_boiler_steady.ecsv"


def test_a_shot_becomes_a_picture(command, tmp_path):
    out = tmp_path / "shot.png"
    code, told, errors = command("picture", SINGLE, "--out", out, "--size", "640x360", "--look", "dark")
    assert (code, told, errors) == (0, f"{out}\n", "")
    picture = np.asarray(Image.open(out).convert("RGB"))
    assert picture.shape == (360, 640, 3)
    assert np.median(picture) < 80


def test_a_comparison_becomes_an_svg(command, tmp_path):
    out = tmp_path / "six.svg"
    assert command("picture", SERIES, "--compare", "--plateau", "--out", out, "--title", "A & <b>")[0] == 0
    texts = [element.text for element in ET.parse(out).iter("{http://www.w3.org/2000/svg}text")]
    assert "A & <b>" in texts
    assert sum("shot" in (text or "") for text in texts) == 6


def test_one_shot_of_several_is_chosen_by_its_number(command, tmp_path):
    out = tmp_path / "third.svg"
    assert command("picture", SERIES, "--shot", 3, "--out", out, "--unit", "F")[0] == 0
    assert "198.8" in out.read_text(encoding="utf-8")


def test_a_replay_becomes_pictures_in_true_time(command, tmp_path):
    folder = tmp_path / "frames"
    code, told, errors = command(
        "picture",
        SERIES,
        "--shot",
        2,
        "--film",
        folder,
        "--fps",
        1,
        "--size",
        "160x120",
        "--look",
        "transparent",
    )
    assert (code, told) == (0, f"{folder}\n")
    count = len(list(folder.iterdir()))
    # The pump ran for 23.4 s; three seconds before it and five after are shown.
    assert count == 33
    assert errors == "33 pictures at 1 a second: 33.0 s in true time.\n"
    assert np.asarray(Image.open(folder / "frame-000001.png"))[0, 0, 3] == 0


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([SINGLE], "Name what to write"),
        ([SINGLE, "--out", "a.png", "--film", "a.mp4"], "Name what to write"),
        (
            [SERIES, "--out", "a.png"],
            "There are 6 shots in these files; choose one with --shot, or give --compare",
        ),
        (
            [SERIES, "--film", "frames", "--compare"],
            "There are 6 shots in these files; choose one with --shot.",
        ),
        ([SERIES, "--out", "a.png", "--shot", "7"], "There is no shot 7"),
        ([SINGLE, "--out", "a.gif"], "neither .png nor .svg"),
        ([SINGLE, "--out", "a.png", "--size", "big"], "is no size"),
        ([SINGLE, "--film", "a.mp4", "--look", "transparent"], "cannot be transparent"),
        ([SINGLE, "--film", "a.avi"], "cannot be written as"),
        ([SINGLE, "--film", "frames", "--fps", "0"], "pictures a second"),
        (["missing.ecsv", "--out", "a.png"], "There is no file"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence_and_nothing_is_written(
    command, tmp_path, monkeypatch, arguments, sentence
):
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    code, told, errors = command("picture", *arguments)
    assert (code, told) == (1, "")
    assert sentence in errors
    assert list(here.iterdir()) == []


def test_without_the_film_library_a_folder_is_offered(command, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "av", None)
    code, _, errors = command("picture", SINGLE, "--film", tmp_path / "shot.mp4", "--fps", 1)
    assert code == 1
    assert "benchtemp[film]" in errors
    assert "folder" in errors


def test_a_picture_that_is_there_stays_unless_it_may_be_replaced(command, tmp_path):
    out = tmp_path / "mine.png"
    out.write_text("mine")
    code, _, errors = command("picture", SINGLE, "--out", out)
    assert (code, out.read_text()) == (1, "mine")
    assert "There is already" in errors
    assert command("picture", SINGLE, "--out", out, "--overwrite", "--size", "320x180")[0] == 0
    with Image.open(out) as picture:
        assert picture.size == (320, 180)
