"""Results as pictures. `draw(result, sentences, names)` takes any family; `to_svg(chart)` needs no network."""

from palea.figures.drawing import draw
from palea.figures.in_words import alternative
from palea.figures.theme import as_files, show_offline, to_png, to_svg

__all__ = ["alternative", "as_files", "draw", "show_offline", "to_png", "to_svg"]
