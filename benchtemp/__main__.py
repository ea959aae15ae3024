"""The program's door: the command line, and behind it, only when asked for, the window."""

from __future__ import annotations

import sys
from typing import Any

from benchtemp.cli import run


def _open_window(**options: Any) -> int:
    # Imported here: no command but the window itself may load Qt.
    from benchtemp.window.app import open_window  # noqa: PLC0415

    return open_window(**options)


def main() -> None:
    """Run the command line and leave with its exit code."""
    sys.exit(run(sys.argv[1:], open_window=_open_window))


if __name__ == "__main__":
    main()
