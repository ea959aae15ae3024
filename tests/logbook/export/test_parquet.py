"""The dataset, questioned by an engine that knows nothing of this program."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import duckdb
import pyarrow.dataset
import pytest

from benchtemp.errors import BadInput
from benchtemp.logbook.export.parquet import require_parquet, write_dataset
from benchtemp.logbook.export.record import records
from benchtemp.logbook.index import LogbookIndex, Query

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from benchtemp.logbook.export.parquet import Written

HOSTILE = [
    "../../x",
    "..",
    ".",
    "/etc/passwd",
    "C:\\x",
    "a/b\\c:d*e?f",
    "CON",
    "x.",
    " ",
    "50 % = half",
    "Café 抽出 ☕",
    "'; DROP TABLE shots; --",
    "\n",
    "",
]


def export(index: LogbookIndex, folder: Path, *, bench: str = "North", **query: Any) -> Written:
    found = records(index, Query(limit=None, **query), bench=bench)
    return write_dataset(folder, found, bench=bench, logbook=index.logbook)


def ask(folder: Path, question: str) -> list[tuple[Any, ...]]:
    with duckdb.connect() as db:
        dataset = f"read_parquet('{folder}/**/*.parquet', hive_partitioning = true)"
        return db.execute(question.replace("DATASET", dataset)).fetchall()


def test_an_engine_finds_machines_months_figures_and_tags(
    filled: Callable[..., LogbookIndex], tmp_path: Path
) -> None:
    index = filled(("Kestrel Two", "2025-11"), ("Kestrel Two", "2025-12"), ("Umber", "2025-12"))
    done = export(index, tmp_path / "all")
    assert (done.shots, done.files, done.removed) == (3, 3, 0)
    question = "SELECT machine, count(*), avg(brew_temp_degc) FROM DATASET GROUP BY machine ORDER BY machine"
    assert ask(tmp_path / "all", question) == [("Kestrel Two", 2, 94.5), ("Umber", 1, 96.0)]
    question = "SELECT number, tags['coffee'], notes, remarks FROM DATASET WHERE month = '2025-11'"
    assert ask(tmp_path / "all", question) == [
        (1, "house blend", "wet puck\n-0.5 g spilt", ["+1 remark"]),
    ]
    question = "SELECT max(CAST(pulled AS TIMESTAMPTZ)) - min(CAST(pulled AS TIMESTAMPTZ)) FROM DATASET"
    assert ask(tmp_path / "all", question)[0][0].days == 30


def test_another_engine_reads_the_same(filled: Callable[..., LogbookIndex], tmp_path: Path) -> None:
    index = filled(("Kestrel Two", "2025-11"), ("Umber", ""))
    export(index, tmp_path / "all")
    table = pyarrow.dataset.dataset(tmp_path / "all", partitioning="hive").to_table()
    found = {row["machine"]: row for row in table.to_pylist()}
    assert found["Kestrel Two"]["month"] == "2025-11"
    assert found["Umber"]["month"] is None
    assert found["Umber"]["sd_k"] is None
    assert dict(found["Umber"]["tags"]) == {"coffee": "house blend"}


def test_no_name_leads_out_of_the_folder(filled: Callable[..., LogbookIndex], tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "er" / "all"
    index = filled(*((machine, "2025-11") for machine in HOSTILE), ("x", "../../.."), ("x", ""))
    before = {path for path in tmp_path.rglob("*") if folder not in path.parents}
    export(index, folder, bench="../../bench")
    after = {path for path in tmp_path.rglob("*") if folder not in path.parents}
    assert after - before == {folder, folder.parent, folder.parent.parent}
    for path in folder.rglob("*.parquet"):
        machine, month, name = path.relative_to(folder).parts
        assert machine.startswith("machine=")
        assert month in ("month=2025-11", "month=__HIVE_DEFAULT_PARTITION__")
        assert name.startswith("bench-")
        assert not set('\\/:*?"<>|') & set(machine)
        assert not machine.endswith((".", " "))
    found = ask(folder, "SELECT machine, machine_name FROM DATASET WHERE month = '2025-11' ORDER BY number")
    # The program itself takes white space off a machine's name.
    assert [name for _, name in found] == [machine.strip() for machine in HOSTILE]
    assert [machine or "" for machine, _ in found] == [machine.strip() for machine in HOSTILE]


def test_very_long_names_and_names_that_differ_in_case_only(
    filled: Callable[..., LogbookIndex], tmp_path: Path
) -> None:
    long = ["☕" * 200, "☕" * 199 + "x", "a" * 1000]
    index = filled(*((machine, "2025-11") for machine in (*long, "KESTREL", "kestrel")))
    export(index, tmp_path / "all")
    folders = [path.name for path in (tmp_path / "all").iterdir()]
    assert len({name.casefold() for name in folders}) == len(folders) == 4
    assert max(map(len, folders)) < 200
    found = ask(tmp_path / "all", "SELECT machine_name FROM DATASET ORDER BY number")
    assert [name for (name,) in found] == [*long, "KESTREL", "kestrel"]


def test_each_bench_replaces_only_its_own(filled: Callable[..., LogbookIndex], tmp_path: Path) -> None:
    north = filled(("Kestrel", "2025-11"), ("Umber", "2025-12"), name="north")
    south = filled(("Kestrel", "2025-11"), name="south")
    folder = tmp_path / "all"
    export(north, folder)
    export(south, folder, bench="South")
    question = "SELECT bench, machine FROM DATASET ORDER BY bench, machine"
    everything = [("North", "Kestrel"), ("North", "Umber"), ("South", "Kestrel")]
    assert ask(folder, question) == everything
    assert export(north, folder).removed == 0
    assert ask(folder, question) == everything
    done = export(north, folder, bench="North again", machines=("Umber",))
    assert (done.files, done.removed) == (1, 2)
    assert ask(folder, question) == [("North again", "Umber"), ("South", "Kestrel")]
    assert export(north, folder, machines=("nobody",)).removed == 1
    assert ask(folder, question) == [("South", "Kestrel")]
    assert not (folder / "machine=Umber").exists()


def test_without_the_extra_one_sentence_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(BadInput, match=r"python -m pip install 'benchtemp\[parquet\]'"):
        require_parquet()
    with pytest.raises(BadInput, match="optional package"):
        write_dataset(tmp_path / "all", [], bench="x", logbook=None)  # type: ignore[arg-type]
    assert not (tmp_path / "all").exists()


def test_nothing_heavy_is_loaded_before_it_is_needed() -> None:
    code = (
        "import sys\n"
        "import benchtemp.logbook.export.parquet, benchtemp.logbook.export.text\n"
        "import benchtemp.logbook.index, benchtemp.logbook.index.checking, benchtemp.logbook.index.editing\n"
        "print([name for name in ('pyarrow', 'duckdb', 'pandas', 'scipy', 'multiprocessing.context')"
        " if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env={**os.environ}
    )
    assert done.stdout.strip() == "[]"
