"""A logbook of 20,000 shots: `python tests/benchmarks/bench_logbook.py [FOLDER] [--shots N]`.

Times building its index, against pandas reading the same files; the first page of the list, from an index
that is there and from none; and searches of every kind. The logbook is made on the first run (some minutes)
and used again where FOLDER is given.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import random
import shutil
import sys
import tempfile
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
import pandas as pd

from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.index import Kind, LogbookIndex, Query, Sort
from benchtemp.logbook.names import shot_name
from benchtemp.logbook.shot_file import _content
from benchtemp.readings.reading import Mark, MarkKind, Stream
from benchtemp.shots.recipe import RecipeVerdict

FIRST_PAGE_GOAL_S, SEARCH_GOAL_MS, REBUILD_GOAL_HZ = 0.3, 50.0, 500.0
MACHINES = ["Ferrowick Two", "Lattenby Bench", "Ostrel Long Arm", "Café Nord", "Umber Lever", "Dray Compact"]
COFFEES = ["Ninth Lantern", "Grey Heron", "Low Tide", "Ember Row", "Orchard Gate"]
WORDS = "channelling gusher slow puck wet dry cracked even bloom late early steam wand purge gasket new"


def shot_stream(number: int, seed: int) -> Stream:
    chosen = random.Random(seed)
    rng = np.random.default_rng(seed)
    t_s = np.round(np.arange(0.0, 60.0, 0.1), 4)
    brew_degc = 93.0 + chosen.gauss(0, 0.8)
    temps_degc = np.where((t_s > 22) & (t_s < 46), brew_degc, 62.0) + rng.normal(0, 0.03, len(t_s))
    pulled = dt.datetime(2022, 1, 1, 8, tzinfo=dt.UTC) + dt.timedelta(minutes=97 * number)
    machine, coffee = chosen.choice(MACHINES), chosen.choice(COFFEES)
    notes = " ".join(chosen.choices(WORDS.split(), k=12)) if chosen.random() < 0.3 else ""
    marks = [Mark(20.0, MarkKind.PUMP_ON), Mark(46.0, MarkKind.PUMP_OFF)]
    if chosen.random() < 0.2:
        marks.insert(1, Mark(30.0, MarkKind.NOTE, " ".join(chosen.choices(WORDS.split(), k=4))))
    outside = chosen.random() < 0.2
    return Stream(
        channels=("T1",),
        t_s=t_s,
        temps_degc=np.round(temps_degc, 2).reshape(-1, 1),
        marks=tuple(marks),
        mark_rows=tuple(int(np.searchsorted(t_s, mark.t_s)) for mark in marks),
        meta={
            "kind": "shot",
            "format_version": 1,
            "program": "benchtemp 0.1.0",
            "started": pulled.isoformat(),
            "source": {"kind": "serial", "port": "/dev/ttyUSB0", "layout": "csv", "rate_hz": 10.0},
            "channels": [
                {
                    "name": "T1",
                    "unit_as_sent": "degC",
                    "probe": f"basket {number % 4}",
                    "correction": {"probe": f"basket {number % 4}", "checked": "2022-01-01", "offset_k": 0.1,
                                   "slope_k_per_k": 0.0, "reference_degc": 93.0, "uncertainty_k": 0.05},
                }
            ],
            "basket_channel": "T1",
            "machine": machine,
            "recipe": {"dose_g": 18.0, "brew_ratio": 2.0, "brew_ratio_tolerance": 0.1, "time_low_s": 22.0,
                       "time_high_s": 28.0, "band_low_degc": 90.5, "band_high_degc": 96.0,
                       "plateau_min_s": 8.0},
            "tags": {"machine": machine, "coffee": coffee, "setpoint": f"{chosen.randrange(880, 960) / 10}",
                     "operator": chosen.choice(["ada", "ines", "jo"]), "plan shot": str(number % 10)},
            **({"notes": notes} if notes else {}),
            "shot": {
                "number": number % 10 + 1,
                "recording": f"{pulled:%Y%m%d}-080000_{machine}.ecsv",
                "pulled": pulled.isoformat(),
                "yield_g": 36.3,
                "verdict": "outside" if outside else "within",
                "counts": not outside,
                "reasons": ["ran 29.4 s, window 22–28 s"] if outside else [],
                "set_aside": "",
                "result": {"kind": "shot", "rise_s": 20.0, "pump_on_s": 20.0, "pump_on_source": "marked",
                           "pump_off_s": 46.0, "pump_off_source": "marked",
                           "plateau_start_s": 26.1 + rng.random(), "plateau_end_s": 46.0,
                           "plateau_start_uncertainty_s": 0.0557099, "plateau_end_uncertainty_s": 0.0,
                           "brew_temp_degc": brew_degc, "brew_temp_uncertainty_k": 0.00695605511,
                           "sd_k": abs(rng.normal(0.1, 0.05)), "highest_degc": brew_degc + 0.2,
                           "lowest_degc": brew_degc - 0.2, "drift_k_per_s": rng.normal(0, 0.01),
                           "time_to_plateau_s": 6.1 + rng.random(), "in_band_share": 1.0, "readings": 199,
                           "spikes_excluded": 0, "readings_missing": 0, "longest_gap_s": 0.1, "reasons": []},
            },
        },
    )  # fmt: skip


def write_shots(job: tuple[str, int, int]) -> None:
    folder, start, stop = job
    for number in range(start, stop):
        stream = shot_stream(number, number)
        pulled = stream.meta["shot"]["pulled"]
        month = Path(folder) / "shots" / pulled[:7]
        month.mkdir(parents=True, exist_ok=True)
        name = shot_name(pulled, stream.meta["machine"], number % 10 + 1)
        (month / f"{name}.ecsv").write_bytes(b"".join(_content(stream, {})))


def make_logbook(folder: Path, shots: int) -> None:
    print(f"making {shots} shots in {folder}")
    jobs = [(str(folder), start, min(start + 500, shots)) for start in range(0, shots, 500)]
    with ProcessPoolExecutor() as pool:
        list(pool.map(write_shots, jobs))


def timed(work) -> float:
    since_s = time.perf_counter()
    work()
    return time.perf_counter() - since_s


def goal(limit: float, *, met: bool) -> str:
    return f"goal {limit:g}: {'met' if met else 'MISSED'}"


def first_page_goal(took_s: float) -> str:
    return goal(FIRST_PAGE_GOAL_S, met=took_s <= FIRST_PAGE_GOAL_S)


def first_page_without_index(logbook: Logbook) -> float:
    """Return the seconds until an index that does not exist yet gives its first page, while it is built."""
    index = LogbookIndex(logbook)
    index.path.unlink(missing_ok=True)
    stop = threading.Event()
    since_s = time.perf_counter()
    thread = threading.Thread(target=lambda: index.update(cancelled=stop.is_set, processes=1))
    thread.start()
    while len(index.search(Query(limit=50)).rows) < 50:
        time.sleep(0.005)
    took_s = time.perf_counter() - since_s
    stop.set()
    thread.join()
    return took_s


QUERIES = {
    "everything, newest first": Query(),
    "page 150": Query(offset=14_900),
    "one word": Query(text="channelling"),
    "two words": Query(text="puck gasket"),
    "parts of words": Query(text="antern attenb"),
    "two letters": Query(text="wa"),
    "phrase": Query(text='"grey heron"'),
    "no such word": Query(text="xylophone"),
    "word in every row": Query(text="basket"),
    "common part of a word": Query(text="ecsv"),
    "tag": Query(tags=(("coffee", "Low Tide"),)),
    "tag, machine, verdict": Query(tags=(("operator", "jo"),), machines=("cafe nord",),
                                   verdicts=(RecipeVerdict.OUTSIDE,)),
    "probe": Query(probes=("basket 2",)),
    "a month": Query(since="2023-05", until="2023-05"),
    "does not count": Query(counts=False, kinds=(Kind.SHOT,)),
    "everything at once": Query(text="steam wand", tags=(("coffee", "Ember Row"),), since="2022",
                                until="2024", machines=("Ferrowick Two", "Umber Lever"), counts=True,
                                probes=("basket 1",)),
    "by brew temperature": Query(sort=Sort.BREW_TEMP, descending=False),
    "by a tag": Query(sort="tag.setpoint"),
    "by file name": Query(sort=Sort.FILE),
}  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--shots", type=int, default=20_000)
    parser.add_argument("--pandas", type=int, default=2000, help="how many files pandas reads")
    options = parser.parse_args()
    room = Path(tempfile.mkdtemp())
    os.environ["BENCHTEMP_CACHE"] = str(room / "cache")
    folder = options.folder or room / "logbook"
    logbook = Logbook(folder)
    try:
        if not folder.exists():
            make_logbook(folder, options.shots)
        measure(logbook, options.pandas)
    finally:
        shutil.rmtree(room)


def measure(logbook: Logbook, pandas_files: int) -> None:
    paths = list(logbook.shots())
    some = paths[:: max(len(paths) // pandas_files, 1)]
    for path in some:
        path.read_bytes()
    pandas_hz = len(some) / timed(lambda: [pd.read_csv(path, comment="#") for path in some])
    print(f"{len(paths)} shots, {paths[0].stat().st_size} bytes each; {os.cpu_count()} cores")
    print(f"pandas reads           {pandas_hz:8.0f} files/s")
    index = LogbookIndex(logbook)
    index.search()
    for processes in (1, os.cpu_count() or 1):
        took_s = timed(lambda count=processes: index.rebuild(processes=count))
        rate_hz = len(paths) / took_s
        print(
            f"rebuild, {processes} process(es) {rate_hz:8.0f} files/s  {rate_hz / pandas_hz:.2f} times pandas"
            f"  {goal(REBUILD_GOAL_HZ, met=rate_hz >= REBUILD_GOAL_HZ)}"
        )
    print(f"index                  {index.path.stat().st_size / 1e6:8.1f} MB")
    index.update()
    print(f"update, nothing new    {1e3 * timed(index.update):8.1f} ms")
    took_s = min(timed(lambda: LogbookIndex(logbook).search(Query(limit=100))) for _ in range(3))
    print(f"first page             {took_s:8.3f} s  {first_page_goal(took_s)}")
    for full_text in (True, False):
        searched = LogbookIndex(logbook, full_text=full_text)
        searched.update()
        print(f"searches, 100 rows and the count, {'trigrams' if full_text else 'without full text'}:")
        for name, query in QUERIES.items():
            times_ms = [
                1e3 * timed(lambda index=searched, query=query: index.search(query)) for _ in range(5)
            ]
            total = searched.search(query).total
            print(
                f"  {name:26} {median(times_ms):7.1f} ms  worst {max(times_ms):6.1f}  {total:6} found  "
                f"{goal(SEARCH_GOAL_MS, met=median(times_ms) <= SEARCH_GOAL_MS)}"
            )
    took_s = first_page_without_index(logbook)
    print(f"first page, no index   {took_s:8.3f} s  {first_page_goal(took_s)}")


if __name__ == "__main__":
    main()
