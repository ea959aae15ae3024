from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from benchtemp.logbook.row_file import RowFile

if TYPE_CHECKING:
    from pathlib import Path


def test_writing_again_from_an_offset_ends_the_file_there(tmp_path: Path) -> None:
    file = RowFile(tmp_path / "f", create=True)
    assert file.write(b"0123456789") == 10
    file.write_from(4, b"abc")
    assert file.write(b"d") == 1
    assert file.head(100) == b"0123abcd"
    assert file.size() == 8
    file.close()
    with (tmp_path / "other").open("wb") as other:
        file.close()
        other.write(b"still open")
    assert (tmp_path / "f").read_bytes() == b"0123abcd"


def test_a_file_that_exists_is_not_created_again(tmp_path: Path) -> None:
    (tmp_path / "f").write_bytes(b"x")
    with pytest.raises(FileExistsError):
        RowFile(tmp_path / "f", create=True)
    with pytest.raises(FileNotFoundError):
        RowFile(tmp_path / "g", create=False)


@pytest.mark.skipif(os.name == "nt", reason="an open file cannot be removed there")
def test_a_file_knows_when_another_took_its_place(tmp_path: Path) -> None:
    file = RowFile(tmp_path / "f", create=True)
    file.write(b"ours")
    assert file.in_place()
    (tmp_path / "f").unlink()
    assert not file.in_place()
    (tmp_path / "f").write_bytes(b"theirs")
    assert not file.in_place()
    assert file.head(10) == b"ours"
    file.close()
