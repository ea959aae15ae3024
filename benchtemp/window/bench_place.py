"""Behind the first button of the rail: the choice of a source, or the bench while one is open."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QStackedWidget

from benchtemp.units import TempUnit
from benchtemp.window.theme import LIGHT, Theme

if TYPE_CHECKING:
    from collections.abc import Callable

    from benchtemp.window.bench_page import BenchPage
    from benchtemp.window.start_page import StartPage


class BenchPlace:
    """The start page, and the live page, which is made after the first paint: it brings the plots with it.

    Attributes:
        place: The stack of the two.
        start: The choice of a source.
    """

    def __init__(self, start: StartPage, connect: Callable[[BenchPage], None]) -> None:
        """Begin with the start page in front.

        Args:
            start: The choice of a source.
            connect: Connects the live page once it is there.
        """
        self.place = QStackedWidget()
        self.start = start
        self._connect = connect
        self._theme: Theme = LIGHT
        self._unit = TempUnit.DEGC
        self.place.addWidget(start)

    @property
    def has_bench(self) -> bool:
        """Return whether the live page is there already."""
        return "bench" in self.__dict__

    @cached_property
    def bench(self) -> BenchPage:
        """The live page."""
        from benchtemp.window.bench_page import BenchPage  # noqa: PLC0415 - see above

        bench = BenchPage()
        # Into its place before it is dressed: moving a widget under a style sheet takes its fonts away.
        self.place.addWidget(bench)
        bench.set_theme(self._theme)
        bench.set_unit(self._unit)
        self._connect(bench)
        return bench

    def show_start(self, *, running: bool) -> None:
        """Offer the sources; a sitting under way goes on until another source is chosen."""
        self.start.prepare(running=running)
        self.place.setCurrentWidget(self.start)

    def show_bench(self) -> None:
        """Show the live page."""
        self.place.setCurrentWidget(self.bench)

    def set_theme(self, theme: Theme) -> None:
        """Dress what is there."""
        self._theme = theme
        self.start.set_theme(theme)
        if self.has_bench:
            self.bench.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand on the unit."""
        self._unit = unit
        self.start.set_unit(unit)
        if self.has_bench:
            self.bench.set_unit(unit)

    def read(self) -> None:
        """Nothing to bring up to date: snapshots come by themselves."""

    def take_focus(self) -> None:
        """Put the focus on the first source, or on the plot."""
        if self.place.currentWidget() is self.start:
            self.start.take_focus()
        else:
            self.bench.plot.canvas.setFocus()

    def close_down(self) -> None:
        """Let go of ports and threads."""
        self.start.close_down()
