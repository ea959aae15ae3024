"""`benchtemp scores`: how trainees are getting on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchtemp.cli.options import logbook_option, open_logbook

if TYPE_CHECKING:
    from benchtemp.teaching.scores import History


@click.command()
@click.argument("trainee", required=False, default="")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@logbook_option
def scores(trainee: str, *, as_json: bool, logbook: Path | None) -> None:
    """Tell a trainee's rounds and progress, or who has any.

    \b
    Examples:
      benchtemp scores
      benchtemp scores "Ada Brook" --json
    """
    import json

    from benchtemp.errors import BadInput
    from benchtemp.teaching.scores import cases_sentence, history, progress, trainees

    book = open_logbook(logbook)
    names = trainees(book)
    if trainee:
        kept = [history(book, trainee)]
        if not kept[0].rounds and not kept[0].cases:
            known = f"there are {', '.join(names)}" if names else "nobody has any yet"
            raise BadInput(f"There are no scores of '{trainee}'; {known}.")
    else:
        kept = [history(book, name) for name in names]
    for one in kept:
        for warning in one.warnings:
            click.echo(warning, err=True)
    if as_json:
        plain = {"trainees": [_plain(one, whole=bool(trainee)) for one in kept]}
        click.echo(json.dumps(plain, ensure_ascii=False, allow_nan=False))
        return
    if not kept:
        click.echo("Nobody has scores yet; 'benchtemp practise' makes some.", err=True)
    for one in kept:
        click.echo(f"{one.trainee}: {progress(one).sentence}")
        if told := cases_sentence(one):
            click.echo(f"  {told}")
        if trainee:
            click.echo("\n".join(_rows(one)))


def _rows(kept: History) -> list[str]:
    from benchtemp.cli.listing import one_line, table

    rows = [("when", "points", "shots", "exercise")]
    for one in kept.rounds:
        score = "—" if one.score is None else f"{one.score:.0f}"
        left = " (left)" if one.round.aborted else ""
        shots = f"{len(one.round.items)} of {one.round.count}"
        rows.append(
            (one_line(one.ended[:16].replace("T", " ")), score, shots, one_line(one.round.title) + left)
        )
    for one_case in kept.cases:
        named = f"case {one_case.case}: named {one_case.named}, {'right' if one_case.right else 'wrong'}"
        when = one_line(one_case.ended[:16].replace("T", " "))
        rows.append((when, f"{one_case.score:.0f}", str(one_case.shots), one_line(named)))
    return table(rows, right=(1,))


def _plain(kept: History, *, whole: bool) -> dict[str, Any]:
    import msgspec

    from benchtemp.teaching.scores import progress

    found = {"trainee": kept.trainee, "file": str(kept.path), "progress": msgspec.to_builtins(progress(kept))}
    return (
        {**found, "rounds": msgspec.to_builtins(kept.rounds), "cases": msgspec.to_builtins(kept.cases)}
        if whole
        else found
    )
