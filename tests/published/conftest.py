"""Published figures: each file beside this one names its own source in its header or its `source` keys."""

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

_FOLDER = Path(__file__).parent


@pytest.fixture(scope="session")
def published_rows() -> Callable[[str], list[dict[str, str]]]:
    """Give the rows of a table by its file name."""

    def read(name: str) -> list[dict[str, str]]:
        lines = (_FOLDER / name).read_text(encoding="utf-8").splitlines()
        return list(csv.DictReader(line for line in lines if line.strip() and not line.startswith("#")))

    return read


@pytest.fixture(scope="session")
def published() -> Callable[[str], Any]:
    """Give a document by its file name."""

    def read(name: str) -> Any:
        return json.loads((_FOLDER / name).read_text(encoding="utf-8"))

    return read
