"""An exercise as one file: a ZIP with one ECSV stream a shot and a TOML description.

    exercise.toml   title, teacher, words, and for each shot its stream, tolerance, recipe and `sealed`
    shots/01.ecsv   readings alone, ECSV 1.0

`sealed` holds a shot's reference, pump marks and the teacher's notes as base64 of zlib of JSON: nobody reads
an answer by opening the file, and anybody who wants to can. It keeps honest people honest; it is no secrecy
for an examination.
"""

from __future__ import annotations

import os
from pathlib import Path

from benchtemp.teaching.exercise import Exercise

SUFFIX = ".exercise.zip"


def write_exercise(path: str | os.PathLike[str], exercise: Exercise, *, overwrite: bool = False) -> Path:
    """Write an exercise as one file that appears whole or not at all; return its path.

    The same exercise always gives the same bytes.

    Raises:
        BadInput: There is a file of that name (and `overwrite` is False), or it cannot be written.
        StorageError: The disk does not take it.
    """
    raise NotImplementedError


def read_exercise(path: str | os.PathLike[str]) -> Exercise:
    """Read an exercise, whoever made the file; nothing is unpacked to the disk.

    Raises:
        BadInput: It is no exercise, or larger than is taken.
        DamagedFile: It is one, and damaged.
    """
    raise NotImplementedError
