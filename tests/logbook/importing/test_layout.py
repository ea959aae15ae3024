import msgspec
import pytest

from benchtemp.errors import BadInput, BenchtempError
from benchtemp.logbook.importing import (
    Given,
    TableLayout,
    Temperature,
    Timing,
    changed,
    keep_table_layout,
    load_table_layout,
    named_table_layout,
    save_table_layout,
    table_layouts,
)

FULL = TableLayout(
    name="bench meter",
    description="Card of the meter on bench two",
    encoding="utf-16-le",
    delimiter=";",
    decimal=",",
    columns=5,
    skip_lines=2,
    heading=("Datum", "Zeit", "Fühler 1", "Einheit", "T2 °F"),
    time=Timing(kind="clock", column=2, date_column=1, order="dmy"),
    temperatures=(
        Temperature(column=3, unit_column=4),
        Temperature(column=5, unit="degF", unit_follows=True),
    ),
)
SMALL = TableLayout(time=Timing(kind="interval", interval_s=0.5), temperatures=(Temperature(column=1),))


@pytest.mark.parametrize("layout", [FULL, SMALL])
def test_a_layout_comes_back_from_its_file(tmp_path, layout):
    path = tmp_path / "deep" / "layout.toml"
    save_table_layout(layout, path)
    assert load_table_layout(path) == layout


def test_many_dots_in_a_text_come_back_and_in_a_name_are_refused(tmp_path):
    layout = msgspec.structs.replace(FULL, description="." * 5000)
    save_table_layout(layout, tmp_path / "dots.toml")
    assert load_table_layout(tmp_path / "dots.toml") == layout
    (tmp_path / "parts.toml").write_text("a." * 30_000 + "a = 1")
    with pytest.raises(BadInput, match=r"parts.toml cannot be used: it has a name of more than"):
        load_table_layout(tmp_path / "parts.toml")


def test_layouts_are_kept_under_their_names():
    first = keep_table_layout(FULL)
    other = keep_table_layout(msgspec.structs.replace(FULL, name="bench/meter", decimal="."))
    assert first != other
    again = msgspec.structs.replace(FULL, description="changed")
    assert keep_table_layout(again) == first
    assert named_table_layout("bench meter") == again
    assert [layout.name for layout in table_layouts()[0]] == ["bench meter", "bench/meter"]


def test_a_name_cannot_leave_the_folder(own_folders):
    path = keep_table_layout(msgspec.structs.replace(FULL, name="../../x"))
    assert path.parent == own_folders / "own-preferences" / "table-layouts"
    assert named_table_layout("../../x").name == "../../x"


def test_a_layout_without_a_name_is_not_kept():
    with pytest.raises(BadInput, match="needs a name"):
        keep_table_layout(SMALL)


def test_a_name_that_is_not_there_lists_those_that_are():
    with pytest.raises(BadInput, match="none was kept"):
        named_table_layout("x")
    keep_table_layout(FULL)
    with pytest.raises(BadInput, match="there are: bench meter"):
        named_table_layout("x")


def test_a_damaged_file_costs_only_itself(own_folders):
    keep_table_layout(FULL)
    (own_folders / "own-preferences" / "table-layouts" / "bad.toml").write_text("time = 3")
    layouts, complaint = table_layouts()
    assert layouts == (FULL,)
    assert "bad.toml" in complaint


@pytest.mark.parametrize(
    "change",
    [
        {"delimiter": "ab"},
        {"delimiter": "1"},
        {"delimiter": '"'},
        {"delimiter": "\n"},
        {"encoding": "klingon"},
        {"columns": 300},
        {"columns": 2},
        {"skip_lines": -1},
        {"heading": ("x" * 500,)},
        {"name": "x" * 500},
        {"temperatures": ()},
        {"temperatures": tuple(Temperature(column=column) for column in range(10, 20))},
        {"temperatures": (Temperature(column=3), Temperature(column=3))},
        {"temperatures": (Temperature(column=2),)},
        {"temperatures": (Temperature(column=0),)},
        {"temperatures": (Temperature(column=3, unit_column=9),)},
        {"time": Timing(kind="clock")},
        {"time": Timing(kind="elapsed", column=2, date_column=1)},
        {"time": Timing(kind="epoch", column=2, unit="mm:ss")},
        {"time": Timing(kind="interval", interval_s=-1.0)},
        {"time": Timing(kind="interval", interval_s=float("nan"))},
        {"time": Timing(kind="elapsed", column=2, start_labels=("a", "b", "c"))},
        {"time": Timing(kind="elapsed", column=2, start_labels=(" ",))},
    ],
)
def test_what_contradicts_itself_is_refused(change):
    fields = {name: getattr(FULL, name) for name in FULL.__struct_fields__}
    with pytest.raises(BadInput):
        TableLayout(**{**fields, **change})


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff\xfe",
        b"name = 'x'",
        b"time = {kind = 'sundial'}",
        b"[time]\nkind='elapsed'\ncolumn=1\n[[temperatures]]\ncolumn=2\ncolour='red'",
        b"[time]\nkind='elapsed'\ncolumn=1\n[[temperatures]]\ncolumn=99999999999999999999",
        b"a = " + b"[" * 5000,
        b"x = '" + b"y" * 70_000 + b"'",
    ],
)
def test_a_file_that_is_no_layout_ends_in_a_sentence(tmp_path, content):
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    with pytest.raises(BenchtempError, match=r"bad\.toml"):
        load_table_layout(path)


class TestChanged:
    def test_nothing_stated_changes_nothing(self):
        assert changed(FULL, Given()) == FULL

    def test_units_and_columns(self):
        layout = changed(FULL, Given(temperature_columns=("T2 °F", 3)))
        assert layout.temperatures == (FULL.temperatures[1], FULL.temperatures[0])
        assert changed(FULL, Given(unit="K")).temperatures == (
            Temperature(column=3, unit="K"),
            Temperature(column=5, unit="K"),
        )

    def test_times(self):
        assert changed(FULL, Given(order="mdy")).time.order == "mdy"
        assert changed(FULL, Given(elapsed_unit="ms")).time == Timing(
            kind="elapsed", column=2, order="dmy", unit="ms"
        )
        assert changed(FULL, Given(interval_s=2.0)).time == Timing(kind="interval", interval_s=2.0)
        assert changed(FULL, Given(time_column="zeit", date_column=1)).time == FULL.time

    def test_text(self):
        layout = changed(FULL, Given(encoding="cp1252", delimiter="\t", decimal=".", skip_lines=0))
        assert (layout.encoding, layout.delimiter, layout.decimal, layout.skip_lines) == (
            "cp1252",
            "\t",
            ".",
            0,
        )

    def test_contradictions_are_refused(self):
        with pytest.raises(BadInput):
            changed(FULL, Given(temperature_columns=(1,)))
