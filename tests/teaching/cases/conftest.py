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
    return Case(code).pull(6)


@functools.cache
def _coarser(code):
    return Case(code).pull(2, grind_percent=125.0, sitting=2)


@functools.cache
def _shots(code):
    return (*analyse_stream(_pulled(code)).shots, *analyse_stream(_coarser(code)).shots)


@functools.cache
def _check(code):
    return Case(code).boil()


@pytest.fixture
def codes():
    """Return some case numbers by fault."""
    return _codes()


@pytest.fixture
def pulled():
    """Return what gives the recording of six shots on a case, at the settings as found."""
    return _pulled


@pytest.fixture
def shots():
    """Return what gives eight shots of a case, the last two of them ground coarser."""
    return _shots


@pytest.fixture
def check():
    """Return what gives a boil check of a case's probe."""
    return _check


@pytest.fixture(params=list(Fault), ids=str)
def fault(request):
    """Every fault in turn."""
    return request.param
