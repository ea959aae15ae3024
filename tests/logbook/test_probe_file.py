import threading
import tomllib
import uuid

import msgspec
import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtemp.errors import BadInput, DamagedFile, StorageError
from benchtemp.logbook import probe_file
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.preferences import Preferences
from benchtemp.logbook.probe_file import (
    add_check,
    change_probe,
    find_probe,
    load_probe,
    load_probe_file,
    probes,
    save_probe,
)
from benchtemp.probes.calibration import CheckPoint
from benchtemp.probes.check import make_check
from benchtemp.probes.probe import DEFAULT_CHECK_DAYS, Probe
from benchtemp.probes.reference import ReferenceKind
from benchtemp.probes.response import TimeConstant
from benchtemp.probes.tolerance import ToleranceClass


def point(reported_degc, reference_degc, kind=ReferenceKind.BOILING):
    return CheckPoint(
        reported_degc=reported_degc, reference_degc=reference_degc, reference_uncertainty_k=0.1,
        reported_uncertainty_k=0.03, reported_dof=17.3, kind=kind, readings=200, sd_k=0.14, start_s=60.0,
        end_s=110.0, lowest_degc=reported_degc - 0.3, highest_degc=reported_degc + 0.3,
    )  # fmt: skip


def check(day, error_k=0.6, name="basket 1", **more):
    return make_check([point(100.0 + error_k, 100.0)], probe=name, checked=f"{day}T10:00:00+01:00", **more)


@pytest.fixture
def book(tmp_path):
    return Logbook(tmp_path / "book")


@pytest.fixture
def probe():
    two = make_check(
        [point(100.6, 100.0), point(0.2, 0.0, ReferenceKind.ICE)],
        probe="basket 1", checked="2031-05-01T10:00:00+01:00", operator="M. Tarn", limit_k=0.5,
        recording="20310501-100000_check-basket-1.ecsv", note='said "hot", = 5 °C',
    )  # fmt: skip
    plunge = TimeConstant(
        tau_s=1.2, uncertainty_s=0.01, crossing_s=1.21, plunge_s=8.0, start_degc=22.0, end_degc=99.9,
        scatter_k=0.05, measured="2031-05-01T11:00:00+01:00",
    )  # fmt: skip
    return Probe(
        name="basket 1", serial="K-17", notes="in the drilled basket", time_constant=plunge,
        tolerance_class=ToleranceClass.ASTM_SPECIAL, checks=(check("2031-01-01"), two),
    )  # fmt: skip


def test_a_probe_comes_back_as_it_was_kept(book, probe):
    path = save_probe(book, probe)
    assert path == book.probes_dir / "basket-1.toml"
    assert load_probe(book, "basket 1") == probe
    assert load_probe_file(path) == probe
    assert probes(book) == ((probe,), ())


def test_what_is_not_known_is_left_out(book):
    exact = CheckPoint(reported_degc=100.4, reference_degc=100.0)
    one = make_check([exact], probe="p", checked="2031-01-01T10:00:00+01:00")
    one = msgspec.structs.replace(one, correction=msgspec.structs.replace(one.correction, dof=None))
    path = add_check(book, "p", one)
    assert load_probe_file(path).checks == (one,)
    assert "dof" not in path.read_text(encoding="utf-8")


def test_capitals_and_spaces_do_not_matter(book, probe):
    save_probe(book, probe)
    assert load_probe(book, "  Basket   1 ") == probe
    assert find_probe(book, "basket 2") is None
    with pytest.raises(BadInput, match="there are basket 1"):
        load_probe(book, "basket 2")
    with pytest.raises(BadInput, match="check-probe"):
        load_probe(Logbook(book.root / "other"), "basket 2")


def test_a_check_is_added_to_the_history_or_makes_the_probe(book):
    add_check(book, "basket 1", check("2031-02-01"))
    path = add_check(book, "BASKET 1", check("2031-01-01", 0.4))
    found = load_probe_file(path)
    assert found.name == "basket 1"
    assert [one.checked[:10] for one in found.checks] == ["2031-01-01", "2031-02-01"]
    before = path.read_bytes()
    with pytest.raises(BadInput, match="already has a check"):
        add_check(book, "basket 1", check("2031-01-01"))
    assert path.read_bytes() == before
    assert len(list(book.probes_dir.iterdir())) == 1


def test_what_this_version_does_not_know_stays_in_the_file(book, probe):
    path = save_probe(book, probe)
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    written["colour"] = "red"
    written["checks"][1] |= {"witness": "A. Reed", "room": {"temp_degc": 21}}
    written["checks"][1]["points"][0]["stirred"] = True
    path.write_text(tomli_w.dumps(written), encoding="utf-8")
    add_check(book, "basket 1", check("2030-06-01", 0.3))
    kept = tomllib.loads(path.read_text(encoding="utf-8"))
    assert kept["colour"] == "red"
    assert [one.get("witness") for one in kept["checks"]] == [None, None, "A. Reed"]
    assert kept["checks"][2]["room"] == {"temp_degc": 21}
    assert kept["checks"][2]["points"][0]["stirred"] is True
    assert len(load_probe(book, "basket 1").checks) == 3
    change_probe(book, "basket 1", lambda now: now.without_check("2031-05-01T10:00:00+01:00"))
    assert "A. Reed" not in path.read_text(encoding="utf-8")


