"""Opening other people's files without being caught out by a device, a folder or something endless."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from io import RawIOBase

SIZE_LIMIT = 512 * 1024 * 1024
"""Bytes; a week at 10 readings a second from four channels is about half of it."""

_SENTENCES = {
    errno.ENOENT: "There is no file {path}; check the name and the folder.",
    errno.ENOTDIR: "There is no file {path}; a part of its path is not a folder.",
    errno.EACCES: "The file {path} may not be read; check its permissions.",
    errno.EPERM: "The file {path} may not be read; check its permissions.",
    errno.EISDIR: "{path} is a folder; name a file in it.",
    errno.ELOOP: "{path} is a link that leads back to itself; name the file itself.",
    errno.ENAMETOOLONG: "The file name {path} is longer than the system allows; shorten it.",
}


def shown(path: str | os.PathLike[str]) -> str:
    """Return a path for a message: always printable, on one line, and not longer than a line or two."""
    text = os.fspath(path).encode("utf-8", "replace").decode("utf-8")
    text = "".join(char if char.isprintable() else "?" for char in text)
    return text if len(text) <= 160 else f"{text[:60]}…{text[-90:]}"


def why(error: OSError) -> str:
    """Return the system's reason for an error, without the file name it may carry."""
    return (error.strerror or str(error) or type(error).__name__).rstrip(".")


def read_regular(path: str | os.PathLike[str], limit: int = SIZE_LIMIT, first: int | None = None) -> bytes:
    """Return the bytes of a regular file (links are followed), or only the `first` ones.

    Raises:
        BadInput: Nothing there, not a regular file, not readable, or longer than `limit` bytes.
    """
    name = shown(path)
    try:
        _refuse_unless_regular(Path(path).stat().st_mode, name)
        # Without O_NONBLOCK a pipe that took the file's place since `stat` would block for ever.
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        descriptor = os.open(path, flags)
        with open(descriptor, "rb", buffering=0) as file:  # noqa: PTH123 - opened by descriptor
            status = os.fstat(descriptor)
            _refuse_unless_regular(status.st_mode, name)
            wanted = limit if first is None else min(first, limit)
            if first is None and status.st_size > limit:
                raise BadInput(_too_long(name, limit))
            content = _read_up_to(file, wanted + (first is None))
    except OSError as error:
        sentence = _SENTENCES.get(error.errno or 0)
        if sentence is None:
            sentence = (
                "The file {path} cannot be read (" + why(error).replace("{", "").replace("}", "") + ")."
            )
        raise BadInput(sentence.format(path=name)) from error
    except ValueError as error:  # a NUL in the name
        raise BadInput(f"{name} is not a possible file name.") from error
    if len(content) > limit:
        raise BadInput(_too_long(name, limit))
    return content


def _read_up_to(file: RawIOBase, wanted: int) -> bytes:
    parts = []
    while wanted > 0:
        part = file.read(min(wanted, 16 * 1024 * 1024))
        if not part:
            break
        parts.append(part)
        wanted -= len(part)
    return b"".join(parts)


def _too_long(name: str, limit: int) -> str:
    return f"The file {name} is larger than {limit // (1024 * 1024)} MB; split it into shorter recordings."


def _refuse_unless_regular(mode: int, name: str) -> None:
    if stat.S_ISREG(mode):
        return
    if stat.S_ISDIR(mode):
        raise BadInput(f"{name} is a folder; name a file in it.")
    raise BadInput(f"{name} is a device or a pipe, not a file; record it with 'benchtemp record' instead.")
