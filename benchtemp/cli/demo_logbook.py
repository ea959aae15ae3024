"""`benchtemp demo-logbook`: a logbook to look at, an invented workshop's week."""

from __future__ import annotations

from pathlib import Path

import click

from benchtemp.cli.options import logbook_option


@click.command(name="demo-logbook")
@click.option(
    "--seed", type=click.IntRange(0, 2**20), default=1, help="Of all that is left to chance; usually 1."
)
@logbook_option
def demo_logbook(*, seed: int, logbook: Path | None) -> None:
    """Build a logbook of an invented workshop's week: four made-up machines, plans, about 120 shots.

    It goes into an empty folder; your own logbook is not touched.

    \b
    Examples:
      benchtemp demo-logbook
      benchtemp demo-logbook --logbook week
      benchtemp study steadiness --logbook week --machine "Ferrowick Two"
    """
    from benchtemp.logbook.folder import Logbook
    from benchtemp.places import default_logbook_dir
    from benchtemp.studies.workshop.week import build_week

    folder = logbook or default_logbook_dir().with_name("benchtemp demo week")
    count = build_week(Logbook(folder), seed=seed, tell=lambda text: click.echo(text, err=True))
    click.echo(f"{count} shots are in {folder}.")
    click.echo(
        f'Look at them with: benchtemp study steadiness --logbook "{folder}" --machine "Ferrowick Two"'
    )
