"""`benchtemp practise`: a practice round in the terminal, or written as an exercise."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from benchtemp.cli.options import logbook_option, open_logbook, unit_option
from benchtemp.errors import BadInput
from benchtemp.units import TempUnit

if TYPE_CHECKING:
    from benchtemp.teaching.exercise import Exercise


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option(
    "--level", type=click.Choice(["easy", "usual", "hard"]), default="usual", help="Of virtual shots; usual."
)
@click.option("--shots", "count", type=click.IntRange(1, 60), default=5, help="Virtual shots; usually 5.")
@click.option(
    "--seed", type=click.IntRange(0, 2**31), help="Of virtual shots; another every time if not given."
)
@click.option("--speed", type=click.FloatRange(0.25, 64), default=1.0, help="Of the replay; usually 1.")
@click.option("--trainee", default="", help="Keep the score under this name.")
@click.option("--out", type=click.Path(path_type=Path), help="Write virtual shots as an exercise instead.")
@logbook_option
@unit_option
def practise(
    file: Path | None,
    *,
    level: str,
    count: int,
    seed: int | None,
    speed: float,
    trainee: str,
    out: Path | None,
    logbook: Path | None,
    unit: TempUnit,
) -> int:
    """Watch shots without their results, mark what happens, and read how right it was.

    FILE is an exercise; without one virtual shots are made. Space marks pump on, and again the plateau. Then
    name the brew temperature and say whether the shot counts.

    \b
    Examples:
      benchtemp practise --level easy --trainee "Ada Brook"
      benchtemp practise first.exercise.zip --speed 2
      benchtemp practise --level hard --seed 7 --out hard.exercise.zip
    """
    from benchtemp.cli.keys import keyboard_there

    if out is not None:
        if file is not None:
            raise BadInput("--out writes virtual shots; leave out the exercise that is there already.")
        from benchtemp.teaching.exercise_file import SUFFIX, write_exercise

        if not out.name.endswith(SUFFIX):
            raise BadInput(f"The name of an exercise ends in {SUFFIX}; write for instance hard{SUFFIX}.")
        write_exercise(out, _made(level, seed, count))
        click.echo(str(out))
        return 0
    if not keyboard_there():
        raise BadInput(
            "Practising needs a terminal to press keys in; elsewhere write the shots with --out and answer "
            "them with 'benchtemp exercise answer'."
        )
    from benchtemp.cli.practising import Practising
    from benchtemp.teaching.exercise_file import read_exercise
    from benchtemp.teaching.practice import Round
    from benchtemp.teaching.scores import keep_round

    exercise = _made(level, seed, count) if file is None else read_exercise(file)
    played = Round(exercise.items, title=exercise.title, exercise=exercise.digest, unit=unit)
    Practising(exercise, played, speed=speed, unit=unit).run()
    result = played.result
    if result.score is not None:
        left = ", left before its end" if result.aborted else ""
        click.echo(
            f"{result.score:.0f} of 100 points over {len(result.items)} of {result.count} shots{left}."
        )
    if trainee and result.items:
        kept = keep_round(open_logbook(logbook), trainee, result)
        click.echo(f"Kept in {kept}", err=True)
    return 0


def _made(level: str, seed: int | None, count: int) -> Exercise:
    import random

    from benchtemp.teaching.endless import Level, practice_exercise

    if seed is None:
        seed = random.SystemRandom().randrange(1, 100_000)
    return practice_exercise(Level(level), seed, count)
