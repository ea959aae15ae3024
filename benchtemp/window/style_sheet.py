"""The style sheet of the whole window, made from a theme's colours.

A ring in another dark colour can hardly be seen around a dark button; a filled button with the focus stands
within rings of its own colour, with the ground between them. Its size does not change.

Widgets ask for a look by a property, `widget.setProperty("look", …)`:
    surface, surface-focus   a panel: surface ground, hairline, rounded; and with the focus in it
    heading   the title of a panel
    quiet     quieter text
    figure    a number that matters
    primary   the one button that leads on
    card, card-shown   a shot's card, and the one the plot shows
    rail, rule         the window's left edge; a thin line between figures
    flat      a button without a frame until the pointer or focus is on it
    good, bad, caution   text in that colour (always with a word or sign)
    note-caution, note-bad, note-good, note-plain   a standing message with its ground
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtemp.window.theme import Theme


def style_sheet(theme: Theme) -> str:
    """Return the style sheet for a theme; sizes follow the fonts the widgets have."""
    t = theme
    return f"""
QWidget[look="page"] {{ background: {t.page}; }}
QWidget[look="surface"] {{
    background: {t.surface}; border: 1px solid {t.line}; border-radius: 8px; padding: 1px; }}
QWidget[look="rail"] {{ background: {t.surface}; border: none; border-right: 1px solid {t.line}; }}
QFrame[look="rule"] {{ background: {t.line}; border: none; max-width: 1px; }}
QFrame[look="card"] {{
    background: {t.surface}; border: 1px solid {t.line}; border-radius: 8px; padding: 1px; }}
QFrame[look="card"]:hover {{ border-color: {t.soft}; }}
QFrame[look="card-shown"] {{ background: {t.sunken}; border: 2px solid {t.text}; border-radius: 8px; }}
QFrame[look="card"]:focus, QFrame[look="card-shown"]:focus {{ border: 2px solid {t.accent}; padding: 0px; }}
QWidget[look="surface-focus"] {{
    background: {t.surface}; border: 2px solid {t.accent}; border-radius: 8px; padding: 0; }}
QGraphicsView {{ border: none; }}
QLabel {{ background: transparent; border: none; }}
QLabel[look="quiet"] {{ color: {t.soft}; }}
QLabel[look="good"] {{ color: {t.good}; }}
QLabel[look="bad"] {{ color: {t.bad}; }}
QLabel[look="caution"] {{ color: {t.caution}; }}
QWidget[look="note-plain"] {{ background: {t.surface}; border: 1px solid {t.line}; border-radius: 6px; }}
QWidget[look="note-good"] {{ background: {t.good_ground}; border: 1px solid {t.good}; border-radius: 6px; }}
QWidget[look="note-bad"] {{ background: {t.bad_ground}; border: 1px solid {t.bad}; border-radius: 6px; }}
QWidget[look="note-caution"] {{
    background: {t.caution_ground}; border: 1px solid {t.caution}; border-radius: 6px; }}

QPushButton, QToolButton {{
    background: {t.surface}; color: {t.text};
    border: 1px solid {t.line}; border-radius: 6px; padding: 5px 12px; }}
QPushButton:hover, QToolButton:hover {{ border-color: {t.soft}; }}
QPushButton:pressed, QToolButton:pressed {{ background: {t.page}; }}
QPushButton:checked, QToolButton:checked {{
    background: {t.accent}; color: {t.on_accent}; border-color: {t.accent}; }}
QPushButton:disabled, QToolButton:disabled {{
    color: {t.soft}; background: {t.page}; border-color: {t.grid}; }}
QPushButton[look="primary"] {{
    background: {t.accent}; color: {t.on_accent}; border: 1px solid {t.accent}; padding: 7px 16px; }}
QPushButton[look="primary"]:disabled {{ background: {t.line}; color: {t.text}; border-color: {t.line}; }}
QPushButton[look="flat"], QToolButton[look="flat"] {{
    background: transparent; border: 1px solid transparent; padding: 4px 8px; }}
QPushButton[look="flat"]:hover, QToolButton[look="flat"]:hover {{ border-color: {t.line}; }}
QPushButton[look="flat"]:checked, QToolButton[look="flat"]:checked {{
    background: {t.accent}; color: {t.on_accent}; }}
QPushButton:focus, QToolButton:focus {{ border: 2px solid {t.accent}; }}
QPushButton[look="primary"]:focus, QPushButton:checked:focus, QToolButton:checked:focus {{
    border: 4px double {t.accent}; background-clip: padding; }}
QPushButton[look="primary"]:focus {{ padding: 4px 13px; }}
QPushButton:checked:focus, QToolButton:checked:focus {{ padding: 2px 9px; }}
QPushButton[look="flat"]:checked:focus, QToolButton[look="flat"]:checked:focus {{ padding: 1px 5px; }}

QLineEdit, QComboBox, QPlainTextEdit, QAbstractSpinBox {{
    background: {t.sunken}; color: {t.text}; border: 1px solid {t.soft}; border-radius: 5px; padding: 4px 6px;
    selection-background-color: {t.accent}; selection-color: {t.on_accent}; }}
QLineEdit, QPlainTextEdit {{ placeholder-text-color: {t.hint}; }}
QLineEdit:focus, QComboBox:focus, QPlainTextEdit:focus, QAbstractSpinBox:focus {{
    border: 2px solid {t.accent}; padding: 3px 5px; }}
QLineEdit:disabled, QComboBox:disabled {{ color: {t.soft}; border-color: {t.line}; }}
QLineEdit[wrong="true"] {{ border: 2px solid {t.bad}; padding: 3px 5px; }}
QComboBox::drop-down {{ border: none; width: 22px; }}
QComboBox QAbstractItemView, QListView, QTreeView, QTableView {{
    background: {t.sunken}; color: {t.text}; border: 1px solid {t.line}; border-radius: 5px;
    selection-background-color: {t.accent}; selection-color: {t.on_accent}; outline: none; }}
QListView::indicator {{
    width: 13px; height: 13px; border: 1px solid {t.soft}; border-radius: 3px; background: {t.sunken}; }}
QListView::indicator:checked {{ background: {t.text}; border-color: {t.text}; }}
QListView:focus, QTreeView:focus, QTableView:focus {{ border: 2px solid {t.accent}; }}
QTableView::item {{ padding: 0 5px; }}
QHeaderView::section {{
    background: {t.surface}; color: {t.soft};
    border: none; border-bottom: 1px solid {t.line}; padding: 5px 8px; }}
QCheckBox, QRadioButton {{ background: transparent; color: {t.text}; spacing: 6px; padding: 2px; }}
QCheckBox:focus, QRadioButton:focus {{ border: 2px solid {t.accent}; border-radius: 4px; padding: 0px; }}
QSlider:focus {{ border: 2px solid {t.accent}; border-radius: 4px; }}
QScrollArea {{ background: transparent; border: none; }}
QScrollArea > QWidget > QWidget {{ background: transparent; }}
QScrollBar:vertical {{ background: transparent; width: 12px; margin: 0; }}
QScrollBar:horizontal {{ background: transparent; height: 12px; margin: 0; }}
QScrollBar::handle {{ background: {t.line}; border-radius: 4px; margin: 2px; }}
QScrollBar::handle:vertical {{ min-height: 28px; }}
QScrollBar::handle:horizontal {{ min-width: 28px; }}
QScrollBar::handle:hover {{ background: {t.soft}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QToolTip {{ background: {t.surface}; color: {t.text}; border: 1px solid {t.line}; padding: 4px; }}
"""
