"""With what the numbers were computed: programs and their versions, and the fingerprint of the data."""

import platform
from importlib.metadata import PackageNotFoundError, version

from palea.documents.page import Code, Grid, Paragraph, Part, Row
from palea.words.prose import listed

# What a number can rest on.
PROGRAMS = ("palea", "numpy", "scipy", "pandas", "pyarrow", "altair", "vl-convert-python")


def part(story):
    """The Part on software: what is installed here, and with what the kept analyses were computed."""
    told = listed([f"Python {platform.python_version()}", *(f"{name} {_version(name)}" for name in PROGRAMS)])
    kept = listed(dict.fromkeys(a["code_version"] for a in story.rows("analyses") if a["code_version"]))
    blocks = [
        Paragraph(
            f"This record was written with {told}.{f' The results were computed with palea {kept}.' if kept else ''}"
        )
    ]
    hashes = tuple(Row((a["analysis_id"], Code(a["data_hash"] or ""))) for a in story.rows("analyses"))
    if hashes:
        blocks.append(
            Grid("Fingerprints of the rows that each result rests on", ("Analysis", "Hash (SHA-256)"), hashes)
        )
    return Part("Software", tuple(blocks), "software")


def _version(name):
    """Installed version; palea's own also from a checkout, where it is not installed."""
    try:
        return version(name)
    except PackageNotFoundError:
        from palea import __version__

        return __version__ if name == "palea" else "(not installed)"
