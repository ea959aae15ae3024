"""Which files of the logbook a command line means, and bringing the list of them up to date."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from benchtemp.cli.options import open_logbook
from benchtemp.errors import BadInput, BenchtempError

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.logbook.index import LogbookIndex, Query

Command = TypeVar("Command", bound=Callable[..., Any])

_FILES_WORTH_A_BAR = 300


def query_options(command: Command) -> Command:
    """Add the words and options that narrow down what is meant."""
    many: dict[str, Any] = {"multiple": True, "metavar": "NAME"}
    for option in reversed(
        [
            click.argument("words", nargs=-1),
            click.option("--tag", "tags", multiple=True, metavar="NAME[=VALUE]", help="Has this tag."),
            click.option("--machine", "machines", help="Of this machine.", **many),
            click.option("--probe", "probes", help="With this probe.", **many),
            click.option("--since", default="", metavar="DAY", help="From this day, month or year on."),
            click.option("--until", default="", metavar="DAY", help="Up to this day, month or year."),
            click.option(
                "--kind",
                "kinds",
                multiple=True,
                type=click.Choice(["shot", "flush", "recording", "unreadable"]),
                help="Only these.",
            ),
            click.option(
                "--verdict",
                "verdicts",
                multiple=True,
                type=click.Choice(["within", "outside", "not given"]),
                help="Whether the recipe was kept.",
            ),
            click.option("--counts/--does-not-count", default=None, help="Whether studies use it."),
            click.option("--set-aside/--not-set-aside", default=None, help="Whether you left it out."),
            click.option("--recording", default="", metavar="FILE", help="Cut from this recording."),
            click.option("--sort", default="moment", metavar="WHAT", help="See below; usually moment."),
            click.option("--ascending", is_flag=True, help="Smallest or oldest first."),
        ]
    ):
        command = option(command)
    return command


def query_from(options: dict[str, Any], *, limit: int | None = None, offset: int = 0) -> Query:
    """Return what the words and options of `query_options` ask for.

    Raises:
        BadInput: One of them makes no sense.
    """
    from benchtemp.logbook.index import Kind, Query
    from benchtemp.shots.recipe import RecipeVerdict

    # The shell has taken the quotes of a phrase away.
    words = (f'"{word}"' if " " in word else word for word in options["words"])
    return Query(
        text=" ".join(words),
        kinds=tuple(map(Kind, options["kinds"])),
        machines=options["machines"],
        probes=options["probes"],
        tags=tuple((name, value) for name, _, value in (tag.partition("=") for tag in options["tags"])),
        since=options["since"],
        until=options["until"],
        verdicts=tuple(map(RecipeVerdict, options["verdicts"])),
        counts=options["counts"],
        set_aside=options["set_aside"],
        recording=options["recording"],
        sort=options["sort"],
        descending=not options["ascending"],
        limit=limit,
        offset=offset,
    )


@contextmanager
def progress_bar(description: str) -> Iterator[Callable[[int, int], None]]:
    """Give what shows progress on stderr, where a person watches and there is something to wait for."""
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task(description, total=None, visible=False)

        def told(done: int, total: int) -> None:
            progress.update(task, completed=done, total=total, visible=total >= _FILES_WORTH_A_BAR)

        yield told


def indexed(folder: Path | None) -> LogbookIndex:
    """Return the index of the logbook a command works in, brought up to date."""
    from benchtemp.logbook.index import LogbookIndex

    index = LogbookIndex(open_logbook(folder))
    with progress_bar("reading what is new") as told:
        index.update(told)
    return index


def find_file(logbook: Logbook, name: str) -> Path:
    """Return the file that is meant: a path, a path within the logbook, or the name of a file in it.

    Raises:
        BadInput: There is none, or more than one.
    """
    from benchtemp.logbook.index.scan import scan

    for path in (logbook.root / name, Path(name)):
        if path.is_symlink() or path.is_file():
            return path
    wanted = {name, f"{name}.ecsv"}
    found = [file.path for file in scan(logbook) if file.path.rpartition("/")[2] in wanted]
    if len(found) == 1:
        return logbook.root / found[0]
    if found:
        raise BadInput(f"'{name}' names several files ({', '.join(found)}); give the whole path.")
    raise BadInput(f"There is no file '{name}' in the logbook {logbook.root}; 'logbook search' lists them.")


def for_each(folder: Path | None, names: tuple[str, ...], work: Callable[[Logbook, Path], str]) -> int:
    """Do something with each file named, tell what was done, and bring the index up to date.

    A file with which it cannot be done is told on stderr, and the others are done all the same.
    """
    from benchtemp.logbook.index import LogbookIndex

    logbook = open_logbook(folder)
    touched, bad = [], 0
    for name in names:
        try:
            path = find_file(logbook, name)
            click.echo(work(logbook, path))
            touched.append(path)
        except BenchtempError as error:
            bad += 1
            click.echo(str(error), err=True)
    if touched:
        LogbookIndex(logbook).refresh(touched)
    return 1 if bad else 0
