"""Single keys from a terminal, without waiting for Enter, and the terminal left as it was found."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


def keyboard_there() -> bool:
    """Tell whether standard input is a terminal somebody can type on.

    It may be closed altogether; and a terminal belongs to others while this runs in its background: setting
    its mode or reading from it would suspend the program.
    """
    try:
        return sys.stdin is not None and sys.stdin.isatty() and _in_foreground()
    except ValueError:
        return False


if sys.platform == "win32":
    import msvcrt

    @contextlib.contextmanager
    def single_keys() -> Iterator[None]:
        """Make single keys readable for as long as the context lasts; what was typed before is forgotten."""
        forget_typed()
        yield

    def forget_typed() -> None:
        """Let go of what was typed but not read: no answer to what is asked only now."""
        waiting_keys()

    def waiting_keys() -> str:
        """Return the keys typed since the last call, without waiting."""
        typed = ""
        while msvcrt.kbhit():
            typed += msvcrt.getwch()
        return typed

    def _in_foreground() -> bool:
        return True

else:
    import select
    import termios
    import tty

    @contextlib.contextmanager
    def single_keys() -> Iterator[None]:
        """Make single keys readable for as long as the context lasts; Ctrl+C keeps working.

        What was typed before is forgotten, what is typed from here on is not: enter this before the first
        word that asks for keys is shown.
        """
        if not keyboard_there():
            yield
            return
        descriptor = sys.stdin.fileno()
        before = termios.tcgetattr(descriptor)
        try:
            tty.setcbreak(descriptor, termios.TCSAFLUSH)
            yield
        finally:
            termios.tcsetattr(descriptor, termios.TCSADRAIN, before)

    def forget_typed() -> None:
        """Let go of what was typed but not read: no answer to what is asked only now."""
        if keyboard_there():
            termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)

    def waiting_keys() -> str:
        """Return the keys typed since the last call, without waiting."""
        if not keyboard_there():
            return ""
        descriptor = sys.stdin.fileno()
        typed = b""
        while select.select([descriptor], [], [], 0)[0]:
            chunk = os.read(descriptor, 1024)
            if not chunk:
                break
            typed += chunk
        return typed.decode(errors="replace")

    def _in_foreground() -> bool:
        try:
            return os.tcgetpgrp(sys.stdin.fileno()) == os.getpgrp()
        except OSError:  # a terminal, but of no session of ours: nobody can be in its background
            return True
