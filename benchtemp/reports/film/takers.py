"""What takes the pictures of a film: a folder of PNG files, or a film file through an encoder."""

from __future__ import annotations

import contextlib
import uuid
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from benchtemp.errors import BadInput, BenchtempError, StorageError
from benchtemp.logbook.atomic import PART_PREFIX, PART_SUFFIX, replace
from benchtemp.logbook.folder import make_folder
from benchtemp.logbook.regular_file import shown, why
from benchtemp.reports.film.frames import Picture

if TYPE_CHECKING:
    from av.container import OutputContainer
    from av.video.stream import VideoStream

CHEAP_COMPRESSION = 3
"""Of PNG: a film's pictures are many, and smaller files are not worth the wait."""


class Taker(Protocol):
    """Takes pictures in order."""

    def take(self, picture: Picture) -> None:
        """Take the next picture."""

    def finish(self) -> None:
        """Make the film whole under its name."""

    def abandon(self) -> None:
        """Leave nothing behind."""


@dataclass(frozen=True, slots=True)
class Encoding:
    """How a kind of film file is encoded.

    Attributes:
        container: Its format.
        codec: Encoder of the film library.
        layout: How colours are kept in a film with a ground.
        clear_layout: The same for a film without one; empty where it cannot be.
        options: For the encoder.
        clear_options: Besides, for a film without a ground.
    """

    container: str
    codec: str
    layout: str
    clear_layout: str
    options: tuple[tuple[str, str], ...]
    clear_options: tuple[tuple[str, str], ...] = ()


ENCODINGS = {
    ".mp4": Encoding("mp4", "libx264", "yuv420p", "", (("crf", "17"), ("preset", "medium"))),
    ".webm": Encoding(
        "webm",
        "libvpx-vp9",
        "yuv420p",
        "yuva420p",
        (("crf", "22"), ("b:v", "0"), ("deadline", "realtime"), ("cpu-used", "7"), ("row-mt", "1")),
        (("auto-alt-ref", "0"),),
    ),
    ".mov": Encoding("mov", "prores_aw", "yuv422p10le", "yuva444p10le", (), (("profile", "4"),)),
}


def taker_for(path: Path, size_px: tuple[int, int], rate: Fraction, *, clear: bool, overwrite: bool) -> Taker:
    """Return what takes the pictures for a path: a film file by its ending, else a folder.

    Args:
        path: Where the film shall be.
        size_px: Of every picture.
        rate: Pictures a second.
        clear: Whether what is not drawn stays transparent.
        overwrite: Whether a film file of that name may be replaced.

    Raises:
        BadInput: That kind of file is not known or cannot be transparent, it is there already, or the film
            library is missing.
    """
    ending = path.suffix.casefold()
    encoding = ENCODINGS.get(ending)
    if encoding is None:
        if ending and not path.is_dir():
            raise BadInput(
                f"A film cannot be written as '{ending}'; name a file ending in {', '.join(ENCODINGS)}, "
                "or a folder for a sequence of pictures."
            )
        return _Folder(path)
    if clear and not encoding.clear_layout:
        raise BadInput(
            f"A film in {ending} cannot be transparent; name a .mov or .webm file, or a folder for a "
            "sequence of pictures."
        )
    if path.is_dir() or (path.exists() and not overwrite):
        raise BadInput(f"There is already a {shown(path)}; choose another name or allow overwriting.")
    return _FilmFile(path, size_px, rate, encoding, clear=clear)


class _Folder:
    """A sequence of PNG files in a folder that was empty."""

    def __init__(self, folder: Path) -> None:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(f"{shown(folder)} is not an empty folder; name a new one for the pictures.")
        self._made = not folder.exists()
        make_folder(folder)
        self._folder = folder
        self._written: list[Path] = []

    def take(self, picture: Picture) -> None:
        from PIL import Image  # noqa: PLC0415  (start-up time)

        path = self._folder / f"frame-{len(self._written) + 1:06d}.png"
        try:
            with path.open("xb") as file:
                self._written.append(path)
                Image.fromarray(picture).save(file, format="PNG", compress_level=CHEAP_COMPRESSION)
        except OSError as error:
            raise StorageError(f"{shown(path)} cannot be written ({why(error)}); free some space.") from error

    def finish(self) -> None:
        pass

    def abandon(self) -> None:
        with contextlib.suppress(OSError):
            for path in self._written:
                path.unlink(missing_ok=True)
            if self._made:
                self._folder.rmdir()


class _FilmFile:
    """A film file that appears under its name when it is whole."""

    def __init__(
        self, path: Path, size_px: tuple[int, int], rate: Fraction, encoding: Encoding, *, clear: bool
    ) -> None:
        av = _film_library()
        self._av = av
        self._path = path
        self._part = path.parent / f"{PART_PREFIX}{uuid.uuid4().hex[:12]}{PART_SUFFIX}"
        self._next = 0
        self._rate = rate
        options = dict(encoding.options) | (dict(encoding.clear_options) if clear else {})
        try:
            self._container: OutputContainer = av.open(str(self._part), "w", format=encoding.container)
            self._stream: VideoStream = self._container.add_stream(encoding.codec, rate=rate, options=options)
        except (av.FFmpegError, ValueError, OSError) as error:
            self.abandon()
            raise StorageError(
                f"{shown(path)} cannot be written ({_reason(error)}); choose another folder, or name a "
                "folder for a sequence of pictures."
            ) from error
        self._stream.width, self._stream.height = size_px
        self._stream.pix_fmt = encoding.clear_layout if clear else encoding.layout
        self._stream.codec_context.thread_type = "AUTO"

    def take(self, picture: Picture) -> None:
        frame = self._av.VideoFrame.from_ndarray(picture, format="rgba")
        frame.pts = self._next
        frame.time_base = 1 / self._rate
        self._next += 1
        self._mux(frame)

    def _mux(self, frame: Any) -> None:
        try:
            for packet in self._stream.encode(frame):
                self._container.mux(packet)
        except (self._av.FFmpegError, OSError) as error:
            raise StorageError(
                f"{shown(self._path)} cannot be written ({_reason(error)}); free some space or choose "
                "another folder."
            ) from error

    def finish(self) -> None:
        self._mux(None)
        try:
            self._container.close()
            replace(self._part, self._path)
        except (self._av.FFmpegError, OSError) as error:
            raise StorageError(
                f"{shown(self._path)} cannot be written ({_reason(error)}); choose another folder."
            ) from error

    def abandon(self) -> None:
        with contextlib.suppress(Exception):
            # An encoder that was stopped halfway may complain of anything.
            self._container.close()
        with contextlib.suppress(OSError):
            self._part.unlink(missing_ok=True)


class FilmLibraryMissing(BenchtempError):
    """The library that encodes films is not installed."""


def _film_library() -> Any:
    try:
        import av  # noqa: PLC0415  (optional, and slow to load)
    except ImportError as error:
        raise FilmLibraryMissing(
            "A film file needs the package 'av', which is not installed; install it with "
            "pip install 'benchtemp[film]', or name a folder for a sequence of pictures."
        ) from error
    return av


def _reason(error: Exception) -> str:
    return why(error) if isinstance(error, OSError) else str(error)
