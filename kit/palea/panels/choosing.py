"""Boxes that a panel puts up for a person to choose from or to press, and which say nothing while the panel sets them."""

import ipywidgets as widgets


def button(panel, text, do):
    """A button of a panel that does `do`, guarded."""
    made = widgets.Button(description=text).add_class("palea-button")
    made.on_click(panel.guarded(lambda _: do()))
    return made


def row(*boxes):
    """Boxes beside each other, as many as there is room for."""
    return widgets.HBox(list(boxes)).add_class("palea-choices")
