"""Pages are made when first wanted, and treated alike."""

import pytest
from PySide6.QtWidgets import QWidget

from benchtemp.units import TempUnit
from benchtemp.window.pages import LatePage, Pages
from benchtemp.window.theme import DARK


class Sheet(QWidget):
    """A page that writes down what is asked of it."""

    def __init__(self):
        super().__init__()
        self.asked = []

    def set_theme(self, theme):
        self.asked.append(("theme", theme.name))

    def set_unit(self, unit):
        self.asked.append(("unit", unit))

    def read(self):
        self.asked.append("read")

    def take_focus(self):
        self.asked.append("focus")

    def close_down(self):
        self.asked.append("close")


@pytest.mark.usefixtures("qapp")
def test_a_page_is_made_when_wanted_and_dressed_as_it_would_have_been():
    made = []

    def make():
        made.append(Sheet())
        return made[-1]

    late = LatePage(make)
    late.set_theme(DARK)
    late.set_unit(TempUnit.DEGF)
    late.close_down()
    assert not made
    page = late.page
    assert late.page is page is late.made
    assert page.parent() is late.place
    assert page.asked == [("theme", DARK.name), ("unit", TempUnit.DEGF)]


@pytest.mark.usefixtures("qapp")
def test_what_comes_to_the_front_is_read_first_and_focused_last():
    first, second = LatePage(Sheet), LatePage(Sheet)
    pages = Pages({"One": first, "Two": second})
    assert pages.names == ("One", "Two")
    pages.bring(1)
    assert pages.currentWidget() is second.place
    assert second.made.asked[2:] == ["read", "focus"]
    assert first.made is None
    pages.close_down()
    assert second.made.asked[-1] == "close"


@pytest.mark.usefixtures("qapp")
def test_reading_can_be_more_than_the_page_does():
    late = LatePage(Sheet, read=lambda page: page.asked.append("read otherwise"))
    late.read()
    assert late.page.asked[-1] == "read otherwise"
