"""`benchtemp picture`: a shot, a comparison or a replay as a picture or a film."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import unit_option
from benchtemp.errors import BadInput

if TYPE_CHECKING:
    from benchtemp.reports.tested import TestedShot

PICTURE_PX, FILM_PX = "1600x900", "1280x720"


@click.command()
@click.argument("paths", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Picture to write, .png or .svg.")
@click.option(
    "--film",
    type=click.Path(path_type=Path),
    help="Film to write, .mp4, .webm or .mov, or a new folder for PNG files.",
)
@click.option("--size", help=f"Pixels; usually {PICTURE_PX}, of a film {FILM_PX}.")
@click.option(
    "--look",
    type=click.Choice(["light", "dark", "transparent"]),
    default="light",
    help="Ground it is to stand on; usually light.",
)
@click.option("--compare", is_flag=True, help="Lay all shots over each other.")
@click.option("--plateau", is_flag=True, help="Only the plateau.")
@click.option("--shot", "number", type=click.IntRange(1), help="Only the shot of this number.")
@click.option("--title", help="Above the picture; '' for none, usually the machine.")
@click.option("--fps", type=float, default=25.0, help="Pictures a second of a film; usually 25.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there already.")
@unit_option
def picture(**options: Any) -> int:
    """Draw a shot as a picture, several for comparison, or one's replay as a film with true timing.

    A transparent film (.mov or .webm, or a folder of pictures) can be laid over footage of the same shot.

    \b
    Examples:
      benchtemp picture demo_streams/dual_boiler_steady.ecsv --out shot.png
      benchtemp picture demo_streams/series_three_minutes.ecsv --compare --plateau --out six.svg
      benchtemp picture demo_streams/thermoblock.ecsv --shot 2 --film shot.mov --look transparent
    """
    from benchtemp.reports.gathering import read_tested

    if (options["out"] is None) == (options["film"] is None):
        raise BadInput("Name what to write: either --out shot.png or --film shot.mp4.")
    tested = read_tested(options["paths"])
    for complaint in tested.complaints:
        click.echo(complaint, err=True)
    number = options["number"]
    shots = [one for one in tested.shots if number in {None, one.shot.number}]
    if not shots:
        raise BadInput(f"There is no shot {number} in these files; there are {len(tested.shots)} shots.")
    if len(shots) > 1 and not (options["compare"] and options["film"] is None):
        cure = "choose one with --shot" if options["film"] else "choose one with --shot, or give --compare"
        raise BadInput(f"There are {len(shots)} shots in these files; {cure}.")
    if options["film"] is not None:
        return _film(shots[0], options)
    return _picture(shots, options)


def _picture(shots: list[TestedShot], options: dict[str, Any]) -> int:
    from benchtemp.logbook.atomic import write_whole
    from benchtemp.logbook.regular_file import shown
    from benchtemp.reports.charts.palette import PictureLook
    from benchtemp.reports.charts.size import size_from
    from benchtemp.reports.picture import PictureKind, picture_bytes, picture_chart, picture_title

    out: Path = options["out"]
    ending = out.suffix.casefold().removeprefix(".")
    if ending not in set(PictureKind):
        raise BadInput(f"{shown(out)} is neither .png nor .svg; end the name with one of them.")
    if out.exists() and not options["overwrite"]:
        raise BadInput(f"There is already a {shown(out)}; choose another name or give --overwrite.")
    unit = options["unit"]
    title = options["title"] if options["title"] is not None else picture_title(shots, unit)
    drawn = picture_bytes(
        picture_chart(shots, plateau=options["plateau"], unit=unit),
        PictureKind(ending),
        size_px=size_from(options["size"] or PICTURE_PX),
        look=PictureLook(options["look"]),
        unit=unit,
        title=title,
    )
    write_whole(out, [drawn], overwrite=options["overwrite"])
    click.echo(str(out))
    return 0


def _film(one: TestedShot, options: dict[str, Any]) -> int:
    from benchtemp.cli.choosing import progress_bar
    from benchtemp.logbook.ecsv import read_stream
    from benchtemp.reports.charts.palette import PictureLook
    from benchtemp.reports.charts.size import size_from
    from benchtemp.reports.film import film_of, frame_rate, write_film

    path: Path = options["film"]
    film = film_of(
        read_stream(one.path),
        one,
        size_px=size_from(options["size"] or FILM_PX),
        look=PictureLook(options["look"]),
        unit=options["unit"],
        rate=frame_rate(options["fps"]),
        title=options["title"] if options["title"] is not None else one.record.machine,
    )
    with progress_bar("drawing") as told:
        count = write_film(film, path, overwrite=options["overwrite"], progress=told)
    click.echo(str(path))
    seconds = float(count / film.rate)
    click.echo(f"{count} pictures at {float(film.rate):g} a second: {seconds:.1f} s in true time.", err=True)
    return 0
