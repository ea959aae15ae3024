"""What can be asked of the index, and the SQL that asks it."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Any

import msgspec

from benchtemp.errors import BadInput
from benchtemp.logbook.index.folding import folded, needles
from benchtemp.logbook.index.row import Kind, Row
from benchtemp.shots.recipe import RecipeVerdict

_DAY = re.compile(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?\Z")
TAG_SORT = "tag."
HITS = "temp.hits"
"""Where files lie that were found by their texts: looked up once, used several times."""
TRIGRAM = 3
"""Characters that a word must have to be found by trigrams."""


class Sort(StrEnum):
    """What rows can be sorted by, besides `tag.NAME`."""

    MOMENT = "moment"
    FILE = "file"
    KIND = "kind"
    MACHINE = "machine"
    PROBE = "probe"
    NUMBER = "number"
    BREW_TEMP = "brew temperature"
    SD = "sd"
    DRIFT = "drift"
    TO_PLATEAU = "time to plateau"
    PLATEAU = "plateau"
    TIME = "shot time"
    DOSE = "dose"
    YIELD = "yield"
    RATIO = "brew ratio"
    IN_BAND = "in band"
    VERDICT = "verdict"
    COUNTS = "counts"


SORT_COLUMNS = {
    Sort.MOMENT: "f.utc_s",
    Sort.FILE: "p.name",
    Sort.KIND: "f.kind",
    Sort.MACHINE: "f.machine",
    Sort.PROBE: "f.probe",
    Sort.NUMBER: "f.number",
    Sort.BREW_TEMP: "f.brew_temp_degc",
    Sort.SD: "f.sd_k",
    Sort.DRIFT: "f.drift_k_per_s",
    Sort.TO_PLATEAU: "f.time_to_plateau_s",
    Sort.PLATEAU: "f.plateau_s",
    Sort.TIME: "f.shot_time_s",
    Sort.DOSE: "f.dose_g",
    Sort.YIELD: "f.yield_g",
    Sort.RATIO: "f.brew_ratio",
    Sort.IN_BAND: "f.in_band_share",
    Sort.VERDICT: "f.verdict",
    Sort.COUNTS: "f.counts",
}


class Query(msgspec.Struct, frozen=True, kw_only=True):
    """Which rows are wanted, in which order; what is left empty does not narrow.

    Case and accents do not matter. A row must meet every field; within one field any of its values will do.

    Attributes:
        text: Words (and phrases in double quotes) that must all occur somewhere in the notes, tags, machine,
            probes, reason for setting aside or file name; parts of words will do.
        tags: Pairs of name and value; of several values for one name any will do. An empty value asks that
            there is such a tag at all.
        since, until: First and last day, `2025-11-25`, or a whole month or year, `2025-11`, `2025`; as
            written in the files.
        recording: File name of the recording that shots were cut from.
        brew_low_degc, brew_high_degc: Bounds of the brew temperature.
        sort: One of `Sort`, or `tag.NAME`. Rows without a value come last either way.
        limit: At most so many rows; None for all.
        offset: Rows to pass over first.
    """

    text: str = ""
    kinds: tuple[Kind, ...] = ()
    machines: tuple[str, ...] = ()
    probes: tuple[str, ...] = ()
    tags: tuple[tuple[str, str], ...] = ()
    since: str = ""
    until: str = ""
    verdicts: tuple[RecipeVerdict, ...] = ()
    counts: bool | None = None
    set_aside: bool | None = None
    recording: str = ""
    brew_low_degc: float | None = None
    brew_high_degc: float | None = None
    sort: str = Sort.MOMENT
    descending: bool = True
    limit: int | None = 100
    offset: int = 0

    def __post_init__(self) -> None:
        for day in (self.since, self.until):
            if day and not _DAY.match(day):
                raise BadInput(f"'{day[:40]}' is no day; write 2025-11-25, or 2025-11 for a whole month.")
        if not self.sort.startswith(TAG_SORT) and self.sort not in SORT_COLUMNS:
            raise BadInput(
                f"Rows cannot be sorted by '{self.sort[:40]}'; choose one of {', '.join(Sort)}, tag.NAME."
            )
        if self.offset < 0 or (self.limit is not None and self.limit < 0):
            raise BadInput("A page cannot begin before the first row or have fewer than no rows.")


class Page(msgspec.Struct, frozen=True):
    """Some rows of all that were found.

    Attributes:
        rows: In the order asked for.
        total: How many there are without `limit` and `offset`.
    """

    rows: tuple[Row, ...]
    total: int


class Sql:
    """A query as SQL: `FROM …`, `WHERE …` and `ORDER BY …` with the values for their placeholders.

    A plus before an id keeps SQLite from picking files one by one: going through all of a narrow table is
    quicker.

    Attributes:
        joins, where, order: Parts of a SELECT from `looks AS f`.
        hits: The SELECT that finds files by their texts, with its values; what it finds goes into `HITS`.
            None where no words are asked for.
    """

    def __init__(self, query: Query, *, full_text: bool) -> None:
        """Build it.

        Args:
            query: What is asked.
            full_text: Whether the index of trigrams is there.
        """
        self.joins = ""
        self.hits: tuple[str, list[str]] | None = None
        self._full_text = full_text
        self._terms: list[str] = []
        self._values: list[Any] = []
        self._joined: list[Any] = []
        self._text(query.text)
        self._one_of("f.kind", query.kinds)
        self._one_of("f.machine", tuple(map(folded, query.machines)))
        self._one_of("f.verdict", query.verdicts)
        if query.recording:
            # A name that is no text stands in no header; asked for as it is, it would be no value either.
            named = query.recording.encode("utf-8", "replace").decode()
            self._add("+f.id IN (SELECT id FROM files WHERE recording = ?)", named)
        self._exists("probes", "name", tuple(map(folded, query.probes)))
        self._tags(query.tags)
        if query.since:
            self._add("f.day >= ?", query.since)
        if query.until:
            # "~" comes after "-" and all digits: a month or year takes in all its days.
            self._add("f.day BETWEEN '0' AND ?", query.until + "~")
        if query.counts is not None:
            self._add("f.counts = ?", int(query.counts))
        if query.set_aside is not None:
            self._add("f.aside = ?", int(query.set_aside))
        if query.brew_low_degc is not None:
            self._add("f.brew_temp_degc >= ?", query.brew_low_degc)
        if query.brew_high_degc is not None:
            self._add("f.brew_temp_degc <= ?", query.brew_high_degc)
        self.where = f" WHERE {' AND '.join(self._terms)}" if self._terms else ""
        self.order = self._order(query)

    @property
    def values(self) -> list[Any]:
        """Return the values for the placeholders, in order."""
        return [*self._joined, *self._values]

    def _add(self, term: str, *values: Any) -> None:
        self._terms.append(term)
        self._values.extend(values)

    def _one_of(self, column: str, values: tuple[Any, ...]) -> None:
        if values:
            self._add(f"{column} IN ({_marks(values)})", *map(str, values))

    def _exists(self, table: str, column: str, values: tuple[str, ...]) -> None:
        if values:
            self._add(
                f"+f.id IN (SELECT file FROM {table} WHERE {column} IN ({_marks(values)}))",  # noqa: S608
                *values,
            )

    def _tags(self, tags: tuple[tuple[str, str], ...]) -> None:
        by_name: dict[str, list[str]] = {}
        for name, value in tags:
            by_name.setdefault(folded(name), []).append(folded(value))
        for name, values in by_name.items():
            among = "" if "" in values else f" AND value IN ({_marks(values)})"
            self._add(
                f"+f.id IN (SELECT file FROM tags WHERE name = ?{among})",  # noqa: S608
                name,
                *(values if among else ()),
            )

    def _text(self, text: str) -> None:
        long, short = [], []
        for needle in needles(text):
            if self._full_text and len(needle) >= TRIGRAM:
                long.append('"' + needle.replace('"', '""') + '"')
            else:
                short.append(needle)
        if not long and not short:
            return
        self._terms.append(f"+f.id IN {HITS}")
        every = ["instr(folded, ?)"] * len(short)
        words = [" AND ".join(long)] if long else []
        by_trigrams = "SELECT rowid FROM trigrams WHERE trigrams MATCH ?"
        if not short:
            self.hits = by_trigrams, words
            return
        among = [f"id IN ({by_trigrams})"] if long else []
        self.hits = f"SELECT id FROM texts WHERE {' AND '.join(among + every)}", [*words, *short]  # noqa: S608

    def _order(self, query: Query) -> str:
        way = "DESC" if query.descending else "ASC"
        if query.sort.startswith(TAG_SORT):
            self.joins = " LEFT JOIN tags AS t ON t.file = f.id AND t.name = ?"
            self._joined = [folded(query.sort.removeprefix(TAG_SORT))]
            first = f"t.value IS NULL, t.number IS NULL, t.number {way}, t.value {way}"
        else:
            first = f"{SORT_COLUMNS[Sort(query.sort)]} {way} NULLS LAST"
            if query.sort == Sort.FILE:
                self.joins = " JOIN files AS p ON p.id = f.id"
        second = "" if query.sort == Sort.MOMENT else f", f.utc_s {way} NULLS LAST"
        return f" ORDER BY {first}{second}, f.tie {way}"


def _marks(values: tuple[Any, ...] | list[Any]) -> str:
    return ", ".join("?" * len(values))
