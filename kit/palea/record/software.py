"""With what the numbers were computed: programs and their versions, and the fingerprint of the data."""

import platform
from importlib.metadata import PackageNotFoundError, version

from palea.documents.page import Code, Grid, Paragraph, Part, Row, reference
from palea.words.prose import listed

# What a number can rest on.
FINGERPRINTS = "table-fingerprints"
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
    if story.rows("analyses"):
        blocks.append(
            Paragraph(("Fingerprints of the rows that each result rests on stand in ", reference(FINGERPRINTS), "."))
        )
    return Part("Software", tuple(blocks), "software")


def table(story):
    """The Grid of fingerprints for the appendix; None where nothing was computed."""
    rows = tuple(
        Row((a["analysis_id"], (a["ran_at"] or "")[:10], Code(a["data_hash"] or ""))) for a in story.rows("analyses")
    )
    heads = ("Analysis", "Computed", "Hash (SHA-256) of the rows that were read")
    return Grid("Fingerprints of the rows that each result rests on", heads, rows, FINGERPRINTS) if rows else None


def _version(name):
    """Installed version; palea's own also from a checkout, where it is not installed."""
    try:
        return version(name)
    except PackageNotFoundError:
        from palea import __version__

        return __version__ if name == "palea" else "(not installed)"
