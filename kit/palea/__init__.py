"""palea: a lab-notebook kit and a data schema for people who clean, treat and coat native seed and test what it does.

    import palea
    package = palea.open_package("folder")
    findings = palea.check(package)
    outcome = palea.run("germination.final", package, trial="G1")

Names are fetched on first use, so that importing palea costs nothing.
"""

from importlib import import_module

__version__ = "0.1.0"

_WHERE = {
    "open_package": "palea.tables.opening",
    "new_package": "palea.tables.beginning",
    "copy_of_demo": "palea.demo.shipped_copy",
    "check": "palea.checks.run",
    "checklist": "palea.checks.checklist",
    "run": "palea.analyses.run",
    "keep": "palea.analyses.keep",
    "write_methods": "palea.record.methods",
    "share": "palea.sharing.archive",
    "rerun": "palea.sharing.rerun",
    "panels": "palea",
    "PaleaError": "palea.errors",
    "PackageError": "palea.errors",
    "Finding": "palea.findings",
    "Stamp": "palea.stamp",
    "now": "palea.stamp",
}
_CALLED_THERE = {"checklist": "evaluate", "write_methods": "write"}

__all__ = ["__version__", *_WHERE]  # noqa: PLE0604 - the keys are strings


def __getattr__(name):
    """Fetch a name of the facade from the room where it lives."""
    if name not in _WHERE:
        msg = f"palea has no “{name}”. It offers: {', '.join(_WHERE)}."
        raise AttributeError(msg)
    if name == "panels":
        return import_module("palea.panels")
    return getattr(import_module(_WHERE[name]), _CALLED_THERE.get(name, name))


def __dir__():
    """The names that the facade promises."""
    return __all__
