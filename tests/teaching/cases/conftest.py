"""One case of every kind, and what was tested on each: pulled once for all tests."""

import functools

import pytest

from benchtemp.shots.shot import analyse_stream
from benchtemp.teaching.cases.case import Case
from benchtemp.teaching.cases.fault import Fault
from benchtemp.teaching.cases.sealed import unsealed


@functools.cache
def _codes():
    found = {}
    for code in range(100, 1000):
        found.setdefault(unsealed(code).fault, []).append(code)
    return found


@functools.cache
def _pulled(code):
    return Case(code).pull(8)


@functools.cache
def _shots(code):
    return analyse_stream(_pulled(code)).shots


@functools.cache
def _check(code):
    return Case(code).boil()


@pytest.fixture
def codes():
    """Return some case numbers by fault."""
    return _codes()


@pytest.fixture
def pulled():
    """Return what gives the recording of eight shots on a case."""
    return _pulled


@pytest.fixture
def shots():
    """Return what gives eight shots of a case."""
    return _shots


@pytest.fixture
def check():
    """Return what gives a boil check of a case's probe."""
    return _check


@pytest.fixture(params=list(Fault), ids=str)
def fault(request):
    """Every fault in turn."""
    return request.param
