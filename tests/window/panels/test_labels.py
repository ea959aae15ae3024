from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel

from benchtemp.window.panels.labels import Sentence, Wrapped, quiet, unbroken

NB = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("ran 28.2 s, window 22–28 s", f"ran 28.2{NB}s, window 22–28{NB}s"),
        ("93.0 °C ± 0.5 °C", f"93.0{NB}°C ±{NB}0.5{NB}°C"),
        ("95 % of 6 shots", f"95{NB}% of 6 shots"),  # "s" begins a word there
        ("3 min apart", f"3{NB}min apart"),
        ("Shot 2 is kept.", "Shot 2 is kept."),
    ],
)
def test_a_number_and_its_unit_stay_on_one_line(text, held):
    assert unbroken(text) == held


def test_words_are_told_as_they_were_given(qtbot):
    for made in (Wrapped("22 s"), quiet("22 s", wrap=True), Sentence()):
        qtbot.addWidget(made)
        made.setText("22 s")
        assert made.text() == "22 s"
        assert QLabel.text(made) == f"22{NB}s"
