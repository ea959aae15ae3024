from __future__ import annotations

from benchtemp.readings.layout import Channel, Layout
from benchtemp.window.sources.own_layouts import keep_own_layout, own_layouts, own_layouts_dir

ONE = Layout(name="Quillmore: four probes", channels=(Channel(field=1),))


def test_a_layout_is_kept_and_found_by_name():
    path = keep_own_layout(ONE)
    assert path.parent == own_layouts_dir()
    assert own_layouts() == ((ONE,), "")


def test_the_same_name_replaces_and_another_name_does_not():
    changed = Layout(name=ONE.name, channels=(Channel(field=2),))
    other = Layout(name="Quillmore four probes", channels=(Channel(field=3),))
    assert keep_own_layout(ONE) == keep_own_layout(changed)
    assert keep_own_layout(other) != keep_own_layout(changed)
    assert own_layouts()[0] == (other, changed)


def test_a_file_that_is_no_layout_is_named_and_the_others_still_count():
    keep_own_layout(ONE)
    (own_layouts_dir() / "torn.toml").write_text("name = ")
    found, complaint = own_layouts()
    assert found == (ONE,)
    assert "torn.toml" in complaint


def test_nothing_kept_nothing_found():
    assert own_layouts() == ((), "")
