"""What each command of the key table does in the window."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchtemp.window.bench_page import BenchPage
    from benchtemp.window.main_window import MainWindow


def commands(window: MainWindow) -> dict[str, Callable[[], None]]:
    """Return the commands of a window by their names in the key table."""

    def on_bench(act: Callable[[BenchPage], None]) -> Callable[[], None]:
        return lambda: act(window.bench)  # not before it is needed: the page brings the plots with it

    return {
        "press": window.pressing.press,
        "pump": window.pressing.pump,
        "undo": window.session.undo,
        "note": window.pressing.open_note,
        "tare": window.session.tare,
        "follow": on_bench(lambda bench: bench.plot.follow()),
        "near_band": on_bench(lambda bench: bench.plot.band_button.toggle()),
        "reference": on_bench(lambda bench: bench.plot.next_reference()),
        "water": on_bench(lambda bench: bench.plot.toggle_water()),
        "dose": on_bench(lambda bench: bench.go_to_dose()),
        "yield": on_bench(lambda bench: bench.go_to_yield()),
        "raw": on_bench(lambda bench: bench.toggle_raw()),
        "machine": on_bench(lambda bench: bench.machine_strip.go_to_setpoint()),
        "flush": on_bench(lambda bench: bench.machine_strip.flush_now()),
        "idle": on_bench(lambda bench: bench.machine_strip.go_to_idle()),
        "results": on_bench(lambda bench: bench.teaching.toggle_results()),
        "unit": window.looks.next_unit,
        "theme": window.looks.next_look,
        "presentation": window.toggle_presentation,
        "uncertainty": window.pressing.show_uncertainty,
        "sound": window.planning.toggle_sound,
        **{f"page_{place + 1}": partial(window.show_page, place) for place in range(len(window.rail.pages))},
        "sources": window.choose_source,
        "keys": window.toggle_keys,
    }
