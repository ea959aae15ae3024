"""What reading a line costs, against `float()` on its fields: `python tests/benchmarks/bench_parsing.py`.

The ratio is taken within one run, so the machine's speed drops out. Lines differ, as they do on the wire.
"""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from timeit import repeat

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchtemp.readings.layout import Channel, Layout, Weight
from benchtemp.readings.parser import LineParser, compile_parser

GOAL = 5.0
LINES = 2000


def numbers(channels: int) -> list[list[str]]:
    return [[f"{90 + (7 * n + 13 * c) % 100 / 16:.2f}" for c in range(channels)] for n in range(LINES)]


def cases() -> list[tuple[str, Layout, list[list[str]], list[bytes]]]:
    one, four, eight = numbers(1), numbers(4), numbers(8)
    by_field = [tuple(Channel(field=n) for n in range(1, count + 1)) for count in (1, 4, 8)]
    by_label = tuple(Channel(label=f"T{n}") for n in range(1, 5))
    by_key = tuple(Channel(key=f"T{n}") for n in range(1, 5))
    fahrenheit = tuple(Channel(field=n, unit="degF") for n in range(1, 5))
    return [
        ("one number", Layout(name="x", channels=by_field[0]), one, [f[0].encode() for f in one]),
        ("one number, °C", Layout(name="x", channels=by_field[0]), one, [f"{f[0]} °C".encode() for f in one]),
        (
            "CSV, 4 channels",
            Layout(name="x", channels=by_field[1]),
            four,
            [",".join(f).encode() for f in four],
        ),
        (
            "CSV, 8 channels",
            Layout(name="x", channels=by_field[2]),
            eight,
            [",".join(f).encode() for f in eight],
        ),
        (
            "spaces, 4 channels",
            Layout(name="x", channels=by_field[1], separator=""),
            four,
            [" ".join(f).encode() for f in four],
        ),
        (
            "CSV, 4 channels, °F",
            Layout(name="x", channels=fahrenheit),
            four,
            [",".join(f"{v}F" for v in f).encode() for f in four],
        ),
        (
            "labels, 4 channels",
            Layout(name="x", channels=by_label),
            four,
            [";".join(f"T{n}={v}" for n, v in enumerate(f, 1)).encode() for f in four],
        ),
        (
            "JSON, 4 channels",
            Layout(name="x", channels=by_key),
            four,
            [("{" + ",".join(f'"T{n}":{v}' for n, v in enumerate(f, 1)) + "}").encode() for f in four],
        ),
        (
            "CSV, 4 channels, weight",
            Layout(name="x", channels=by_field[1], weight=Weight(field=5)),
            [[*f, "36.2"] for f in four],
            [(",".join(f) + ",36.2 g").encode() for f in four],
        ),
    ]


def all_lines(parse: LineParser, lines: list[bytes]) -> None:
    for line in lines:
        parse(line)


def all_floats(fields: list[list[str]]) -> None:
    for line in fields:
        for field in line:
            float(field)


def measure() -> dict[str, float]:
    ratios = {}
    for name, layout, fields, lines in cases():
        parse = compile_parser(layout)
        assert all(parse(line) is not None for line in lines)
        ours_s = min(repeat(partial(all_lines, parse, lines), number=1, repeat=9))
        floats_s = min(repeat(partial(all_floats, fields), number=1, repeat=9))
        ratios[name] = ours_s / floats_s
        print(f"{name:26} {ours_s / LINES * 1e6:6.2f} µs a line, {ratios[name]:5.2f} × float()")
    return ratios


def main() -> int:
    worst = max(measure().values())
    print(f"worst {worst:.2f} ×, goal at most {GOAL:g} ×")
    return 0 if worst <= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
