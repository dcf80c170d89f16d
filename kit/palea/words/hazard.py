"""GHS statements in words: a code is never shown without its text."""

from palea import schema

NOT_HERE = "text not held here: see the data sheet"


def statement(code):
    """A GHS code with its text; a sentence that is no code as it is.

    >>> statement("H319"), statement("Keep guards on.")
    ('H319 Causes serious eye irritation', 'Keep guards on.')
    """
    known = schema.hazards()["statements"]
    if code in known:
        return f"{code} {known[code]['text'].rstrip('.')}"
    return f"{code} ({NOT_HERE})" if code[:1] in {"H", "P", "E"} and code[-1:].isdigit() else code
