from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import astropy.units as u
import numpy as np
import pandas as pd
import pytest
from astropy.table import MaskedColumn, Table
from hypothesis import given
from hypothesis import strategies as st

from benchtemp.errors import BadInput, BenchtempError, DamagedFile, StorageError
from benchtemp.logbook import regular_file
from benchtemp.logbook.ecsv import parse_stream, read_meta, read_stream, stream_bytes, write_stream
from benchtemp.readings.reading import Mark, MarkKind, Stream

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

HEAD = """# %ECSV 1.0
# ---
# delimiter: ','
# datatype:
# - {name: t, unit: s, datatype: float64}
# - {name: T1, unit: deg_C, datatype: float64}
# - {name: mark, datatype: string}
t,T1,mark
"""


def parsed(text: str) -> Stream:
    return parse_stream(text.encode(), "a file")


# Ours, read by others


def test_astropy_reads_units_masks_and_marks(tmp_path: Path, small_stream: Stream) -> None:
    path = tmp_path / "shot.ecsv"
    write_stream(path, small_stream)
    table = Table.read(path, format="ascii.ecsv")
    assert table.colnames == ["t", "T1", "T2", "weight", "mark"]
    assert [table[name].unit for name in table.colnames] == [u.s, u.deg_C, u.deg_C, u.g, None]
    assert dict(table.meta) == small_stream.meta
    assert table["T1"].mask.tolist() == [False, True, True, False, True, True, True]
    assert table["t"].tolist() == [0.0, 0.05, 0.1, 0.25, 0.26, 0.3, 0.4]
    marks = [text for text in table["mark"].filled("").tolist() if text]
    assert marks == ["pump on", 'note puck "wet", #2 of 5, 20 °C', "pump off"]


def test_astropy_accepts_the_closing_line(tmp_path: Path, small_stream: Stream) -> None:
    small_stream.meta["kind"] = "recording"
    path = tmp_path / "recording.ecsv"
    write_stream(path, small_stream)
    assert path.read_text(encoding="utf-8").splitlines()[-1].startswith("# closed sha256:")
    assert len(Table.read(path, format="ascii.ecsv")) == 7


def test_pandas_reads_every_row_whole(tmp_path: Path, small_stream: Stream) -> None:
    small_stream.meta["kind"] = "recording"
    path = tmp_path / "recording.ecsv"
    write_stream(path, small_stream)
    frame = pd.read_csv(path, comment="#")
    assert frame.columns.tolist() == ["t", "T1", "T2", "weight", "mark"]
    assert frame["T1"].isna().tolist() == [False, True, True, False, True, True, True]
    assert frame["mark"][4] == 'note puck "wet", #2 of 5, 20 °C'
    assert frame["t"].tolist() == [0.0, 0.05, 0.1, 0.25, 0.26, 0.3, 0.4]


def test_astropy_reads_any_stream_of_ours(streams: st.SearchStrategy[Stream], tmp_path: Path) -> None:
    @given(streams)
    def check(stream: Stream) -> None:
        path = tmp_path / "any.ecsv"
        write_stream(path, stream, overwrite=True)
        table = Table.read(path, format="ascii.ecsv")
        assert len(table) == len(stream.t_s) + len(stream.marks)
        for channel in stream.channels:
            column = table[channel]
            values = column.filled(np.nan) if isinstance(column, MaskedColumn) else column
            found = np.asarray(values, dtype=np.float64)
            np.testing.assert_array_equal(
                found[np.isfinite(found)],
                stream.temps_degc[:, stream.channels.index(channel)][
                    np.isfinite(stream.temps_degc[:, stream.channels.index(channel)])
                ],
            )

    check()


# Others', read by us


