"""Plans and findings in the window: their pages, the plan under way, and the wires between them."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QApplication

from benchtemp.window.pages import LatePage

if TYPE_CHECKING:
    from benchtemp.bench.snapshot import Snapshot
    from benchtemp.logbook.folder import Logbook
    from benchtemp.shots.recipe import Recipe
    from benchtemp.studies.plans.plan import Plan
    from benchtemp.window.choices import Choices
    from benchtemp.window.findings_page.page import FindingsPage
    from benchtemp.window.panel import SourceChoice
    from benchtemp.window.plan_page.page import PlanPage
    from benchtemp.window.plan_run import PlanRun
    from benchtemp.window.plan_strip import PlanStrip
    from benchtemp.window.presentation import Presentation


class Planning(QObject):
    """Makes the pages when they are first wanted.

    Attributes:
        plan_place, findings_place: The pages as the rail needs them.

    Signals:
        entered: Text of a `set` mark for the next shot.
        bench_asked: The Bench page is wanted, to pull the plan's shots.
        findings_asked: The Findings page is wanted.
        failed: A sentence.
        findings_made: Carries the Findings page, made just now.
    """

    entered = Signal(str)
    bench_asked = Signal()
    findings_asked = Signal()
    failed = Signal(str)
    findings_made = Signal(object)

    def __init__(self, logbook: Logbook, choices: Choices, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._logbook = logbook
        self._choices = choices
        self._machine = ""
        self._found = ""
        self._strips: list[PlanStrip] = []
        self.plan_place = LatePage(self._make_plan)
        self.findings_place = LatePage(self._make_findings, read=self._read_findings)

    # -- parts, made when they are wanted ------------------------------------------------------------------

    @property
    def plan(self) -> PlanPage:
        """The Plan page."""
        return self.plan_place.page

    def _make_plan(self) -> PlanPage:
        from benchtemp.window.plan_page.page import PlanPage  # noqa: PLC0415 - see above

        page = PlanPage(self._logbook)
        page.set_machine(self._machine)
        page.run_asked.connect(self.begin)
        page.finding_asked.connect(self.show_finding)
        page.replaced.connect(self._take_edited)
        page.removed.connect(self._take_removed)
        return page

    @property
    def findings(self) -> FindingsPage:
        """The Findings page."""
        return self.findings_place.page

    def _make_findings(self) -> FindingsPage:
        from benchtemp.window.findings_page.page import FindingsPage  # noqa: PLC0415 - it brings the plots

        page = FindingsPage(self._logbook)
        self.findings_made.emit(page)
        return page

    @cached_property
    def run(self) -> PlanRun:
        """The plan under way, if any."""
        from benchtemp.window.plan_run import PlanRun  # noqa: PLC0415 - see above

        run = PlanRun(self._logbook, self)
        run.entered.connect(self.entered)
        run.due.connect(self._sound)
        run.failed.connect(self.failed)
        return run

    @property
    def running(self) -> Plan | None:
        """Return the plan under way."""
        return self.run.plan if "run" in self.__dict__ else None

    def take_strip(self, strip: PlanStrip) -> None:
        """Let a strip show the plan under way."""
        self._strips.append(strip)
        strip.follow(self.run)
        strip.show_muted(muted=self._choices.now.sound_muted)
        strip.left.connect(self.run.leave)
        strip.finding_asked.connect(self._show_finding_of_run)
        strip.mute_asked.connect(self.toggle_sound)

    @Slot(object)
    def take_large(self, large: Presentation) -> None:
        """Let the large view show the plan under way too."""
        self.take_strip(large.plan_strip)

    # -- the plan under way --------------------------------------------------------------------------------

    @Slot(object)
    def begin(self, plan: Plan) -> None:
        """Run a plan on the Bench, from where it stands."""
        self._found = ""
        self.run.begin(plan)
        self.bench_asked.emit()

    @Slot(object, str)
    def _take_edited(self, plan: Plan, name: str) -> None:
        """Go on with a plan under way as it was edited."""
        if self.running is not None and self.running.name == name:
            self.run.begin(plan)

    @Slot(object)
    def _take_removed(self, plan: Plan) -> None:
        """Leave a plan that was moved to the bin."""
        if self.running is not None and self.running.name == plan.name:
            self.run.leave()

    def show_snapshot(self, snapshot: Snapshot | None, choice: SourceChoice | None) -> None:
        """Follow the bench; a replay pulls no shots."""
        machine = choice.machine if choice is not None and choice.keep else ""
        if machine != self._machine:
            self._machine = machine
            if self.plan_place.made is not None:
                self.plan_place.made.set_machine(machine)
        if "run" not in self.__dict__:
            return
        live = snapshot if choice is not None and choice.keep else None
        self.run.show_snapshot(live)
        for strip in self._strips:
            strip.show_time()

    def own_tags(self, tags: dict[str, str]) -> dict[str, str]:
        """Return tags without those that belong to the plan under way."""
        return self.run.own_tags(tags) if "run" in self.__dict__ else tags

    def own_recipe(self, recipe: Recipe) -> Recipe:
        """Return the user's own recipe, also while a plan holds shots to one of its own."""
        return self.run.own_recipe(recipe) if "run" in self.__dict__ else recipe

    @Slot()
    def _sound(self) -> None:
        if not self._choices.now.sound_muted:
            QApplication.beep()

    @Slot()
    def toggle_sound(self) -> None:
        """Mute the sound, or let it be heard again."""
        muted = not self._choices.now.sound_muted
        self._choices.change(sound_muted=muted)
        for strip in self._strips:
            strip.show_muted(muted=muted)

    # -- findings ------------------------------------------------------------------------------------------

    @Slot()
    def _show_finding_of_run(self) -> None:
        if self.run.plan is not None:
            self.show_finding(self.run.plan)

    @Slot(object)
    def show_finding(self, plan: Plan) -> None:
        """Show what the shots of a plan say."""
        self.show_plan(plan)
        self.findings_asked.emit()

    def show_plan(self, plan: Plan) -> None:
        """Ask Findings about a plan, without going there."""
        self._found = plan.name
        self.findings.show_plan(plan)

    def _read_findings(self, page: FindingsPage) -> None:
        """Bring the Findings up to date; of a plan all pulled, show what it comes to."""
        status = self.run.status if self.running is not None else None
        plan = self.running
        if plan is not None and status is not None and status.finished and self._found != plan.name:
            self.show_plan(plan)
        else:
            page.read()

    def close_down(self) -> None:
        """Let go of the plan under way; the pages are closed with the others."""
        if "run" in self.__dict__:
            self.run.close_down()
