"""Single keys from a terminal, without waiting for Enter, and the terminal left as it was found."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


def keyboard_there() -> bool:
    """Tell whether standard input is a terminal somebody can type on (it may be closed altogether)."""
    try:
        return sys.stdin is not None and sys.stdin.isatty()
    except ValueError:
        return False


if sys.platform == "win32":
    import msvcrt

    @contextlib.contextmanager
    def single_keys() -> Iterator[None]:
        """Make single keys readable for as long as the context lasts."""
        yield

    def waiting_keys() -> str:
        """Return the keys typed since the last call, without waiting."""
        typed = ""
        while msvcrt.kbhit():
            typed += msvcrt.getwch()
        return typed

else:
    import select
    import termios
    import tty

    @contextlib.contextmanager
    def single_keys() -> Iterator[None]:
        """Make single keys readable for as long as the context lasts; Ctrl+C keeps working."""
        if not keyboard_there():
            yield
            return
        descriptor = sys.stdin.fileno()
        before = termios.tcgetattr(descriptor)
        try:
            tty.setcbreak(descriptor)
            yield
        finally:
            termios.tcsetattr(descriptor, termios.TCSADRAIN, before)

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