@pytest.mark.parametrize("delimiter", [" ", ","])
def test_files_astropy_writes_are_read(tmp_path: Path, delimiter: str) -> None:
    table = Table(
        {
            "t": [0.0, 0.5, 1.0],
            "inlet": MaskedColumn([20.5, 0.0, 21.5], mask=[False, True, False], unit=u.deg_C),
            "pressure": [9.0, 9.1, 9.2] * u.bar,
            "cup": [90, 91, 92] * u.deg_C,
            "comment": ["a b", "", 'say "hi", all'],
            "ok": [True, False, True],
        },
        meta={"kind": "other", "nested": {"list": [1, 2.5, "off"]}},
    )
    path = tmp_path / "theirs.ecsv"
    table.write(path, format="ascii.ecsv", delimiter=delimiter)
    stream = read_stream(path)
    assert stream.channels == ("inlet", "cup")
    np.testing.assert_array_equal(stream.temps_degc, [[20.5, 90.0], [np.nan, 91.0], [21.5, 92.0]])
    assert stream.t_s.tolist() == [0.0, 0.5, 1.0]
    assert stream.weight_g is None
    assert stream.marks == ()
    assert stream.meta == {"kind": "other", "nested": {"list": [1, 2.5, "off"]}}
    assert stream.warnings == ()


@pytest.mark.parametrize("delimiter", [" ", ","])
def test_marks_and_weights_in_files_astropy_writes_are_read(tmp_path: Path, delimiter: str) -> None:
    table = Table(
        {
            "t": [0.0, 0.5, 1.0, 2.0] * u.s,
            "T1": MaskedColumn([20.5, 0.0, 21.5, 0.0], mask=[False, True, False, True], unit=u.deg_C),
            "weight": MaskedColumn([1.0, 0.0, 2.0, 3.0], mask=[False, True, False, False], unit=u.g),
            "mark": ["", "pump on", "note two words, one comma", ""],
        }
    )
    path = tmp_path / "theirs.ecsv"
    table.write(path, format="ascii.ecsv", delimiter=delimiter)
    stream = read_stream(path)
    assert stream.t_s.tolist() == [0.0, 1.0, 2.0]
    assert stream.weight_g is not None
    assert stream.weight_g.tolist() == [1.0, 2.0, 3.0]
    assert stream.marks == (Mark(0.5, MarkKind.PUMP_ON), Mark(1.0, MarkKind.NOTE, "two words, one comma"))
    assert stream.mark_rows == (1, 1)


def test_an_ordered_map_and_unknown_tags_become_plain() -> None:
    text = HEAD.replace(
        "t,T1,mark\n",
        "# meta: !!omap\n# - kind: shot\n# - tags: {day: 2025-11-25}\n# - shape: !!python/tuple [1, 2]\n"
        "# - odd: !their.Thing {a: 1}\nt,T1,mark\n",
    )
    meta = parsed(text).meta
    assert meta == {"kind": "shot", "tags": {"day": "2025-11-25"}, "shape": [1, 2], "odd": {"a": 1}}
    assert type(meta) is dict


@pytest.mark.parametrize(("unit", "factor"), [("ms", 1e-3), ("min", 60.0), ("h", 3600.0)])
def test_times_in_another_unit_become_seconds(unit: str, factor: float) -> None:
    assert parsed(HEAD.replace("unit: s", f"unit: {unit}") + "2.0,93.0,\n").t_s.tolist() == [2.0 * factor]


def test_a_degree_sign_a_byte_order_mark_and_carriage_returns_are_accepted() -> None:
    text = "\ufeff" + HEAD.replace("deg_C", "°C") + "0.0,93.0,\n1.0,,pump on\n\n# a remark\n2.0,94.0,"
    stream = parsed(text.replace("\n", "\r\n") + "\r\n")
    assert stream.temps_degc.tolist() == [[93.0], [94.0]]
    assert stream.marks == (Mark(1.0, MarkKind.PUMP_ON),)
    assert stream.warnings == ()


def test_a_mark_on_a_readings_row_comes_before_it() -> None:
    stream = parsed(HEAD + '0.0,93.0,\n1.0,94.0,"pump on"\n')
    assert stream.mark_rows == (1,)
    assert stream.t_s.tolist() == [0.0, 1.0]


def test_an_instant_at_which_no_channel_gave_anything_is_a_reading() -> None:
    stream = parsed(HEAD + "0.0,,\n0.5,nan,\n")
    assert stream.t_s.tolist() == [0.0, 0.5]
    assert np.isnan(stream.temps_degc).all()


