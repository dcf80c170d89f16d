"""The examples in docstrings of pages and of the record hold."""

import doctest
import importlib
import pkgutil

import pytest

import palea.documents
import palea.record

ROOMS = (palea.documents, palea.record)
NAMES = [f"{room.__name__}.{module.name}" for room in ROOMS for module in pkgutil.iter_modules(room.__path__)]


@pytest.mark.parametrize("name", NAMES)
def test_examples_hold(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples():
    assert sum(doctest.testmod(importlib.import_module(name)).attempted for name in NAMES) > 15
