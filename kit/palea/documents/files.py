"""Put a page into a file: the ending says which writer, and nothing is overwritten unless that was asked for."""

from pathlib import Path

from palea.documents import html, markdown
from palea.errors import PaleaError

WRITERS = {".html": html.write, ".md": markdown.write}


def save(page, path, *, replace=False):
    """Write a Page to an .html or .md file; its path. PaleaError for another ending, or a file that is there already."""
    target = Path(path).expanduser()
    writer = WRITERS.get(target.suffix.lower())
    if writer is None:
        msg = f"{target} ends in “{target.suffix}”. A page can be written as {' or '.join(WRITERS)}."
        raise PaleaError(msg)
    if target.exists() and not replace:
        msg = f"{target} is there already and was left as it is. Say --replace, or give another name."
        raise PaleaError(msg)
    try:
        target.write_text(writer(page), encoding="utf-8", newline="\n")
    except OSError as fault:
        msg = f"{target} cannot be written: {fault.strerror or fault}. Choose a folder that exists and that you may write in."
        raise PaleaError(msg) from None
    return target
