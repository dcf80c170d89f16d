"""Put a page into a file: the ending says which writer, and nothing is overwritten unless that was asked for."""

from pathlib import Path

from palea.documents import docx, html, markdown
from palea.errors import PaleaError

WRITERS = {".html": html.write, ".md": markdown.write, ".docx": docx.write}


def save(page, path, *, replace=False, endings=tuple(WRITERS)):
    """Write a Page to a file; its path. PaleaError for another ending, or a file that is there already.

    endings : those of WRITERS that make sense for this page.
    """
    ending = Path(path).suffix.lower()
    if ending not in endings:
        *first, last = endings
        allowed = f"{', '.join(first)} or {last}" if first else last
        msg = f"{path} ends in “{Path(path).suffix}”. This can be written as {allowed}."
        raise PaleaError(msg)
    return put(lambda: WRITERS[ending](page), path, replace=replace)


def put(content, path, *, replace=False):
    """Write what the function `content` gives, text or bytes, to a file; its path. Refuses a file that is there already."""
    target = Path(path).expanduser()
    if target.exists() and not replace:
        msg = f"{target} is there already and was left as it is. Say --replace, or give another name."
        raise PaleaError(msg)
    made = content()
    try:
        target.write_bytes(made if isinstance(made, bytes) else made.encode("utf-8"))
    except OSError as fault:
        msg = f"{target} cannot be written: {fault.strerror or fault}. Choose a folder that exists and that you may write in."
        raise PaleaError(msg) from None
    return target
