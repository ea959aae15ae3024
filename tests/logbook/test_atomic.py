from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from benchtemp.errors import StorageError
from benchtemp.logbook import atomic
from benchtemp.logbook.atomic import replace, write_whole

if TYPE_CHECKING:
    from pathlib import Path


def windows_error(number: int) -> OSError:
    error = PermissionError(13, "in use")
    error.winerror = number  # type: ignore[attr-defined]
    return error


def test_a_file_someone_holds_open_for_a_moment_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "new").write_text("new", encoding="utf-8")
    real, tries = os.replace, []

    def busy(source: Path, target: Path) -> None:
        tries.append(source)
        if len(tries) < 4:
            raise windows_error(32)
        real(source, target)

    monkeypatch.setattr(os, "replace", busy)
    replace(tmp_path / "new", tmp_path / "old", (0.001,) * 6)
    assert len(tries) == 4
    assert (tmp_path / "old").read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize(("number", "tried"), [(32, 4), (2, 1)])
def test_waiting_ends_and_other_errors_are_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, tried: int
) -> None:
    tries = []

    def never(source: Path, _target: Path) -> None:
        tries.append(source)
        raise windows_error(number)

    monkeypatch.setattr(os, "replace", never)
    with pytest.raises(PermissionError):
        replace(tmp_path / "a", tmp_path / "b", (0.001,) * 3)
    assert len(tries) == tried


def test_the_longest_wait_is_a_few_seconds() -> None:
    assert sum(atomic._PAUSES_S) <= 2.5


def test_content_that_could_not_take_its_place_is_kept_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"old")

    def never(*_: object) -> None:
        raise PermissionError(13, "in use")

    monkeypatch.setattr(os, "replace", never)
    with pytest.raises(StorageError, match="its content is kept in") as caught:
        write_whole(path, [b"new", b"er"], overwrite=True)
    assert path.read_bytes() == b"old"
    (part,) = tmp_path.glob(".benchtemp-*")
    assert part.read_bytes() == b"newer"
    assert part.name in str(caught.value)


def test_what_turns_up_at_the_last_moment_is_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "file"

    def meanwhile() -> None:
        path.write_bytes(b"theirs")

    with pytest.raises(FileExistsError):
        write_whole(path, [b"ours"], overwrite=False, still_wanted=meanwhile)
    assert path.read_bytes() == b"theirs"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user who can be refused")
def test_a_folder_that_may_not_be_written_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(StorageError, match="folder you may write to"):
        write_whole(tmp_path / "file", [b"x"], overwrite=False)
