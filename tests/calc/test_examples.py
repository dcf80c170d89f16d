"""The examples in the docstrings of the calculations are run, so none of them can go stale."""

import doctest
import importlib
import pkgutil

import pytest

import palea.calc

MODULES = sorted(m.name for m in pkgutil.walk_packages(palea.calc.__path__, "palea.calc."))


@pytest.mark.parametrize("name", MODULES)
def test_its_examples_hold(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
