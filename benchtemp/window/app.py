"""Opening the window and closing it again, in the right order."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from PySide6.QtCore import QLibraryInfo, QLocale, QTimer, QTranslator
from PySide6.QtWidgets import QApplication

from benchtemp.logbook.folder import Logbook
from benchtemp.places import default_logbook_dir
from benchtemp.readings.replay import ReplaySource
from benchtemp.window.choices import Choices
from benchtemp.window.faults import Faults
from benchtemp.window.keys import EnterPresses
from benchtemp.window.main_window import MainWindow
from benchtemp.window.panel import SourceChoice
from benchtemp.window.session import Session
from benchtemp.window.theme import Themes

if TYPE_CHECKING:
    from pathlib import Path

    from benchtemp.bench.live import LiveBench
    from benchtemp.readings.source import Source


def open_window(*, source: Source | None = None, logbook: Path | None = None, title: str = "") -> int:
    """Open the window and return the exit code when it is closed.

    Args:
        source: Begin a sitting with it at once, not yet open; None lets the user choose.
        logbook: Folder of recordings and shots; None for the user's own.
        title: Of the window.
    """
    app = make_application()
    faults = Faults(app)
    window = make_window(app, logbook=logbook, title=title)
    faults.told.connect(window.tell_fault)
    window.show()
    if source is not None:
        window.session.begin(choice_of(source))
    else:
        QTimer.singleShot(0, window.start.take_focus)
    QTimer.singleShot(0, window.reporter.look_for_interrupted)
    with _closing_on_interrupt(window):
        code = app.exec()
    faults.let_go()
    return code


def make_application() -> QApplication:
    """Return the application, made if there is none yet."""
    existing = QApplication.instance()
    if isinstance(existing, QApplication):
        return existing
    app = QApplication(sys.argv[:1])
    app.setApplicationName("benchtemp")
    app.setDesktopFileName("benchtemp")
    app.setStyle("Fusion")
    translator = QTranslator(app)
    if translator.load(
        QLocale(), "qtbase", "_", QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)
    ):
        app.installTranslator(translator)
    return app


def make_window(app: QApplication, *, logbook: Path | None = None, title: str = "") -> MainWindow:
    """Return the main window with all that belongs to it, not yet shown."""
    choices = Choices()
    named = choices.now.logbook
    root = logbook or (default_logbook_dir().__class__(named) if named else default_logbook_dir())
    book = Logbook(root)
    themes = Themes(app, choices.now.theme)
    presses = EnterPresses(app)

    def start_bench(choice: SourceChoice) -> LiveBench:
        # What reads and writes files is not needed to paint the first picture.
        from benchtemp.bench.plugged import probe_choice  # noqa: PLC0415
        from benchtemp.bench.sitting import start_sitting  # noqa: PLC0415
        from benchtemp.shots.entries import Entries  # noqa: PLC0415
        from benchtemp.window.virtual_machine import own_tags, virtual_source  # noqa: PLC0415

        entries = None
        if choice.keep:
            tags = {name: value for name, value in choices.now.tags.items() if name != "machine"}
            if choice.machine:
                tags["machine"] = choice.machine
            machine = virtual_source(choice.source)
            if machine is not None:
                tags = own_tags(machine, tags) | machine.found_tags
            entries = Entries(recipe=choices.now.recipe, tags=tags)
        return start_sitting(
            choice.source,
            logbook=book if choice.keep else None,
            entries=entries,
            machine=choice.machine,
            probes=probe_choice(choices.now),
            scale=choice.scale,
        )

    session = Session(start_bench)
    window = MainWindow(session, themes, choices, book, title=title)
    themes.apply()
    for part in (choices, themes, presses, session):
        part.setParent(window)
    return window


def choice_of(source: Source) -> SourceChoice:
    """Return the choice of a source made elsewhere: a replay keeps nothing, anything else is kept."""
    from benchtemp.readings.virtual import VirtualSource  # noqa: PLC0415 - not needed to paint

    if isinstance(source, ReplaySource):
        machine = str(source.stream.meta.get("machine", ""))
        return SourceChoice(source, machine=machine, keep=False)
    if isinstance(source, VirtualSource):
        return SourceChoice(source, machine=source.name)
    return SourceChoice(source, hardware=True)


@contextmanager
def _closing_on_interrupt(window: MainWindow) -> Iterator[None]:
    """Close the window in order on Ctrl+C in the terminal; the session's timer lets Python notice it."""

    def close(*_: object) -> None:
        QTimer.singleShot(0, window.close)

    if threading.current_thread() is not threading.main_thread():
        yield  # whoever runs us in another thread handles signals
        return
    before = {number: signal.signal(number, close) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
