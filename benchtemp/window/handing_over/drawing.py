"""Pictures and films of shots and of a study's charts: drawn small to look at, and written. No widgets."""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from benchtemp.errors import BadInput
from benchtemp.reports.charts.palette import PictureLook
from benchtemp.reports.charts.size import check_size
from benchtemp.window.handing_over.documents import DRAWING, check_target

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.reports.film import Film
    from benchtemp.reports.stopping import Cancelled, Progress
    from benchtemp.reports.tested import Tested, TestedShot
    from benchtemp.studies.chart import Chart
    from benchtemp.studies.outcome import Study
    from benchtemp.units import TempUnit

PREVIEW_PX = 900
"""Longest side of what is drawn to be looked at; letters and lines keep their share of any size."""
FILM_EXTRA = (
    "Film files need the optional encoder: pip install 'benchtemp[film]'. A sequence of pictures does not."
)


class Kind(StrEnum):
    """What is written."""

    PNG = "png"
    SVG = "svg"
    MP4 = "mp4"
    WEBM = "webm"
    MOV = "mov"
    SEQUENCE = "sequence"

    @property
    def words(self) -> str:
        """Return its name for a choice."""
        return {
            Kind.PNG: "PNG picture",
            Kind.SVG: "SVG picture (vector)",
            Kind.MP4: "MP4 film",
            Kind.WEBM: "WebM film",
            Kind.MOV: "MOV film",
            Kind.SEQUENCE: "Film as PNG files in a folder",
        }[self]

    @property
    def is_film(self) -> bool:
        """Tell whether it moves."""
        return self not in (Kind.PNG, Kind.SVG)

    @property
    def needs_library(self) -> bool:
        """Tell whether it needs the optional encoder."""
        return self in (Kind.MP4, Kind.WEBM, Kind.MOV)

    @property
    def ending(self) -> str:
        """Return how its file's name ends; empty for a folder."""
        return "" if self is Kind.SEQUENCE else f".{self.value}"


def film_library_there() -> bool:
    """Tell whether films can be encoded."""
    return importlib.util.find_spec("av") is not None


@dataclass(frozen=True)
class Subject:
    """What can be drawn.

    Attributes:
        name: For a choice.
        chart: Which of the study's charts, from 0; None for the shots' traces.
        plateau: Only the plateau.
    """

    name: str
    chart: int | None = None
    plateau: bool = False


def subjects_of(tested: Tested, study: Study | None, unit: TempUnit) -> tuple[Subject, ...]:
    """Return what can be drawn of shots and of a study of them."""
    charts = () if study is None else tuple(study.charts(unit))
    named = [Subject(chart.title, number) for number, chart in enumerate(charts)]
    if len(tested.shots) == 1:
        return (*named, Subject("The shot"), Subject("Its plateau", plateau=True))
    several = (Subject("All shots laid over each other"), Subject("Their plateaus", plateau=True))
    return (*named, *several)


@dataclass(frozen=True, kw_only=True)
class PictureWish:
    """What picture or film is wanted.

    Attributes:
        tested: The shots.
        study: Whose charts may be drawn.
        subject: What is drawn.
        kind: What is written.
        size_px: Width and height.
        look: Ground it is to stand on.
        title: Above it; None for the usual one, empty for none.
        unit: Of temperatures.
        frames_per_s: Of a film.
        target: File or folder to write, with its ending.
        overwrite: Whether a file of that name may be replaced.
    """

    tested: Tested
    study: Study | None
    subject: Subject
    kind: Kind
    size_px: tuple[int, int]
    look: PictureLook
    title: str | None
    unit: TempUnit
    frames_per_s: float = 25.0
    target: Path | None = None
    overwrite: bool = False


def usual_title(wish: PictureWish) -> str:
    """Return the title that is written where none is given."""
    from benchtemp.reports.picture import picture_title  # noqa: PLC0415 - not needed to paint

    chart = wish.subject.chart
    if chart is not None and wish.study is not None:
        return wish.study.charts(wish.unit)[chart].title
    if wish.kind.is_film:
        return wish.tested.shots[0].record.machine
    return picture_title(wish.tested.shots, wish.unit)


def preview_png(wish: PictureWish) -> bytes:
    """Return the picture, or one of a film's, small enough to be looked at.

    Raises:
        BadInput: It cannot be drawn.
    """
    check_size(wish.size_px)
    scale = min(1.0, PREVIEW_PX / max(wish.size_px))
    # Even sides, as a film has them, and none so small that it cannot be drawn.
    width, height = (max(120, round(side * scale / 2) * 2) for side in wish.size_px)
    small = replace(wish, size_px=(width, height))
    with DRAWING:
        return _film_png(small) if wish.kind.is_film else _drawn(small, Kind.PNG)


def write_picture(wish: PictureWish, progress: Progress, cancelled: Cancelled) -> Path:
    """Write a picture or a film; return where it is.

    Raises:
        BadInput: It cannot be drawn, or not be written there.
        FilmLibraryMissing: The encoder for films is not installed.
        StorageError: The disk does not take it.
        Stopped: It was cancelled.
    """
    from benchtemp.logbook.atomic import write_whole  # noqa: PLC0415
    from benchtemp.reports.film import write_film  # noqa: PLC0415

    target = wish.target
    assert target is not None
    if wish.kind is not Kind.SEQUENCE:
        check_target((target,), overwrite=wish.overwrite)
    elif not target.parent.is_dir():
        raise BadInput(f"There is no folder {target.parent}; choose another one.")
    if wish.kind.is_film:
        with DRAWING:
            write_film(_film(wish), target, overwrite=wish.overwrite, progress=progress, cancelled=cancelled)
        return target
    with DRAWING:
        drawn = _drawn(wish, wish.kind)
    try:
        write_whole(target, [drawn], overwrite=wish.overwrite)
    except FileExistsError:
        raise BadInput(f"There is already a {target.name}; choose another name.") from None
    return target


def _drawn(wish: PictureWish, kind: Kind) -> bytes:
    from benchtemp.reports.picture import PictureKind, picture_bytes  # noqa: PLC0415

    return picture_bytes(
        _chart(wish),
        PictureKind(kind.value),
        size_px=wish.size_px,
        look=wish.look,
        unit=wish.unit,
        title=_title(wish),
    )


def _title(wish: PictureWish) -> str:
    return usual_title(wish) if wish.title is None else wish.title


def _chart(wish: PictureWish) -> Chart:
    from benchtemp.reports.picture import picture_chart  # noqa: PLC0415

    chart = wish.subject.chart
    if chart is not None and wish.study is not None:
        return wish.study.charts(wish.unit)[chart]
    return picture_chart(wish.tested.shots, plateau=wish.subject.plateau, unit=wish.unit)


def _film(wish: PictureWish) -> Film:
    from benchtemp.logbook.ecsv import read_stream  # noqa: PLC0415
    from benchtemp.reports.film import film_of, frame_rate  # noqa: PLC0415

    one: TestedShot = wish.tested.shots[0]
    return film_of(
        read_stream(one.path),
        one,
        size_px=wish.size_px,
        look=wish.look,
        unit=wish.unit,
        rate=frame_rate(wish.frames_per_s),
        title=_title(wish),
    )


def _film_png(wish: PictureWish) -> bytes:
    from benchtemp.reports.film import still_png  # noqa: PLC0415

    return still_png(_film(wish))
