"""The one line on stderr that is written over and over; nothing at all where stderr is no terminal."""

from __future__ import annotations

import contextlib
import shutil
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


class StatusLine:
    """Writes over what it wrote before.

    Attributes:
        shown: Whether stderr is a terminal.
    """

    def __init__(self) -> None:
        self.shown = sys.stderr is not None and sys.stderr.isatty()
        self._length = 0

    def write(self, text: str) -> None:
        """Show a text, cut to the terminal's width."""
        text = text[: shutil.get_terminal_size().columns - 1]
        sys.stderr.write("\r" + text.ljust(self._length))
        sys.stderr.flush()
        self._length = len(text)

    @contextlib.contextmanager
    def away(self) -> Iterator[None]:
        """Take the line away while something else is written."""
        if self.shown and self._length:
            sys.stderr.write("\r" + " " * self._length + "\r")
            sys.stderr.flush()
            self._length = 0
        yield
