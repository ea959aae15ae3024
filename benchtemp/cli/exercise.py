"""`benchtemp exercise`: make exercises of shots, hand them over, answer them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.teaching.exercise import Exercise, Item

_file = click.argument("file", type=click.Path(path_type=Path))
_item = click.option("--item", "number", type=click.IntRange(1, 60), help="Which shot, from 1.")
_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
_yes_no = click.Choice(["yes", "no"], case_sensitive=False)


@click.group()
def exercise() -> None:
    """Make an exercise of shots, hand it over as one file, and answer it.

    \b
    Examples:
      benchtemp exercise make first.exercise.zip --title "First shots" --teacher Ines week/shots/2031-03/*
      benchtemp exercise show first.exercise.zip --item 1
      benchtemp exercise answer first.exercise.zip --item 1 --pump-on 13.2 --plateau 21 --brew 92.6
    """


@exercise.command()
@click.argument("out", type=click.Path(path_type=Path))
@click.argument("files", metavar="FILE[#N]...", nargs=-1, required=True)
@click.option("--title", required=True, help="Of the exercise.")
@click.option("--teacher", default="", help="Who makes it.")
@click.option("--words", default="", help="To the trainee.")
@click.option("--before", "before_s", type=float, help="Seconds kept before pump on, at least; usually 12.")
@click.option("--after", "after_s", type=float, help="Seconds kept after pump off; usually 20.")
@click.option("--band/--no-band", default=True, help="Show the target band (usual) or hide it.")
@click.option(
    "--pump-within", "pump_on_s", type=float, help="Full points for pump on within, s; usually 0.5."
)
@click.option("--plateau-within", "plateau_start_s", type=float, help="For the plateau, s; usually 1.")
@click.option("--temp-within", "brew_temp_k", type=float, help="For the brew temperature, K; usually 0.2.")
@click.option(
    "--notes/--no-notes", "keep_notes", default=True, help="Take over your notes on recordings (usual)."
)
@click.option("--overwrite", is_flag=True, help="Replace the file if it is there already.")
@logbook_option
def make(out: Path, files: tuple[str, ...], logbook: Path | None, **options: Any) -> None:
    """Cut shots out of recordings or shot files and put them into one file.

    FILE#2 takes the second shot of a recording; FILE alone takes all its shots. The answers are in the file,
    packed so that nobody reads one by chance; that is no secrecy for an examination.

    \b
    Example:
      benchtemp exercise make first.exercise.zip --title "First shots" rec1.ecsv rec2.ecsv#3
    """
    from benchtemp.teaching.exercise import Exercise, Tolerance
    from benchtemp.teaching.exercise_file import SUFFIX, write_exercise

    if not out.name.endswith(SUFFIX):
        raise BadInput(
            f"The name of an exercise ends in {SUFFIX}; write for instance {out.name.split('.')[0]}{SUFFIX}."
        )
    within = {
        name: options[name]
        for name in ("pump_on_s", "plateau_start_s", "brew_temp_k")
        if options[name] is not None
    }
    cut = {name: options[name] for name in ("before_s", "after_s") if options[name] is not None}
    items: list[Item] = []
    book = open_logbook(logbook) if options["keep_notes"] else None
    for written in files:
        for item in _items(written, book, shows_band=options["band"], tolerance=Tolerance(**within), **cut):
            items.append(_named(item, f"Shot {len(items) + 1}"))
    made = Exercise(
        title=options["title"], teacher=options["teacher"], words=options["words"], items=tuple(items)
    )
    write_exercise(out, made, overwrite=options["overwrite"])
    shots = "1 shot" if len(items) == 1 else f"{len(items)} shots"
    click.echo(f"{out}: {shots}")


def _named(item: Item, title: str) -> Item:
    from dataclasses import replace

    return replace(item, title=title)


def _items(written: str, book: Logbook | None, **cut: Any) -> list[Item]:
    """Return the shots of a file, or the one of that number, with the notes kept in the logbook if given."""
    from benchtemp.logbook.ecsv import read_stream
    from benchtemp.teaching.cutting import item_from, pulls_in
    from benchtemp.teaching.replay_notes import ReplayNotes

    name, mark, number = written.rpartition("#")
    path, wanted = Path(written), None
    if mark and number.isdecimal() and not path.exists():
        path, wanted = Path(name), int(number)
    stream = read_stream(path)
    pulls = [pull for pull in pulls_in(stream) if not pull.is_flush]
    if not pulls:
        raise BadInput(f"No shot was found in {path}; leave it out.")
    if wanted is not None:
        if not 1 <= wanted <= len(pulls):
            raise BadInput(f"There is no shot {wanted} in {path}; it holds {len(pulls)}.")
        pulls = pulls[wanted - 1 : wanted]
    notes = ReplayNotes(book, stream, path.name).read() if book is not None else ()
    return [item_from(stream, pull, notes=notes, **cut) for pull in pulls]


@exercise.command()
@_file
@_item
@click.option(
    "--every", "every_s", type=click.FloatRange(0.05, 60), default=1.0, help="Step in s; usually 1."
)
@click.option("--answers", is_flag=True, help="With the reference: for the teacher.")
@_json
@unit_option
def show(
    file: Path, *, number: int | None, every_s: float, answers: bool, as_json: bool, unit: TempUnit
) -> None:
    """Tell what an exercise holds; with --item the trace of a shot, to be answered from.

    \b
    Examples:
      benchtemp exercise show first.exercise.zip
      benchtemp exercise show first.exercise.zip --item 2 --every 0.5
    """
    import json

    from benchtemp.cli.teaching_text import exercise_json, exercise_lines, trace_lines
    from benchtemp.teaching.exercise_file import read_exercise

    found = read_exercise(file)
    if number is not None:
        found.item(number)
    if as_json:
        plain = exercise_json(found, number, answers=answers)
        click.echo(json.dumps(plain, ensure_ascii=False, allow_nan=False))
        return
    lines = exercise_lines(found, number, unit, answers=answers)
    if number is not None:
        lines += ["", *trace_lines(found.item(number), every_s, unit)]
    click.echo("\n".join(lines))


@exercise.command()
@_file
@_item
@click.option("--at", "at_s", type=float, help="When on the shot's clock, s.")
@click.option("--remove", type=click.IntRange(1), help="Take this note out instead, counted from 1.")
@click.argument("text", required=False, default="")
def notes(file: Path, text: str, *, number: int | None, at_s: float | None, remove: int | None) -> None:
    """List the teacher's notes, add one that the replay shows when it reaches it, or take one out.

    \b
    Examples:
      benchtemp exercise notes first.exercise.zip
      benchtemp exercise notes first.exercise.zip --item 1 --at 14.5 "Look: the probe feels the water."
    """
    from benchtemp.teaching.exercise import TeacherNote
    from benchtemp.teaching.exercise_file import read_exercise

    found = read_exercise(file)
    if at_s is None and remove is None and not text:
        for place, item in enumerate(found.items, start=1):
            if number in (None, place):
                for count, note in enumerate(item.notes, start=1):
                    click.echo(f"shot {place}  note {count}  {note.t_s:7.1f} s  {note.text}")
        return
    if number is None:
        raise BadInput("Say which shot is meant, such as --item 1.")
    if remove is not None:
        _change(file, found, number, found.item(number).without_note(remove))
        return
    if at_s is None or not text:
        raise BadInput('A note needs a time and a text, such as --at 14.5 "The probe feels the water."')
    _change(file, found, number, found.item(number).with_note(TeacherNote(t_s=at_s, text=text)))


def _change(file: Path, found: Exercise, number: int, item: Item) -> None:
    from benchtemp.teaching.exercise_file import write_exercise

    write_exercise(file, found.with_item(number, item), overwrite=True)
    click.echo(f"{file}: shot {number} changed")


@exercise.command()
@_file
@_item
@click.option("--pump-on", "pump_on_s", type=float, help="s on the shot's clock.")
@click.option("--plateau-start", "plateau_start_s", type=float, help="s on the shot's clock.")
@click.option("--plateau-end", "plateau_end_s", type=float, help="s on the shot's clock.")
@click.option("--counts", type=_yes_no, help="Worked out anew where not given.")
@click.option("--reason", default="", help="Why it does not count.")
@unit_option
def correct(file: Path, *, number: int | None, unit: TempUnit, counts: str | None, **changes: Any) -> None:
    """Correct the reference of a shot before handing the exercise over.

    \b
    Example:
      benchtemp exercise correct first.exercise.zip --item 1 --plateau-start 21.5
    """
    from benchtemp.cli.teaching_text import reference_line
    from benchtemp.teaching.exercise_file import read_exercise
    from benchtemp.teaching.reference import corrected

    if number is None:
        raise BadInput("Say which shot is meant, such as --item 1.")
    found = read_exercise(file)
    item = corrected(found.item(number), counts=None if counts is None else counts == "yes", **changes)
    _change(file, found, number, item)
    click.echo(reference_line(item, unit))


@exercise.command()
@_file
@_item
@click.option("--pump-on", "pump_on_s", type=float, help="When the pump went on, s on the shot's clock.")
@click.option("--plateau", "plateau_start_s", type=float, help="When the plateau was reached, s.")
@click.option("--brew", help="The brew temperature, such as 92.6 or 198.7F.")
@click.option("--counts", type=_yes_no, help="Whether the shot counts.")
@click.option("--trainee", default="", help="Keep the score under this name.")
@_json
@logbook_option
@unit_option
def answer(
    file: Path,
    *,
    number: int | None,
    pump_on_s: float | None,
    plateau_start_s: float | None,
    brew: str | None,
    counts: str | None,
    trainee: str,
    as_json: bool,
    logbook: Path | None,
    unit: TempUnit,
) -> None:
    """Answer a shot and read what was right, what not, and why. Leave out what is not there.

    \b
    Example:
      benchtemp exercise answer a.exercise.zip --item 1 --pump-on 13.2 --plateau 21 --brew 92.6 --counts yes
    """
    import json

    import msgspec

    from benchtemp.cli.teaching_text import marking_json, marking_lines
    from benchtemp.teaching.exercise_file import read_exercise
    from benchtemp.teaching.marking import Answer, Part
    from benchtemp.teaching.practice import Round
    from benchtemp.teaching.scores import keep_round

    found = read_exercise(file)
    if number is None and len(found.items) > 1:
        raise BadInput(
            f"The exercise holds {len(found.items)} shots; say which is answered, such as --item 1."
        )
    number = number or 1
    given = Answer(
        pump_on_s=pump_on_s,
        plateau_start_s=plateau_start_s,
        brew_temp_degc=None if brew is None else _temperature(brew),
        counts=None if counts is None else counts == "yes",
    )
    if given == Answer():
        raise BadInput("There is no answer; give for instance --pump-on 13.2 --plateau 21 --brew 92.6.")
    played = Round(
        [found.item(number)], title=f"{found.title}, shot {number}", exercise=found.digest, unit=unit
    )
    for part, time_s in ((Part.PUMP_ON, given.pump_on_s), (Part.PLATEAU_START, given.plateau_start_s)):
        if time_s is not None:
            played.press(part, time_s)
    played.say_brew_temp(given.brew_temp_degc)
    played.say_counts(given.counts)
    marking = played.submit()
    played.go_on()
    kept = keep_round(open_logbook(logbook), trainee, played.result) if trainee else None
    if as_json:
        plain = {**marking_json(marking), "score_file": None if kept is None else str(kept)}
        click.echo(json.dumps(msgspec.to_builtins(plain), ensure_ascii=False, allow_nan=False))
        return
    click.echo("\n".join(marking_lines(marking)))
    if kept is not None:
        click.echo(f"Kept in {kept}", err=True)


def _temperature(written: str) -> float:
    from benchtemp.studies.evidence.typed import temp_from

    found = temp_from(written)
    if found is None:
        raise BadInput(f"--brew {written} is no temperature; write for instance 92.6 or 198.7F.")
    return found