# Round trips


def test_written_and_read_again_is_the_same_bit_for_bit(
    streams: st.SearchStrategy[Stream], tmp_path: Path, assert_same_stream: Callable[[Stream, Stream], None]
) -> None:
    @given(streams)
    def check(stream: Stream) -> None:
        path = tmp_path / "any.ecsv"
        write_stream(path, stream, overwrite=True)
        found = read_stream(path)
        assert_same_stream(found, stream)
        assert found.warnings == ()
        assert read_meta(path) == stream.meta

    check()


@pytest.mark.parametrize(
    "text", ["no", "010", "1e3", "12:30:45", "=", "2024-01-01", "<<", "~", "\u2028x", "a\nb: c"]
)
def test_texts_that_yaml_would_take_for_something_else_stay_texts(text: str, small_stream: Stream) -> None:
    small_stream.meta["tags"] = {text: text}
    header, rows = stream_bytes(small_stream)
    assert parse_stream(header + rows, "a file").meta["tags"] == {text: text}


def test_a_mark_with_line_ends_and_control_characters_stays_on_its_row() -> None:
    stream = Stream(
        ("T1",), np.empty(0), np.empty((0, 1)), None, (Mark(0.0, MarkKind.NOTE, "a\n\r\x00b\u2028c"),), (0,)
    )
    header, rows = stream_bytes(stream)
    assert parse_stream(header + rows, "a file").marks[0].text == "a b c"


def test_numpy_numbers_are_written_as_plain_numbers() -> None:
    stream = Stream(
        ("T1",), np.array([0.1]), np.array([[93.2]]), meta={"n": np.float32(0.5), "a": np.arange(2)}
    )
    header, rows = stream_bytes(stream)
    assert rows == b"t,T1,mark\n0.1,93.2,\n"
    assert parse_stream(header + rows, "a file").meta == {"n": 0.5, "a": [0, 1]}


# Cut, damaged and hostile files


def test_a_file_cut_anywhere_gives_the_rows_before_the_cut(small_stream: Stream) -> None:
    header, rows = stream_bytes(small_stream)
    content = header + rows
    whole = parse_stream(content, "a file").items()
    first_row = len(header) + rows.index(b"\n") + 1
    seen = set()
    for cut in range(len(content)):
        if cut < first_row:
            with pytest.raises((DamagedFile, BadInput)):
                parse_stream(content[:cut], "a file")
            continue
        stream = parse_stream(content[:cut], "a file")
        items = stream.items()
        assert repr(items) == repr(whole[: len(items)])
        assert len(items) == content[first_row:cut].count(b"\n")
        assert bool(stream.warnings) == (not content[:cut].endswith(b"\n"))
        seen.add(len(items))
    assert seen == set(range(len(whole)))


def test_a_last_line_that_reads_as_a_whole_number_but_has_no_end_is_left_out() -> None:
    stream = parsed(
        HEAD.replace(",mark", "").replace("# - {name: mark, datatype: string}\n", "") + "0.0,93.1\n0.1,9"
    )
    assert stream.t_s.tolist() == [0.0]
    assert "cut off" in stream.warnings[0]


def test_nuls_after_a_power_loss_are_dropped() -> None:
    stream = parsed(HEAD + "0.0,93.0,\n0.1,93" + "\0" * 5000)
    assert stream.t_s.tolist() == [0.0]
    assert len(stream.warnings) == 1
    assert parsed(HEAD + "0.0,93.0,\n" + "\0" * 5000).warnings == ()


@pytest.mark.parametrize(
    "row",
    [
        "0.5,93.0",
        "0.5,93.0,,",
        "0.5,9x.0,",
        "oops,93.0,",
        ",93.0,",
        "0.5,1_0,",
        '0.5,93.0,"pump on',
        "0.5,\0\0,",
        "nan,93.0,",
    ],
)
def test_a_damaged_row_is_left_out_and_counted(row: str) -> None:
    stream = parsed(HEAD + f"0.0,93.0,\n{row}\n1.0,94.0,\n")
    assert stream.t_s.tolist() == [0.0, 1.0]
    assert stream.temps_degc.tolist() == [[93.0], [94.0]]
    assert stream.marks == ()
    assert stream.warnings == ("1 row was damaged in a file and left out; everything else was read.",)


