"""The invented demo, written once for all tests of it."""

import pytest

from palea.demo.write import write


@pytest.fixture(scope="session")
def written(tmp_path_factory):
    """All three species, freshly written."""
    return write(tmp_path_factory.mktemp("demo") / "journey")
