"""The Probes page: the list at the left; at the right a probe, its check, its plunge, or an uncertainty."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchtemp.errors import BadInput
from benchtemp.probes.probe import Probe
from benchtemp.readings.virtual.pot import Bath
from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Wrapped
from benchtemp.window.probes_page.bath_source import BathSource
from benchtemp.window.probes_page.caution_step import Method
from benchtemp.window.probes_page.details import ProbeDetails
from benchtemp.window.probes_page.news import News
from benchtemp.window.probes_page.plugs import Plugs
from benchtemp.window.probes_page.plunge_view import with_lag
from benchtemp.window.probes_page.probe_list import ProbeList
from benchtemp.window.probes_page.shelf import ProbeShelf
from benchtemp.window.probes_page.texts import looked_at
from benchtemp.window.probes_page.views import ProbeViews

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtGui import QKeyEvent

    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.probes.response import TimeConstant
    from benchtemp.readings.layout import Layout
    from benchtemp.shots.budget import Estimates
    from benchtemp.units import TempUnit
    from benchtemp.window.choices import Choices
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.probes_page.budget_view import BudgetView
    from benchtemp.window.probes_page.check_view import CheckView
    from benchtemp.window.probes_page.plunge_view import PlungeView
    from benchtemp.window.theme import Theme

_LIST_CHARS = 40


class ProbesPage(Panel):
    """Everything about probes.

    Attributes:
        shelf: The probes there are.
        source: Where a check reads from.
    """

    bench_asked = Signal()
    """Back to the Bench page, from where an uncertainty was asked for."""

    def __init__(
        self, logbook: Logbook, choices: Choices, shelf: ProbeShelf, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setProperty("look", "page")
        self._choices = choices
        self._plugs = Plugs(choices)
        self._snapshot: Snapshot | None = None
        self._to_bench = False
        self._wanted = ""
        self._check_when_there = ""
        self._busy_with = ""
        self._after_saving: CheckView | PlungeView | None = None
        self.shelf = shelf
        self.source = BathSource(self)
        self.list = ProbeList()
        self.said = News()
        self.details = ProbeDetails()
        self.nothing = Wrapped(
            "A probe is one thermocouple with a history of its own: when it was checked, how far it was off, "
            "how fast it follows. Name the first one at the left, then check it in boiling water."
        )
        self._empty = QWidget()
        self._stack = ProbeViews(self.source, logbook, choices, self._plugs)
        self._lay_out()
        self._connect()
        self.list.set_check_days(choices.now.check_days)

    def _lay_out(self) -> None:
        empty = QVBoxLayout(self._empty)
        empty.setContentsMargins(24, 20, 24, 20)
        empty.addWidget(self.nothing)
        empty.addStretch(1)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(self.details)
        right = QVBoxLayout()
        right.setSpacing(8)
        right.addWidget(self.said)
        right.addWidget(self._stack, 1)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 10, 12, 10)
        layout.setSpacing(10)
        layout.addWidget(self.list)
        layout.addLayout(right, 1)

    def _connect(self) -> None:
        shelf = self.shelf
        shelf.changed.connect(self._show_probes)
        shelf.saved.connect(self._tell_saved)
        shelf.failed.connect(self.said.tell_failure)
        shelf.not_written.connect(self._tell_not_written)
        self.list.chosen.connect(self._pick)
        self.list.opened.connect(self._open)
        self.list.made.connect(self._make)
        self.list.check_days_chosen.connect(self._take_days)
        self.details.edited.connect(self._edit)
        self.details.plugged.connect(self._plug)
        self.details.check_asked.connect(self.begin_check)
        self.details.plunge_asked.connect(self.begin_plunge)
        self.details.budget_asked.connect(self.show_budget_of)
        self.details.removal_asked.connect(self._take_check_out)
        views = self._stack
        views.left.connect(self._back_to_details)
        views.budget_left.connect(self._leave_budget)
        views.budget_made.connect(self._fill_budget)
        views.check_agreed.connect(self._keep_check)
        views.lag_agreed.connect(self._keep_lag)
        views.under_way_changed.connect(self._show_under_way)
        views.estimates_chosen.connect(self._take_estimates)
        views.layout_confirmed.connect(self._remember_layout)
        views.room_asked.connect(self.list.setHidden)

    # -- views, made when they are first wanted ------------------------------------------------------------

    @property
    def check(self) -> CheckView:
        """The guided check."""
        return self._stack.check

    @property
    def plunge(self) -> PlungeView:
        """The plunge that measures a time constant."""
        return self._stack.plunge

    @property
    def budget(self) -> BudgetView:
        """What an uncertainty is made of."""
        return self._stack.budget

    @Slot(object)
    def _fill_budget(self, view: BudgetView) -> None:
        view.show_probes(self.shelf.probes)
        view.show_snapshot(self._snapshot)

    # -- look ----------------------------------------------------------------------------------------------

    def set_theme(self, theme: Theme) -> None:
        """Hand the theme on."""
        super().set_theme(theme)
        self.list.setFixedWidth(self.fontMetrics().averageCharWidth() * _LIST_CHARS)
        self.nothing.setFont(theme.font(1.2))
        for panel in (self.list, self.details, self._stack):
            panel.set_theme(theme)

    def set_unit(self, unit: TempUnit) -> None:
        """Hand the unit on."""
        super().set_unit(unit)
        for panel in (self.list, self.details, self._stack):
            panel.set_unit(unit)

    # -- the sitting ---------------------------------------------------------------------------------------

    def show_sitting(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Take the latest picture of the sitting under way: a check may be reading from it."""
        if choice is not self.source.current_choice:
            self.said.end_sitting()
        self._snapshot = snapshot
        self.source.show_current(snapshot, choice)
        if self._stack.has("budget"):
            self.budget.show_snapshot(snapshot)
        if self._plugs.follow(snapshot, choice):
            self._show_channels()

    def _show_channels(self, *, changed: bool = False) -> None:
        probe = self.details.probe
        if probe is None:
            return
        note = ""
        if changed and self._snapshot is not None:
            note = (
                "This holds from the next sitting on, and is remembered for this interface. Begin one anew "
                "with Ctrl+O."
            )
        self.details.show_channels(self._plugs.channels, self._plugs.channel_of(probe.name), note)

    # -- probes --------------------------------------------------------------------------------------------

    def read(self) -> None:
        """Read the probes anew."""
        self.shelf.read()

    @Slot()
    def _show_probes(self) -> None:
        probes = self.shelf.probes
        self.list.show_probes(probes)
        if self._stack.has("check"):
            self.check.know(probes)
        if self._stack.has("budget"):
            self.budget.show_probes(probes)
        self.list.complaint.say(" ".join(self.shelf.complaints))
        if self._wanted:
            self.list.choose(self._wanted)
            self._wanted = ""
        self._choose(self.list.chosen_name)
        if self._check_when_there and self.shelf.named(self._check_when_there) is not None:
            name, self._check_when_there = self._check_when_there, ""
            self.begin_check(name)

    @Slot(str)
    def _choose(self, name: str) -> None:
        probe = self.shelf.named(name) if name else None
        if probe is not None:
            self.details.show_probe(probe, self._choices.now.check_days, looked_at(self.shelf.probes))
            self._show_channels()
        now = self._stack.currentWidget()
        if now in {self.details, self._empty}:
            self._stack.setCurrentWidget(self._empty if probe is None else self.details)

    @Slot(str)
    def _pick(self, name: str) -> None:
        """Show a probe the user chose; what was begun with another one and would not be missed is left."""
        now = self._stack.currentWidget()
        if now is not self._empty and now is not self.details and name != self._busy_with:
            if self._stack.has("check") and now is self.check:
                self.check.leave()
            elif self._stack.has("plunge") and now is self.plunge:
                self.plunge.leave()
            self._stack.setCurrentWidget(self.details)
        self._choose(name)

    @Slot(bool)
    def _show_under_way(self, under_way: bool) -> None:  # noqa: FBT001 - a Qt slot
        """Keep the list still while a bath or a result would be lost."""
        self.list.setEnabled(not under_way)

    @Slot(str)
    def _open(self, name: str) -> None:
        self._choose(name)
        if self._stack.currentWidget() is self.details:
            self.details.check_button.setFocus()
        else:
            self._focus_view()

    @Slot(str)
    def _make(self, name: str) -> None:
        try:
            Probe(name=name)
        except BadInput as error:
            self.list.complaint.say(str(error))
            return
        self.shelf.change(name, lambda probe: probe)

    @Slot(str, object)
    def _edit(self, name: str, changed: dict[str, object]) -> None:
        self.shelf.change(name, lambda probe: msgspec.structs.replace(probe, **changed))

    @Slot(str, str)
    def _take_check_out(self, name: str, checked: str) -> None:
        self.shelf.change(name, lambda probe: probe.without_check(checked))

    @Slot(str, str)
    def _plug(self, name: str, channel: str) -> None:
        self._plugs.plug(name, channel)
        self._show_channels(changed=True)

    @Slot(str)
    def _tell_saved(self, name: str) -> None:
        self._wanted = name  # its file is being read
        after, self._after_saving = self._after_saving, None
        if after is not None:
            after.saved()
            self.said.tell_kept(name, in_use=self._in_use(name))

    def _in_use(self, name: str) -> bool:
        """Tell whether the sitting under way reads from a probe; a replay's readings are not of today."""
        snapshot, choice = self._snapshot, self.source.current_choice
        return snapshot is not None and choice is not None and choice.keep and name in snapshot.probes

    @Slot(str)
    def _tell_not_written(self, sentence: str) -> None:
        after, self._after_saving = self._after_saving, None
        if after is not None:
            after.not_saved(sentence)
        else:
            self.said.tell_failure(sentence)

    # -- views ---------------------------------------------------------------------------------------------

    @Slot(str)
    def begin_check(self, name: str) -> None:
        """Lead through a check of a probe."""
        self.said.end_news()
        self._busy_with = name
        self._stack.setCurrentWidget(self.check)
        self.check.begin(name, self.shelf.probes)

    def begin_practice_check(self, name: str, bath: Callable[[Bath], SourceChoice]) -> None:
        """Lead through a check in a virtual bath of somebody's own; the probe is made if there is none yet.

        Args:
            name: Of the probe.
            bath: Opens the bath of a kind.
        """

        def open_bath(method: Method) -> SourceChoice | None:
            if self._busy_with != name or method is Method.PLUNGE:
                return None
            return bath(Bath.ICE if method is Method.ICE else Bath.POT)

        self.check.source_step.practice_bath = open_bath
        if self.shelf.named(name) is None:
            self._check_when_there = name
            self._make(name)
        else:
            self.begin_check(name)

    @Slot(str)
    def begin_plunge(self, name: str) -> None:
        """Lead through plunges of a probe."""
        probe = self.shelf.named(name)
        if probe is not None:
            self.said.end_news()
            self._busy_with = name
            self._stack.setCurrentWidget(self.plunge)
            self.plunge.begin(probe)

    @Slot(str)
    def show_budget_of(self, name: str) -> None:
        """Show what a probe's uncertainty at brew temperature is made of."""
        self.said.end_news()
        self._to_bench = False
        self._busy_with = name
        self._stack.setCurrentWidget(self.budget)
        self.budget.choose_probe(name)
        self.budget.take_focus()

    def show_budget_of_shot(self, key: int) -> None:
        """Show what a shot's uncertainty is made of."""
        self.said.end_news()
        self._to_bench = True
        self._busy_with = ""
        self._stack.setCurrentWidget(self.budget)
        self.budget.choose_shot(key)
        self.budget.take_focus()

    @Slot()
    def _leave_budget(self) -> None:
        self._back_to_details()
        if self._to_bench:
            self._to_bench = False
            self.bench_asked.emit()

    @Slot()
    def _back_to_details(self) -> None:
        self._stack.setCurrentWidget(self.details if self.details.probe is not None else self._empty)
        self.list.take_focus()

    @Slot(str, object)
    def _keep_lag(self, name: str, lag: TimeConstant) -> None:
        self._after_saving = self.plunge
        self.shelf.change(name, with_lag(lag))

    @Slot(object)
    def _keep_check(self, write: Callable[[], str]) -> None:
        self._after_saving = self.check
        self.shelf.carry_out(write)

    # -- choices -------------------------------------------------------------------------------------------

    @Slot(float)
    def _take_days(self, days: float) -> None:
        self._choices.change(check_days=days)
        self._choose(self.list.chosen_name)

    @Slot(object)
    def _take_estimates(self, estimates: Estimates) -> None:
        self._choices.change(uncertainty=estimates)

    @Slot(str, object)
    def _remember_layout(self, adapter: str, layout: Layout) -> None:
        self._choices.change(layouts={**self._choices.now.layouts, adapter: msgspec.to_builtins(layout)})

    # -- keys and end --------------------------------------------------------------------------------------

    def take_focus(self) -> None:
        """Put the focus where the keyboard goes on."""
        if self._stack.currentWidget() in {self.details, self._empty}:
            self.list.take_focus()
        else:
            self._focus_view()

    def _focus_view(self) -> None:
        view = self._stack.currentWidget()
        inside = view.focusWidget() if view is not None else None
        if inside is not None:
            inside.setFocus()
        elif view is not None:
            view.focusNextChild()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave keys nobody wanted to the window."""
        event.ignore()

    def close_down(self) -> None:
        """Let go of sources and threads; what is to be written is written."""
        self.said.end()
        self._stack.close_down()
        self.source.end()
