"""What the operator enters: recipe, tags, dose and yield, kept as `set` marks so that a recording holds them.

    set dose_g=18                   from here on
    set recipe.time_low_s=20        from here on (any field of Recipe)
    set tag.coffee=house blend      from here on; an empty value takes the tag away
    set shot 3 yield_g=36.4         for shot 3 of this recording (dose_g, yield_g, tag.*)

"From here on" includes a shot under way: what holds when the pump stops is what the shot gets.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import isfinite

import msgspec

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.readings.reading import Mark, MarkKind
from benchtemp.shots.recipe import Recipe

TAG_LENGTH_MAX = 200
TAGS_MAX = 40


class ShotEntries(msgspec.Struct, frozen=True, kw_only=True):
    """What was entered for one shot."""

    recipe: Recipe
    tags: dict[str, str] = {}
    dose_g: float | None = None
    yield_g: float | None = None


def _grams(name: str, written: str) -> float | None:
    if not written.strip():
        return None
    try:
        grams = float(written.replace(",", "."))
    except ValueError:
        grams = float("nan")
    if not isfinite(grams) or not 0 < grams < 10_000:
        raise BadInput(f"'{written}' is no {name.replace('_g', '')}; give it in grams, such as 18.2.")
    return grams


def _with_tag(tags: Mapping[str, str], name: str, value: str) -> dict[str, str]:
    changed = dict(tags)
    if not name or len(name) > TAG_LENGTH_MAX or len(value) > TAG_LENGTH_MAX:
        raise BadInput(f"A tag and its value must have between 1 and {TAG_LENGTH_MAX} characters.")
    if value:
        changed[name] = value
    else:
        changed.pop(name, None)
    if len(changed) > TAGS_MAX:
        raise BadInput(f"More than {TAGS_MAX} tags on one shot are refused; take one away first.")
    return changed


class Entries(msgspec.Struct, frozen=True, kw_only=True):
    """All that has been entered so far in a recording.

    Attributes:
        recipe: In force for the next shot; its `dose_g` is the dose.
        tags: In force for the next shot.
        by_shot: Values entered for a certain shot, by its number.
    """

    recipe: Recipe = Recipe()
    tags: dict[str, str] = {}
    by_shot: dict[int, dict[str, str]] = {}

    def taking(self, text: str) -> Entries:
        """Return the entries after a `set` mark with this text.

        Raises:
            BadInput: The text is not a value this program knows.
        """
        number, assignment = self._addressed(text)
        name, equals, value = assignment.partition("=")
        name, value = name.strip(), value.strip()
        if not equals:
            raise BadInput(f"'set {text}' has no value; write for instance 'set dose_g=18'.")
        if number is not None:
            entered = dict(self.by_shot.get(number, {}))
            entered[name] = value
            self._check_for_shot(name, value)
            return msgspec.structs.replace(self, by_shot={**self.by_shot, number: entered})
        if name == "dose_g":
            return msgspec.structs.replace(
                self, recipe=msgspec.structs.replace(self.recipe, dose_g=_grams(name, value))
            )
        if name.startswith("tag."):
            return msgspec.structs.replace(self, tags=_with_tag(self.tags, name[4:], value))
        if name.startswith("recipe."):
            return msgspec.structs.replace(self, recipe=self._with_recipe_field(name[7:], value))
        raise BadInput(f"'set {text}' names nothing that can be set; dose_g, tag.NAME and recipe.FIELD can.")

    @staticmethod
    def _addressed(text: str) -> tuple[int | None, str]:
        words = text.split(maxsplit=2)
        if len(words) == 3 and words[0] == "shot" and words[1].isdecimal() and len(words[1]) < 7:
            return int(words[1]), words[2]
        return None, text

    @staticmethod
    def _check_for_shot(name: str, value: str) -> None:
        if name in {"dose_g", "yield_g"}:
            _grams(name, value)
        elif name.startswith("tag."):
            _with_tag({}, name[4:], value)
        else:
            raise BadInput(f"'{name}' cannot be set for one shot; dose_g, yield_g and tag.NAME can.")

    def _with_recipe_field(self, field: str, value: str) -> Recipe:
        plain = msgspec.structs.asdict(self.recipe)
        if field not in plain:
            raise BadInput(f"A recipe has no '{field}'; it has {', '.join(plain)}.")
        try:
            plain[field] = float(value.replace(",", ".")) if value else None
            return msgspec.convert(plain, Recipe)
        except (ValueError, msgspec.ValidationError) as error:
            if isinstance(error, BadInput):
                raise
            raise BadInput(f"'{value}' is no value for the recipe's {field}; give a number.") from error

    def for_shot(self, number: int) -> ShotEntries:
        """Return what holds for a shot that ends now, with what was entered for its number."""
        own = self.by_shot.get(number, {})
        tags = dict(self.tags)
        for name, value in own.items():
            if name.startswith("tag."):
                tags = _with_tag(tags, name[4:], value)
        dose_g = _grams("dose_g", own["dose_g"]) if "dose_g" in own else self.recipe.dose_g
        yield_g = _grams("yield_g", own["yield_g"]) if "yield_g" in own else None
        return ShotEntries(recipe=self.recipe, tags=tags, dose_g=dose_g, yield_g=yield_g)


def entries_until(
    start: Entries, marks: Iterable[Mark], until_s: float | None
) -> tuple[Entries, tuple[str, ...]]:
    """Return the entries in force at a time, with those made for single shots at any time, and complaints.

    Args:
        start: What the recording's header holds.
        marks: All marks of the recording, in file order.
        until_s: Time at which "from here on" values are looked at; None for the end.
    """
    entries = start
    complaints = []
    for mark in marks:
        if mark.kind is not MarkKind.SET:
            continue
        if until_s is not None and mark.t_s > until_s and not mark.text.startswith("shot "):
            continue
        try:
            entries = entries.taking(mark.text)
        except BenchtempError as error:
            complaints.append(f"The mark at {mark.t_s:g} s was passed over: {error}")
    return entries, tuple(complaints)
