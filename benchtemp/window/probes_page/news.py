"""What the page says above its panels: what was saved and from when on it holds, or what went wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Slot

from benchtemp.window.panels.labels import Sentence

if TYPE_CHECKING:
    from PySide6.QtWidgets import QWidget

_SAID_FOR_MS = 15_000


class News(Sentence):
    """One sentence: good news for a while, trouble until something else is said."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, look="good", name="Probes")
        self._of_sitting = False
        self._hush = QTimer(self)
        self._hush.setSingleShot(True)
        self._hush.setInterval(_SAID_FOR_MS)
        self._hush.timeout.connect(self._be_quiet)

    def tell(self, sentence: str, look: str = "good") -> None:
        """Say something for a while."""
        self._of_sitting = False
        self.say(sentence, look)
        self._hush.start()

    def tell_failure(self, sentence: str) -> None:
        """Say what went wrong."""
        self._of_sitting = False
        self.say(sentence, "bad")
        self._hush.stop()

    def tell_kept(self, name: str, *, in_use: bool) -> None:
        """Say from when on a check or a time constant holds.

        Args:
            name: The probe's.
            in_use: A sitting reads from the probe; then this is said until that ends.
        """
        if not in_use:
            self.tell(f"✓ Saved. It holds from the next sitting on, on the channel {name} is plugged into.")
            return
        self._hush.stop()
        self._of_sitting = True
        self.say(
            "✓ Saved. The sitting that is open began without it and goes on as it began, so that all its "
            f"shots are corrected alike. For the new one open the source anew (Ctrl+O); for shots pulled "
            f'so far: benchtemp analyse --with-probe "{name}".',
            "caution",
        )

    def end_news(self) -> None:
        """Something else begins: what was saved before is no news there; what the sitting goes without is."""
        if self._hush.isActive():
            self._hush.stop()
            self._be_quiet()

    def end_sitting(self) -> None:
        """The sitting something was said about is over."""
        if self._of_sitting:
            self._be_quiet()

    @Slot()
    def _be_quiet(self) -> None:
        self._of_sitting = False
        self.say("")

    def end(self) -> None:
        """Stop the clock."""
        self._hush.stop()
