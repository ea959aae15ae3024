"""A page with a narrow side at the left and, at the right, one of several views below a line of words."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QStackedWidget, QVBoxLayout, QWidget

from benchtemp.window.panel import Panel
from benchtemp.window.panels.labels import Sentence


def scrolled(widget: QWidget) -> QScrollArea:
    """Return a widget that scrolls up and down where it is too high, and never sideways."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(widget)
    return area


def scroll_bar_width(area: QScrollArea) -> int:
    """Return how much room a scroll bar takes beside what scrolls."""
    return area.verticalScrollBar().sizeHint().width()


class SidePage(Panel):
    """Lays such a page out.

    Attributes:
        side: The left side, for widgets one below the other.
        said: A sentence above the views.
        above: The row it stands in.
        views: The views, one of them in front.
    """

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        """Build the page.

        Args:
            name: What its sentence is about, for those who hear it.
            parent: Widget it belongs to.
        """
        super().__init__(parent)
        self.setProperty("look", "page")
        self._side = QWidget()
        self.side = QVBoxLayout(self._side)
        self.side.setContentsMargins(0, 0, 0, 0)
        self.side.setSpacing(8)
        self.said = Sentence(look="quiet", name=name)
        self.views = QStackedWidget()
        self.above = QHBoxLayout()
        self.above.addWidget(self.said, 1)
        right = QVBoxLayout()
        right.setSpacing(6)
        right.addLayout(self.above)
        right.addWidget(self.views, 1)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 10, 12, 10)
        layout.setSpacing(14)
        layout.addWidget(self._side)
        layout.addLayout(right, 1)

    def fix_side(self, chars: int, least_px: int = 0) -> None:
        """Make the side so many characters wide, and at least so many pixels."""
        self._side.setFixedWidth(max(self.fontMetrics().averageCharWidth() * chars, least_px))


def words_view(*widgets: QWidget) -> QWidget:
    """Return a view of a few words, and perhaps a button, with room around them."""
    view = QWidget()
    layout = QVBoxLayout(view)
    layout.setContentsMargins(24, 20, 24, 20)
    layout.setSpacing(12)
    for widget in widgets:
        # Words take the width there is, a button its own.
        alone = widget.sizePolicy().horizontalPolicy() is widget.sizePolicy().Policy.Minimum
        layout.addWidget(widget, 0, Qt.AlignmentFlag.AlignLeft if alone else Qt.AlignmentFlag(0))
    layout.addStretch(1)
    return view
