"""Results as pictures. `draw(result, sentences, names)` takes any family; `to_svg(chart)` needs no network."""

from palea import lean

lean.jsonschema()  # before altair loads it

from palea.figures.drawing import draw  # noqa: E402
from palea.figures.in_words import alternative  # noqa: E402
from palea.figures.theme import as_files, show_offline, to_png, to_svg  # noqa: E402

__all__ = ["alternative", "as_files", "draw", "show_offline", "to_png", "to_svg"]
