"""The views of the page beside the list: check, plunge and uncertainty, made when they are first wanted."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QStackedWidget, QWidget

from benchtemp.units import TempUnit
from benchtemp.window.probes_page.budget_view import BudgetView
from benchtemp.window.probes_page.check_view import CheckView
from benchtemp.window.probes_page.plunge_view import PlungeView
from benchtemp.window.theme import LIGHT

if TYPE_CHECKING:
    from benchtemp.logbook.folder import Logbook
    from benchtemp.window.choices import Choices
    from benchtemp.window.probes_page.bath_source import BathSource
    from benchtemp.window.probes_page.plugs import Plugs
    from benchtemp.window.theme import Theme


class ProbeViews(QStackedWidget):
    """Holds the page's views; those that others put in come first.

    Signals:
        left: Back from a check or a plunge.
        budget_left: Back from an uncertainty.
        budget_made: The view of uncertainties is there and wants to know probes and shots.
        check_agreed: Writes a check that the user said yes to.
        lag_agreed: A probe's name and its `TimeConstant`.
        under_way_changed: Whether a bath or a result would be lost.
        estimates_chosen: Carries new `Estimates`.
        layout_confirmed, room_asked: As of `SourceStep`.
    """

    left = Signal()
    budget_left = Signal()
    budget_made = Signal(object)
    check_agreed = Signal(object)
    lag_agreed = Signal(str, object)
    under_way_changed = Signal(bool)
    estimates_chosen = Signal(object)
    layout_confirmed = Signal(str, object)
    room_asked = Signal(bool)

    def __init__(
        self,
        source: BathSource,
        logbook: Logbook,
        choices: Choices,
        plugs: Plugs,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._source, self._logbook = source, logbook
        self._choices, self._plugs = choices, plugs
        self._theme: Theme = LIGHT
        self._unit = TempUnit.DEGC

    @cached_property
    def check(self) -> CheckView:
        """The guided check."""
        view = CheckView(self._source, self._logbook)
        view.agreed.connect(self.check_agreed)
        self._lead_in(view)
        return view

    @cached_property
    def plunge(self) -> PlungeView:
        """The plunge that measures a time constant."""
        view = PlungeView(self._source)
        view.agreed.connect(self.lag_agreed)
        self._lead_in(view)
        return view

    @cached_property
    def budget(self) -> BudgetView:
        """What an uncertainty is made of."""
        view = BudgetView()
        self._place(view)
        view.left.connect(self.budget_left)
        view.estimates_chosen.connect(self.estimates_chosen)
        view.show_estimates(self._choices.now.uncertainty)
        self.budget_made.emit(view)
        return view

    def _lead_in(self, view: CheckView | PlungeView) -> None:
        self._place(view)
        view.left.connect(self.left)
        view.under_way_changed.connect(self.under_way_changed)
        view.known_channels = self._plugs.plugged
        step = view.source_step
        step.remembered_layouts = lambda: self._choices.now.layouts
        step.layout_confirmed.connect(self.layout_confirmed)
        step.room_asked.connect(self.room_asked)

    def _place(self, view: CheckView | PlungeView | BudgetView) -> None:
        # Into its place before it is dressed: moving a widget under a style sheet takes its fonts away.
        self.addWidget(view)
        view.set_theme(self._theme)
        view.set_unit(self._unit)

    def has(self, name: str) -> bool:
        """Tell whether a view was wanted yet: check, plunge or budget."""
        return name in self.__dict__

    def _made(self) -> list[CheckView | PlungeView | BudgetView]:
        return [self.__dict__[name] for name in ("check", "plunge", "budget") if self.has(name)]

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        self._theme = theme
        for view in self._made():
            view.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        self._unit = unit
        for view in self._made():
            view.set_unit(unit)

    def close_down(self) -> None:
        """Let go of what checks and plunges hold."""
        for name in ("check", "plunge"):
            if self.has(name):
                self.__dict__[name].close_down()
