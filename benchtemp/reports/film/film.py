"""A film of one shot: what it shows, and writing it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from benchtemp.errors import BadInput
from benchtemp.readings.reading import Stream
from benchtemp.reports.charts.palette import PictureLook
from benchtemp.reports.charts.size import check_size
from benchtemp.reports.film.frames import Picture, Stage, pictures
from benchtemp.reports.film.moments import moments, picture_count
from benchtemp.reports.film.takers import taker_for
from benchtemp.reports.stopping import Cancelled, Progress, go_on
from benchtemp.reports.tested import TestedShot
from benchtemp.units import TempUnit

LEAD_S, TAIL_S = 3.0, 5.0
"""How much is shown before pump on and after pump off."""
USUAL_RATE = Fraction(25)


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """A film that could be written.

    Attributes:
        stream: The recording or shot file.
        pump_on_s, from_s, until_s: On its clock.
        rate: Pictures a second.
        stage: What stands still.
    """

    stream: Stream
    pump_on_s: float
    from_s: float
    until_s: float
    rate: Fraction
    stage: Stage

    @property
    def count(self) -> int:
        """Return how many pictures it has."""
        return picture_count(self.from_s, self.until_s, self.rate)


def film_of(
    stream: Stream,
    one: TestedShot,
    *,
    size_px: tuple[int, int] = (1280, 720),
    look: PictureLook = PictureLook.LIGHT,
    unit: TempUnit = TempUnit.DEGC,
    rate: Fraction = USUAL_RATE,
    title: str = "",
) -> Film:
    """Return the film of a shot.

    Args:
        stream: What the shot was read from.
        one: The shot.
        size_px: Width and height; odd numbers are lowered by one, since films have even sizes.
        look: On what it is to stand.
        unit: Shown.
        rate: Pictures a second.
        title: In a corner.

    Raises:
        BadInput: The size cannot be, or there is no trace.
    """
    check_size(size_px)
    if one.trace is None or not len(stream.t_s):
        raise BadInput(f"{one.file} holds no temperatures to show.")
    result = one.shot.result
    on_s = result.pump_on_s
    off_s = result.pump_off_s or result.plateau_end_s or on_s
    from_s = max(on_s - LEAD_S, float(stream.t_s[0]))
    until_s = min(off_s + TAIL_S, float(stream.t_s[-1]))
    seen = one.trace.between(from_s - on_s, until_s - on_s).degc
    if not np.isfinite(seen).any():
        raise BadInput(f"{one.file} holds no temperatures around {one.name}.")
    low = float(np.nanmin(seen))
    high = max(float(np.nanmax(seen)), one.record.band_high_degc)
    margin_k = 0.05 * (high - low)
    return Film(
        stream=stream,
        pump_on_s=on_s,
        from_s=from_s,
        until_s=until_s,
        rate=rate,
        stage=Stage(
            size_px=(size_px[0] - size_px[0] % 2, size_px[1] - size_px[1] % 2),
            look=look,
            unit=unit,
            x_s=(from_s - on_s, until_s - on_s + 0.02 * (until_s - from_s)),
            y_degc=(low - margin_k, high + margin_k),
            band_degc=(one.record.band_low_degc, one.record.band_high_degc),
            title=title,
        ),
    )


def write_film(
    film: Film,
    path: Path,
    *,
    overwrite: bool = False,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> int:
    """Write a film, whole or not at all; return how many pictures it has.

    Args:
        film: What to write.
        path: A .mp4, .webm or .mov file, or a new folder for a sequence of PNG files.
        overwrite: Whether a file of that name may be replaced.
        progress: Told (pictures done, pictures in all).
        cancelled: Asked before each picture.

    Raises:
        BadInput: The path cannot be used for it.
        FilmLibraryMissing: The library for film files is not installed.
        StorageError: The disk does not take it.
        Stopped: It was cancelled.
    """
    clear = film.stage.look is PictureLook.TRANSPARENT
    taker = taker_for(path, film.stage.size_px, film.rate, clear=clear, overwrite=overwrite)
    done = 0
    try:
        for picture in _pictures(film):
            go_on(cancelled)
            taker.take(picture)
            done += 1
            if progress:
                progress(done, film.count)
        taker.finish()
    except BaseException:
        taker.abandon()
        raise
    return done


def _pictures(film: Film) -> Iterator[Picture]:
    shown = moments(
        film.stream, pump_on_s=film.pump_on_s, from_s=film.from_s, until_s=film.until_s, rate=film.rate
    )
    return pictures(film.stage, shown)


def still_png(film: Film) -> bytes:
    """Return one picture of a film as PNG: what it shows when the pump goes off."""
    import io  # noqa: PLC0415  (start-up time, as is the next)

    from PIL import Image  # noqa: PLC0415

    coarse = replace(film, rate=Fraction(1), until_s=max(film.from_s, film.until_s - TAIL_S))
    shown = list(
        moments(
            film.stream,
            pump_on_s=film.pump_on_s,
            from_s=coarse.from_s,
            until_s=coarse.until_s,
            rate=coarse.rate,
        )
    )
    (picture,) = pictures(film.stage, iter(shown[-1:]))
    held = io.BytesIO()
    Image.fromarray(picture).save(held, "PNG")
    return held.getvalue()