def test_what_was_unknown_about_a_part_goes_with_it(book, probe):
    path = save_probe(book, probe)
    text = path.read_text(encoding="utf-8").replace("tau_s = 1.2", 'tau_s = 1.2\nstirred = "yes"')
    path.write_text(text, encoding="utf-8")
    save_probe(book, msgspec.structs.replace(probe, notes="moved"))
    assert "stirred" in path.read_text(encoding="utf-8")
    save_probe(book, msgspec.structs.replace(probe, time_constant=None))
    assert load_probe(book, "basket 1").time_constant is None


@pytest.mark.parametrize(
    "damage",
    [
        b"", b"name = ", b"\xff\xfe", b"name = [5]", b'name = "x"\nchecks = 7', b'name = ""',
        b'name = "x"\ncheck = 1\n[[checks]]\nchecked = "no"', b"a = " + b"[" * 5000,
        b'name = "x"\n[time_constant]\ntau_s = "slow"', b'name = "a\\nb"',
    ],
)  # fmt: skip
def test_a_damaged_file_is_one_sentence_and_is_left_as_it_is(book, probe, damage):
    path = save_probe(book, probe)
    path.write_bytes(damage)
    with pytest.raises(DamagedFile) as told:
        load_probe(book, "basket 1")
    assert "basket-1.toml" in str(told.value)
    assert "\n" not in str(told.value)
    found, complaints = probes(book)
    assert found == ()
    assert len(complaints) == 1
    with pytest.raises(DamagedFile):
        add_check(book, "basket 1", check("2032-01-01"))
    with pytest.raises(DamagedFile):
        save_probe(book, probe)
    assert path.read_bytes() == damage


def test_a_newer_versions_file_is_refused_and_left(book, probe):
    path = save_probe(book, probe)
    path.write_text(path.read_text(encoding="utf-8").replace("format = 1", "format = 2"), encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(DamagedFile, match="update benchtemp"):
        save_probe(book, probe)
    assert path.read_bytes() == before


def test_a_history_written_in_another_order_is_put_in_order(book):
    path = save_probe(book, Probe(name="p", checks=(check("2031-06-01"), check("2031-01-01"))))
    assert [one.checked[:10] for one in load_probe_file(path).checks] == ["2031-01-01", "2031-06-01"]


HOSTILE = [
    "../../x",
    "/etc/passwd",
    "CON",
    "a/b",
    "a-b",
    "..",
    ".hidden",
    "x" * 100,
    "naïve ☕",
    "a\\b",
    "nul.toml",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_names_stay_inside_their_folder(book, name):
    path = add_check(book, name, check("2031-01-01", name=name))
    assert path.parent == book.probes_dir
    assert path.resolve().is_relative_to(book.root.resolve())
    assert load_probe(book, name).name == name
    assert [file for file in book.root.rglob("*") if file.is_file()] == [path]


def test_names_that_make_the_same_file_name_are_kept_apart(book):
    paths = {add_check(book, name, check("2031-01-01", name=name)) for name in ("a/b", "a-b", "a b", "A?B")}
    assert len(paths) == 4
    assert [load_probe(book, name).name for name in ("a/b", "a-b", "a b", "A?B")] == [
        "a/b",
        "a-b",
        "a b",
        "A?B",
    ]


@pytest.mark.parametrize("name", ["", "   ", "x" * 101, "a\nb", "a\x00b", "a\u202eb"])
def test_names_that_cannot_be_are_refused(book, name):
    with pytest.raises(BadInput):
        change_probe(book, name, lambda probe: probe)
    assert not book.probes_dir.exists() or list(book.probes_dir.iterdir()) == []


TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Cf", "Zl", "Zp", "Zs", "Co", "Cn"]), max_size=30
)


@settings(max_examples=30)
@given(TEXTS.filter(bool), TEXTS, st.floats(-5, 5), st.floats(1e-6, 1e6))
def test_anything_typed_comes_back(tmp_path, name, text, error_k, dof):
    book = Logbook(tmp_path / uuid.uuid4().hex)
    one = msgspec.structs.replace(check("2031-01-01", error_k, note=text), conditions={text or "x": text})
    one = msgspec.structs.replace(one, correction=msgspec.structs.replace(one.correction, dof=dof))
    probe = Probe(name=name, notes=text, checks=(one,))
    assert load_probe_file(save_probe(book, probe)) == probe


def test_two_windows_adding_at_once_lose_nothing(book):
    def add(month):
        add_check(book, "basket 1", check(f"2031-{month:02}-01"))

    threads = [threading.Thread(target=add, args=(month,)) for month in range(1, 9)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    assert len(load_probe(book, "basket 1").checks) == 8


def test_a_disk_that_refuses_costs_nothing_that_was_there(book, probe, monkeypatch):
    path = save_probe(book, probe)
    before = path.read_bytes()

    def refuse(*_args, **_options):
        raise StorageError("The disk is full.")

    monkeypatch.setattr(probe_file, "write_whole", refuse)
    with pytest.raises(StorageError):
        add_check(book, "basket 1", check("2032-01-01"))
    assert path.read_bytes() == before


def test_preferences_and_probes_agree_on_when_a_check_is_old():
    assert Preferences().check_days == DEFAULT_CHECK_DAYS


def test_other_files_in_the_folder_are_passed_over(book, probe):
    save_probe(book, probe)
    (book.probes_dir / "notes.txt").write_text("x", encoding="utf-8")
    (book.probes_dir / ".part.toml").write_text("x", encoding="utf-8")
    (book.probes_dir / "folder.toml").mkdir()
    assert probes(book) == ((probe,), ())
