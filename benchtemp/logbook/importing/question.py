"""What a file alone does not tell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """A point to ask about.

    Attributes:
        point: The field of `Given` that answers it.
        text: A sentence that says what is not known.
        choices: Values that field may take; empty where it is a number or columns.
        assumed: What is taken meanwhile; empty where the file cannot be read without an answer.
    """

    point: str
    text: str
    choices: tuple[str, ...] = ()
    assumed: str = ""

    @property
    def required(self) -> bool:
        """Tell whether the file cannot be read without an answer."""
        return not self.assumed
