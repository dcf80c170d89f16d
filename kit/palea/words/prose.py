"""Small grammar: lists, plurals, the first letter, sentences."""

import textwrap


def listed(items, last="and"):
    """Items in a row, as read aloud.

    >>> listed(["a", "b", "c"]), listed(["a", "b"], "or"), listed([])
    ('a, b and c', 'a or b', '')
    """
    *first, end = [str(item) for item in items] or [""]
    return f"{', '.join(first)} {last} {end}" if first else end


def counted(n, one, several=None):
    """A number of things, in figures.

    >>> counted(1, "batch", "batches"), counted(16, "dish", "dishes"), counted(1200, "seed")
    ('1 batch', '16 dishes', '1200 seeds')
    """
    return f"{n:.0f} {one if n == 1 else several or one + 's'}"


def capital(text):
    """The first letter in upper case, the rest as it was.

    >>> capital("in Armeria"), capital("")
    ('In Armeria', '')
    """
    return text[:1].upper() + text[1:]


def inside(text):
    """A title as it stands inside a sentence: first letter lowered, unless it is an abbreviation.

    >>> inside("Hard seed"), inside("T50"), inside("DNA content")
    ('hard seed', 'T50', 'DNA content')
    """
    return text if len(text) < 2 or not text[1].islower() else text[:1].lower() + text[1:]


def stop(text):
    """A sentence with its full stop, once.

    >>> stop("No control of the same lot"), stop("Not judged."), stop("")
    ('No control of the same lot.', 'Not judged.', '')
    """
    text = text.strip()
    return text if not text or text[-1] in ".?!" else f"{text}."


def together(*sentences):
    """Sentences one after the other, the empty ones left out, each with a capital and a full stop."""
    return " ".join(stop(capital(s.strip())) for s in sentences if s and s.strip())


def wrapped(text, width=100):
    """Lines of at most so many characters, broken between words.

    >>> wrapped("one two three", 8)
    ['one two', 'three']
    """
    return textwrap.wrap(text, width, break_long_words=False, break_on_hyphens=False)


def day(text):
    """A date as we write it: the text of an ISO date or time without seconds and zone.

    >>> day("2026-05-04T09:30:00+02:00"), day("2026-05-04"), day("2026-05")
    ('2026-05-04 09:30', '2026-05-04', '2026-05')
    """
    return text[:16].replace("T", " ")
