"""Searching against an oracle that looks at every row in Python, with and without the index of trigrams."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.errors import BadInput
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import Kind, LogbookIndex, Query, Row, Sort
from benchtemp.logbook.index.file_row import FileRow
from benchtemp.logbook.index.folding import folded, needles
from benchtemp.logbook.index.query import SORT_COLUMNS
from benchtemp.logbook.index.writing import put, searchable, tie, utc_s
from benchtemp.shots.recipe import RecipeVerdict

MACHINES = ["Kestrel Two", "kestrel two", "Café Nord", "Umber", ""]
PROBES = ["basket 1", "Basket 2", "group"]
TAGS = {"coffee": ["House Blend", "low tide", "Émber"], "Setpoint": ["93.5", "100 °C", "93,5", "hot"]}
WORDS = ["steam", "Puck", "crème", "a-b", 'say "so"', "50 %", "x", "抽出温度", "wand_2", "NOT", "o'clock"]
NUMBERS = st.none() | st.floats(85, 99).map(lambda value: round(value, 1))


@st.composite
def _rows(draw: st.DrawFn) -> Row:
    kind = draw(st.sampled_from(Kind))
    is_shot = kind in (Kind.SHOT, Kind.FLUSH)
    day = f"2025-{draw(st.integers(1, 12)):02d}-{draw(st.integers(1, 28)):02d}"
    offset = draw(st.sampled_from(["", "+02:00", "-05:00"]))
    probes = tuple(draw(st.lists(st.sampled_from(PROBES), max_size=2, unique=True)))
    return Row(
        path="",
        kind=kind,
        moment=draw(st.sampled_from(["", f"{day}T10:00:00{offset}", f"{day}T23:30:00{offset}"])),
        machine=draw(st.sampled_from(MACHINES)),
        probe=probes[0] if probes else "",
        probes=probes,
        number=draw(st.integers(0, 12)),
        recording=draw(st.sampled_from(["", "a.ecsv", "b.ecsv"])),
        brew_temp_degc=draw(NUMBERS) if is_shot else None,
        dose_g=draw(NUMBERS) if is_shot else None,
        verdict=draw(st.sampled_from(RecipeVerdict)) if is_shot else None,
        counts=draw(st.booleans()) if is_shot else None,
        set_aside=draw(st.sampled_from(["", "", "channelled"])),
        tags={name: draw(st.sampled_from(TAGS[name])) for name in TAGS if draw(st.booleans())},
        notes=" ".join(draw(st.lists(st.sampled_from(WORDS), max_size=4))),
        remarks=tuple(draw(st.lists(st.sampled_from(WORDS), max_size=2))),
    )


TEXTS = st.lists(
    st.sampled_from(
        [*WORDS, "stea", "uck", "creme", "house blend", "ecsv", "blendhouse", '"ouse bl"', "%", "_", "2"]
    ),
    max_size=3,
).map(" ".join)
SOME = st.sampled_from
NARROWING = st.builds(
    Query,
    text=TEXTS,
    kinds=st.lists(SOME(Kind), max_size=2).map(tuple),
    machines=st.lists(SOME(["KESTREL TWO", "cafe nord", "nobody"]), max_size=2).map(tuple),
    probes=st.lists(SOME(["BASKET 1", "basket 2"]), max_size=2).map(tuple),
    tags=st.lists(
        SOME(
            [
                ("Coffee", "house blend"),
                ("coffee", "ember"),
                ("setpoint", ""),
                ("setpoint", "93.5"),
                ("no", ""),
            ]
        ),
        max_size=2,
    ).map(tuple),
    since=SOME(["", "", "2025-03", "2025-06-15", "2026"]),
    until=SOME(["", "", "2025", "2025-09", "2025-09-10"]),
    verdicts=st.lists(SOME(RecipeVerdict), max_size=2).map(tuple),
    counts=SOME([None, None, True, False]),
    set_aside=SOME([None, None, True, False]),
    recording=SOME(["", "", "", "a.ecsv"]),
    brew_low_degc=SOME([None, None, 90.0]),
    brew_high_degc=SOME([None, None, 95.0]),
    sort=SOME([*Sort, "tag.setpoint", "tag.COFFEE", "tag.no"]),
    descending=st.booleans(),
    limit=SOME([None, 0, 3, 100]),
    offset=SOME([0, 0, 2]),
)


SORTING = st.builds(
    Query,
    kinds=SOME([(), (Kind.SHOT, Kind.FLUSH)]),
    sort=SOME([*Sort, "tag.setpoint"]),
    descending=st.booleans(),
    limit=SOME([None, 4]),
)
ONE_BY_ONE = st.one_of(
    st.builds(Query, text=TEXTS),
    st.builds(
        Query, since=SOME(["", "2025-03", "2025-06-15"]), until=SOME(["2025", "2025-09", "2025-09-10"])
    ),
    st.builds(
        Query, counts=st.booleans(), brew_low_degc=SOME([None, 90.0]), brew_high_degc=SOME([None, 95.0])
    ),
)


def meets(row: Row, query: Query) -> bool:
    tags = {folded(name): folded(value) for name, value in row.tags.items()}
    by_name: dict[str, set[str]] = {}
    for name, value in query.tags:
        by_name.setdefault(folded(name), set()).add(folded(value))
    last = query.until + "~" if query.until else "~"
    dated = bool(query.since or query.until)
    return all(
        (
            all(needle in searchable(row) for needle in needles(query.text)),
            not query.kinds or row.kind in query.kinds,
            not query.machines or folded(row.machine) in map(folded, query.machines),
            not query.probes or {folded(probe) for probe in row.probes} & {*map(folded, query.probes)},
            all(name in tags and ("" in values or tags[name] in values) for name, values in by_name.items()),
            not dated or (row.day and query.since <= row.day <= last),
            not query.verdicts or row.verdict in query.verdicts,
            query.counts is None or row.counts is query.counts,
            query.set_aside is None or bool(row.set_aside) is query.set_aside,
            not query.recording or row.recording == query.recording,
            query.brew_low_degc is None
            or (row.brew_temp_degc is not None and row.brew_temp_degc >= query.brew_low_degc),
            query.brew_high_degc is None
            or (row.brew_temp_degc is not None and row.brew_temp_degc <= query.brew_high_degc),
        )
    )


def in_order(rows: list[Row], query: Query) -> list[Row]:
    rows = sorted(rows, key=lambda row: tie(row.path), reverse=query.descending)

    def by(value_of, found: list[Row]) -> list[Row]:  # type: ignore[no-untyped-def]
        with_value = [row for row in found if value_of(row) is not None]
        without = [row for row in found if value_of(row) is None]
        return sorted(with_value, key=value_of, reverse=query.descending) + without

    rows = by(lambda row: utc_s(row.moment), rows)
    if query.sort.startswith("tag."):
        wanted = folded(query.sort[4:])

        def tag(row: Row) -> str | None:
            return {folded(name): folded(value) for name, value in row.tags.items()}.get(wanted)

        numbers = {"93.5": 93.5, "100 °c": 100.0, "93,5": 93.5}
        rows = by(tag, rows)
        numbered = by(lambda row: numbers.get(tag(row) or ""), [row for row in rows if tag(row) in numbers])
        return numbered + [row for row in rows if tag(row) not in numbers]
    column = SORT_COLUMNS[Sort(query.sort)].removeprefix("f.")
    values = {
        "utc_s": lambda row: utc_s(row.moment),
        "p.name": lambda row: folded(row.name),
        "machine": lambda row: folded(row.machine) or None,
        "probe": lambda row: folded(row.probe) or None,
        "number": lambda row: row.number or None,
    }
    return by(values.get(column, lambda row: getattr(row, column)), rows)


@settings(max_examples=50)
@given(
    found=st.lists(_rows(), max_size=12),
    queries=st.tuples(NARROWING, SORTING, SORTING, ONE_BY_ONE, ONE_BY_ONE),
)
def test_every_search_finds_and_sorts_as_looking_at_each_row_would(
    found: list[Row], queries: tuple[Query, ...], tmp_path_factory: pytest.TempPathFactory
) -> None:
    logbook = Logbook(tmp_path_factory.getbasetemp() / "searched")
    rows = [msgspec.structs.replace(row, path=f"shots/2025-01/s{n:02d}.ecsv") for n, row in enumerate(found)]
    for full_text in (True, False):
        index = LogbookIndex(logbook, full_text=full_text)
        index._store.empty()
        index._store.write(lambda db: put(db, [FileRow(row, b"{}") for row in rows], 1))
        for query in queries:
            expected = in_order([row for row in rows if meets(row, query)], query)
            end = None if query.limit is None else query.offset + query.limit
            page = index.search(query)
            assert page.total == len(expected)
            assert list(page.rows) == expected[query.offset : end]
            assert index.paths(query) == tuple(logbook.root / row.path for row in page.rows)
            places = index.places(query)
            assert [*index.rows(places).values()] == list(page.rows)
            assert [row for row, _ in index.headers_of(places)] == list(page.rows)
            assert [row for row, _ in index.headers(query)] == list(page.rows)


@pytest.mark.parametrize("full_text", [True, False])
def test_words_find_what_a_shot_is_and_came_to(logbook: Logbook, *, full_text: bool) -> None:
    index = LogbookIndex(logbook, full_text=full_text)
    moment = "2025-11-07T09:15:00+01:00"
    good = Row(
        path="a.ecsv", kind=Kind.SHOT, number=3, moment=moment, counts=True, verdict=RecipeVerdict.WITHIN
    )
    bad = msgspec.structs.replace(
        good,
        path="b.ecsv",
        counts=False,
        verdict=RecipeVerdict.OUTSIDE,
        set_aside="gusher",
        reasons=("ran 29.4 s, window 22–28 s", "set aside: gusher"),
    )
    index._store.write(lambda db: put(db, [FileRow(row, b"{}") for row in (good, bad)], 1))
    for words, found in {
        "2025-11-07": {"a.ecsv", "b.ecsv"},
        '"11-07 09:15"': {"a.ecsv", "b.ecsv"},
        '"shot 3"': {"a.ecsv", "b.ecsv"},
        "recipe kept": {"a.ecsv"},
        "counts": {"a.ecsv"},
        '"does not count"': {"b.ecsv"},
        "outside recipe": {"b.ecsv"},
        "set aside gusher": {"b.ecsv"},
        "29.4": {"b.ecsv"},
    }.items():
        assert set(index.places(Query(text=words))) == found, words


def test_this_computer_searches_by_trigrams(index: LogbookIndex) -> None:
    assert index._store.full_text, "the tests compare it with searching without, so it has to be here"


@pytest.mark.parametrize(
    "text", ['"', "'", "a\0b", "\ud800x", "OR AND NOT", 'x" OR "y', "(((", "*", "NEAR/2", "\U0001d518"]
)
@pytest.mark.parametrize("full_text", [True, False])
def test_nothing_typed_upsets_the_search(logbook: Logbook, *, full_text: bool, text: str) -> None:
    index = LogbookIndex(logbook, full_text=full_text)
    assert index.search(Query(text=text, machines=(text,), probes=(text,), tags=((text, text),))).total == 0


@pytest.mark.parametrize(
    "day", ["yesterday", "2025-13", "2025-1-1", "25-11-25", "2025-11-32", "2025-11-25T10"]
)
def test_a_day_that_is_none_is_refused(day: str) -> None:
    with pytest.raises(BadInput, match="is no day"):
        Query(since=day)


def test_sorting_by_what_is_not_there_is_refused() -> None:
    with pytest.raises(BadInput, match="cannot be sorted by 'colour'"):
        Query(sort="colour")
    with pytest.raises(BadInput, match="page"):
        Query(limit=-1)


def test_choices_are_told_as_written_most_used_first(index: LogbookIndex) -> None:
    rows = [
        Row(path="a", machine="Umber", tags={"coffee": "low tide", "setpoint": "93"}, probes=("group",)),
        Row(path="b", machine="Café Nord", tags={"Coffee": "House Blend"}, probes=("basket 1", "group")),
        Row(path="c", machine="Café Nord", tags={"coffee": "House Blend"}, probes=()),
    ]
    index._store.write(lambda db: put(db, [FileRow(row, b"{}") for row in rows], 1))
    choices = index.choices()
    assert choices.machines == ("Café Nord", "Umber")
    assert choices.probes == ("group", "basket 1")
    assert {name.casefold(): values for name, values in choices.tags.items()} == {
        "coffee": ("House Blend", "low tide"),
        "setpoint": ("93",),
    }
