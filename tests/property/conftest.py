import importlib.util
import shutil
from pathlib import Path

import pytest

from palea.tables.opening import open_package


@pytest.fixture(scope="session")
def build():
    """The module that builds tiny packages."""
    spec = importlib.util.spec_from_file_location(
        "tables_builder", Path(__file__).parent.parent / "tables" / "builder.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def built(build, tmp_path_factory):
    """The folder of a sound package, built once: copy it, never change it."""
    return build.small(tmp_path_factory.mktemp("built") / "small").folder


@pytest.fixture
def small(built, tmp_path):
    """A sound package of nine tables, in a folder of its own."""
    return open_package(shutil.copytree(built, tmp_path / "small"))
