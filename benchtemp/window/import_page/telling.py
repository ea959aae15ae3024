"""What an import would give, in sentences. No widgets."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from benchtemp.studies.outcome import plural
from benchtemp.units import TempUnit, temp_text

if TYPE_CHECKING:
    from benchtemp.logbook.importing import Question, Trial
    from benchtemp.readings.reading import Stream

_WHERE = {
    "order": "choose under “Dates have”",
    "interval_s": "give it under “A row every”, or name the column of times above the table",
    "junction_degc": "give it under “Junction at”, or name the column above the table",
    "unit": "change it above the columns",
    "elapsed_unit": "change it above the column",
    "temperature_columns": "change it above the columns",
}


@dataclass(frozen=True, slots=True)
class Told:
    """Sentences; each empty where there is nothing to say.

    Attributes:
        complaint: Why nothing can be imported yet.
        is_question: The complaint is a question that waits for an answer.
        to_check: What was taken for want of better knowledge.
        outcome: What the recording would be.
        remarks: How the file was read, and what was left out or mended.
    """

    complaint: str = ""
    is_question: bool = False
    to_check: str = ""
    outcome: str = ""
    remarks: str = ""


def what_would_come(trial: Trial | None, unit: TempUnit, *, cut: int = 0) -> Told:
    """Return the sentences on a trial.

    Args:
        trial: The file as it was read; None where there is none.
        unit: Unit to tell temperatures in.
        cut: How many of its columns are not shown.
    """
    if trial is None:
        return Told()
    required = [question for question in trial.questions if question.required]
    complaint = " ".join(map(_asked, required)) if required and trial.complaint else trial.complaint
    assumed = [f"⚠ {_asked(question)}" for question in trial.questions if not question.required]
    if cut:
        assumed.append(f"⚠ {plural(cut, 'further column')} of the file cannot be shown here.")
    stream = trial.stream
    remarks = [*trial.remarks[:1], *(() if stream is None else stream.warnings)]
    return Told(
        complaint=complaint,
        is_question=bool(required),
        to_check="\n".join(assumed),
        outcome="" if stream is None else _outcome(trial, stream, unit),
        remarks=" ".join(remarks),
    )


def _asked(question: Question) -> str:
    cure = _WHERE.get(question.point, "")
    text = question.text.rstrip(".")
    text = text.removesuffix("; this must be stated").removesuffix(", must be stated")
    return f"{text}: {cure}." if cure else f"{text}."


def _outcome(trial: Trial, stream: Stream, unit: TempUnit) -> str:
    """Return when it began, how long it is, how often it reads, its first values, and its shots."""
    steps_s = np.diff(stream.t_s)
    length_s = float(stream.t_s[-1] - stream.t_s[0])
    parts = [plural(len(stream.t_s), "reading")]
    if len(steps_s):
        parts.append(f"one every {float(np.median(steps_s)):.3g} s over {_length(length_s)}")
    started = stream.started
    if started is not None:
        parts.append(f"from {started:%d %B %Y, %H:%M:%S}".replace(" 0", " "))
    first = [
        f"{name} {temp_text(temps[0], unit, 1)}"
        for name, column in zip(stream.channels, stream.temps_degc.T.tolist(), strict=True)
        if (temps := [value for value in column if isfinite(value)])
    ]
    sentence = f"{', '.join(parts)}. It begins with {', '.join(first)}."
    analysis = trial.analysis
    if analysis is None:
        return f"{sentence} Shots are looked for by the import."
    shots = plural(len(analysis.shots), "shot") if analysis.shots else "No shot"
    why = "; ".join(analysis.reasons) if not analysis.shots else ""
    return f"{sentence} {shots} found in it{': ' + why if why else ''}".rstrip(".") + "."


def _length(length_s: float) -> str:
    if length_s < 90:
        return f"{length_s:.3g} s"
    if length_s < 5400:
        return f"{length_s / 60:.3g} min"
    return f"{length_s / 3600:.3g} h"