def test_time_that_runs_backwards_is_told_and_kept() -> None:
    stream = parsed(HEAD + "5.0,93.0,\n1.0,94.0,\n")
    assert stream.t_s.tolist() == [5.0, 1.0]
    assert "backwards in 1 place" in stream.warnings[0]


def test_random_bytes_never_raise_anything_else() -> None:
    @given(st.binary(max_size=400), st.booleans())
    def check(noise: bytes, after_head: bool) -> None:  # noqa: FBT001 - drawn by hypothesis
        try:
            stream = parse_stream((HEAD.encode() if after_head else b"# %ECSV 1.0\n# ") + noise, "a file")
        except BenchtempError:
            return
        assert not after_head or stream.channels == ("T1",)

    check()


def test_random_damage_to_a_file_of_ours_never_raises_anything_else(small_stream: Stream) -> None:
    content = b"".join(stream_bytes(small_stream))

    @given(st.data())
    def check(data: st.DataObject) -> None:
        damaged = bytearray(content)
        for _ in range(data.draw(st.integers(1, 4))):
            damaged[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
        try:
            stream = parse_stream(bytes(damaged), "a file")
        except BenchtempError:
            return
        assert stream.temps_degc.shape == (len(stream.t_s), len(stream.channels))

    check()


def bomb() -> str:
    lines = ["# a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"# a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 9)]
    return "\n".join(lines)


HOSTILE: dict[str, tuple[str, str]] = {
    "aliases": (HEAD.replace("# datatype", f"{bomb()}\n# datatype"), "aliases"),
    "deep": (HEAD.replace("# datatype", f"# x: {'[' * 100}{']' * 100}\n# datatype"), "nested"),
    "deep dashes": (HEAD.replace("# datatype", f"# x:\n# {'- ' * 3000}\n# datatype"), "nested"),
    "long": (HEAD.replace("# datatype", f"# x: {'y' * 70_000}\n# datatype"), "64 kB"),
    "endless": ("# %ECSV 1.0\n# " + "y" * 200_000, "64 kB"),
    "object": (
        HEAD.replace("# datatype", "# x: !!python/object/apply:os.system [exit 3]\n# x: [\n# datatype"),
        "underst",
    ),
    "not ecsv": ("t,T1\n0,1\n", "not an ECSV file"),
    "version": ("# %ECSV 7.0\n# ---\nx\n", "version 1"),
    "empty": ("", "not an ECSV file"),
    "no columns": ("# %ECSV 1.0\n# ---\n# meta: {}\nt\n", "no columns"),
    "list": ("# %ECSV 1.0\n# ---\n# - 1\nt\n", "no columns"),
    "tab": (HEAD.replace("','", '"\\t"'), "comma and space"),
    "no t": (HEAD.replace("name: t,", "name: time,").replace("\nt,", "\ntime,"), "no column 't'"),
    "no degc": (HEAD.replace("deg_C", "deg_F"), "deg_F"),
    "no temperature": (HEAD.replace(", unit: deg_C", ""), "no temperature column"),
    "furlongs": (HEAD.replace("unit: s,", "unit: furlong,"), "furlong"),
    "names differ": (HEAD.replace("\nt,T1", "\nt,T2"), "column names"),
    "twice": (HEAD.replace("mark", "T1"), "two columns"),
    "huge number": (HEAD.replace("# datatype", f"# x: {'9' * 5000}\n# datatype"), "."),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_what_cannot_be_used_is_refused_with_a_sentence(case: str) -> None:
    text, said = HOSTILE[case]
    with pytest.raises(BadInput, match=said):
        parsed(text)


def test_a_tag_that_would_run_something_gives_its_plain_value() -> None:
    text = HEAD.replace("# datatype", "# meta: {x: !!python/object/apply:os.system [exit 3]}\n# datatype")
    assert parsed(text).meta == {"x": ["exit 3"]}


def test_a_line_longer_than_any_row_is_skipped() -> None:
    stream = parsed(HEAD + "0.0,93.0,\n" + "x," * 5_000_000 + "\n1.0,94.0,\n")
    assert stream.t_s.tolist() == [0.0, 1.0]
    assert "1 row was damaged" in stream.warnings[0]


# Files that are none


def test_a_missing_file_a_folder_and_a_nul_are_told_apart(tmp_path: Path) -> None:
    for path, said in [(tmp_path / "no.ecsv", "no file"), (tmp_path, "folder"), ("a\0b", "not a possible")]:
        with pytest.raises(BadInput, match=said):
            read_stream(path)


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX pipes, devices and links")
def test_pipes_devices_and_link_loops_do_not_hang(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.ecsv"
    os.mkfifo(pipe)
    loop = tmp_path / "loop.ecsv"
    loop.symlink_to(loop)
    for path, said in [(pipe, "device or a pipe"), ("/dev/zero", "device or a pipe"), (loop, "link")]:
        with pytest.raises(BadInput, match=said):
            read_stream(path)


@pytest.mark.skipif(os.name == "nt", reason="links need a privilege there")
def test_a_link_to_a_file_is_followed(tmp_path: Path, small_stream: Stream) -> None:
    write_stream(tmp_path / "real.ecsv", small_stream)
    (tmp_path / "link.ecsv").symlink_to(tmp_path / "real.ecsv")
    assert read_stream(tmp_path / "link.ecsv").channels == ("T1", "T2")


def test_a_huge_file_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "huge.ecsv"
    with path.open("wb") as file:
        file.write(HEAD.encode())
        file.truncate(regular_file.SIZE_LIMIT + 1)
    with pytest.raises(BadInput, match="512 MB"):
        read_stream(path)


# Writing


def test_writing_never_overwrites_unless_asked(tmp_path: Path, small_stream: Stream) -> None:
    path = tmp_path / "shot.ecsv"
    path.write_text("precious", encoding="utf-8")
    with pytest.raises(BadInput, match="already a file"):
        write_stream(path, small_stream)
    assert path.read_text(encoding="utf-8") == "precious"
    write_stream(path, small_stream, overwrite=True)
    assert read_stream(path).meta == small_stream.meta
    assert [entry.name for entry in tmp_path.iterdir()] == ["shot.ecsv"]


def test_writing_into_a_folder_that_is_gone_says_so(tmp_path: Path, small_stream: Stream) -> None:
    with pytest.raises(StorageError, match="folder is gone"):
        write_stream(tmp_path / "gone" / "shot.ecsv", small_stream)


@pytest.mark.parametrize("channels", [("t",), ("T1", "T1"), ("",), ("a\nb",), (" x",), (), ("mark",)])
def test_channel_names_that_cannot_head_a_column_are_refused(
    channels: tuple[str, ...], tmp_path: Path
) -> None:
    stream = Stream(channels, np.empty(0), np.empty((0, len(channels))))
    with pytest.raises(BadInput, match="channel"):
        write_stream(tmp_path / "x.ecsv", stream)


@pytest.mark.parametrize("meta", [{"x": object()}, {"x": "y" * 70_000}, {"x": 2**70}])
def test_meta_that_cannot_be_kept_is_refused(meta: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="header"):
        write_stream(tmp_path / "x.ecsv", Stream(("T1",), np.empty(0), np.empty((0, 1)), meta=meta))
    assert list(tmp_path.iterdir()) == []


def test_odd_channel_names_survive(tmp_path: Path) -> None:
    stream = Stream(('group, "left" #1', "Kältekopf"), np.array([0.0]), np.array([[1.0, 2.0]]))
    write_stream(tmp_path / "x.ecsv", stream)
    assert read_stream(tmp_path / "x.ecsv").channels == stream.channels
    assert Table.read(tmp_path / "x.ecsv", format="ascii.ecsv").colnames[1:3] == list(stream.channels)
