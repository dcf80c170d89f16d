"""Libraries loaded without a part that takes long to load and that nothing here uses."""

import importlib
import sys

GRAMMAR = "rfc3987_syntax"


def jsonschema():
    """The library without the grammar of addresses that it takes 0.7 s to build where JupyterLab is installed.

    No format is checked here, so nothing is lost; it does without the grammar where that cannot be imported.
    """
    if "jsonschema" in sys.modules or GRAMMAR in sys.modules:
        return importlib.import_module("jsonschema")
    sys.modules[GRAMMAR] = None
    try:
        return importlib.import_module("jsonschema")
    finally:
        del sys.modules[GRAMMAR]
