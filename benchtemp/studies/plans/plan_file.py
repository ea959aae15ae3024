"""Plans as TOML files: easy to read, easy to write by hand, checked when read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.atomic import write_whole
from benchtemp.logbook.folder import make_folder
from benchtemp.logbook.names import safe_part
from benchtemp.logbook.regular_file import read_regular, shown
from benchtemp.studies.plans.plan import Plan
from benchtemp.toml_text import parse_toml

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook

SUFFIX = ".toml"
SIZE_LIMIT = 256 * 1024


def parse_plan(text: str, name: str) -> Plan:
    """Read a plan.

    Args:
        text: TOML.
        name: What messages call it.

    Raises:
        BadInput: It is no plan, with what is wrong and where.
    """
    try:
        plain = parse_toml(text.encode())
    except ValueError as error:
        raise BadInput(f"{name} is no TOML file: {error}. Correct that place.") from error
    try:
        return msgspec.convert(plain, Plan)
    except msgspec.ValidationError as error:
        raise BadInput(
            f"{name} is no test plan: {_cleaned(str(error))}. Correct that and try again."
        ) from error
    except BadInput as error:
        raise BadInput(f"{name} is no test plan: {error}") from error


def _cleaned(message: str) -> str:
    """Return a message of the library as a person would put it."""
    text, _, place = message.replace("`", "").partition(" - at ")
    return (
        f"{text[:1].lower()}{text[1:]} (at {place.removeprefix('$.')})"
        if place
        else text[:1].lower() + text[1:]
    )


def load_plan(path: Path) -> Plan:
    """Read a plan's file.

    Raises:
        BadInput: There is no such file, or it is no plan.
    """
    content = read_regular(path, first=SIZE_LIMIT + 1)
    if len(content) > SIZE_LIMIT:
        raise BadInput(f"{shown(path)} is too large for a test plan.")
    try:
        return parse_plan(content.decode("utf-8-sig"), shown(path))
    except UnicodeDecodeError as error:
        raise BadInput(f"{shown(path)} is no UTF-8 text; save it as UTF-8.") from error


def plan_text(plan: Plan) -> str:
    """Return a plan as TOML."""
    import tomli_w  # noqa: PLC0415  (start-up time)

    plain = msgspec.to_builtins(plan)
    if plan.recipe is not None:
        plain["recipe"] = {
            name: value for name, value in msgspec.to_builtins(plan.recipe).items() if value is not None
        }
    return f"# {plan.summary()}\n# {plan.order_sentence()}\n\n{tomli_w.dumps(plain)}"


def save_plan(path: Path, plan: Plan, *, overwrite: bool = False) -> None:
    """Write a plan's file whole.

    Raises:
        BadInput: There is one already and `overwrite` is False.
        StorageError: The disk does not take it.
    """
    make_folder(path.parent)
    try:
        write_whole(path, [plan_text(plan).encode()], overwrite=overwrite)
    except FileExistsError:
        raise BadInput(f"There is already a plan {shown(path)}; choose another name.") from None


def plan_path(logbook: Logbook, plan: Plan) -> Path:
    """Return where a plan lies in a logbook."""
    return logbook.plans_dir / f"{safe_part(plan.name, 'plan')}{SUFFIX}"


def plans_in(logbook: Logbook) -> tuple[dict[Path, Plan], tuple[str, ...]]:
    """Return a logbook's plans by file, and complaints about files that are none."""
    found: dict[Path, Plan] = {}
    complaints: list[str] = []
    if not logbook.plans_dir.is_dir():
        return found, ()
    for path in sorted(logbook.plans_dir.glob(f"*{SUFFIX}")):
        if path.name.startswith("."):
            continue
        try:
            found[path] = load_plan(path)
        except BenchtempError as error:
            complaints.append(str(error))
    return found, tuple(complaints)


def find_plan(logbook: Logbook, named: str) -> Plan:
    """Return the plan of a file, or the one of this name in a logbook.

    Raises:
        BadInput: There is none.
    """
    path = Path(named)
    if path.suffix == SUFFIX or path.exists():
        return load_plan(path)
    plans, _ = plans_in(logbook)
    for plan in plans.values():
        if plan.name.casefold() == named.casefold():
            return plan
    names = ", ".join(f"'{plan.name}'" for plan in plans.values()) or "none"
    raise BadInput(f"There is no plan '{named}' in {shown(logbook.plans_dir)}; there: {names}.")
