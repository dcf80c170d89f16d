"""A drawing from a file, made fit to stand inside a page: only shapes and text are kept.

A package may come from anybody, so its pictures are not trusted: scripts, links, styles and anything that would
fetch something are left out, and names inside the drawing are made its own, so that two drawings on one page do not
share a clip path.
"""

import re
from xml.etree import ElementTree as ET

from palea.errors import PaleaError

SVG = "http://www.w3.org/2000/svg"
# Shapes, text and their containers in SVG 1.1; no script, style, image, use, a, foreignObject or animation.
ELEMENTS = frozenset((
    "svg", "g", "defs", "clipPath", "linearGradient", "radialGradient", "stop", "path", "rect", "circle", "ellipse",
    "line", "polyline", "polygon", "text", "tspan", "title", "desc",
))
ATTRIBUTES = frozenset((
    "id", "width", "height", "viewBox", "preserveAspectRatio", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx",
    "ry", "fx", "fy", "dx", "dy", "d", "points", "transform", "fill", "fill-opacity", "fill-rule", "stroke",
    "stroke-width", "stroke-opacity", "stroke-dasharray", "stroke-dashoffset", "stroke-linecap", "stroke-linejoin",
    "stroke-miterlimit", "opacity", "clip-path", "clip-rule", "clipPathUnits", "gradientUnits", "gradientTransform",
    "offset", "stop-color", "stop-opacity", "font-family", "font-size", "font-weight", "font-style", "font-variant",
    "text-anchor", "dominant-baseline", "letter-spacing",
))
_INNER = re.compile(r"""url\(\s*["']?#([^"')\s]+)["']?\s*\)""")
_DECLARATION = re.compile(r"<!(DOCTYPE|ENTITY)", re.IGNORECASE)


def inline(svg, prefix, alternative):
    """SVG text to stand inside a page as one picture with a text alternative; `prefix` makes its inner names unique.

    Raises PaleaError where the text is no SVG drawing or declares entities.
    """
    if _DECLARATION.search(svg):
        msg = "The drawing declares a document type or entities and was not shown. Export it as plain SVG."
        raise PaleaError(msg)
    try:
        drawing = ET.fromstring(svg)  # noqa: S314 - no entity can be declared: see above
    except ET.ParseError as fault:
        msg = f"The drawing is not well-formed SVG ({fault}). Export it again."
        raise PaleaError(msg) from None
    if _name(drawing) != "svg":
        msg = f"The drawing is no SVG: its outer element is “{_name(drawing)}”. Export it as SVG."
        raise PaleaError(msg)
    kept = _kept(drawing, prefix)
    kept.attrib |= _size(drawing) | {"role": "img", "aria-label": alternative}
    return ET.tostring(kept, encoding="unicode", short_empty_elements=True)


def _kept(element, prefix):
    """The element with what is allowed of it, and nothing else."""
    copy = ET.Element(_name(element), {k: _own(k, v, prefix) for k, v in _allowed(element)})
    copy.text = element.text
    for child in element:
        if isinstance(child.tag, str) and _name(child) in ELEMENTS:
            copy.append(_kept(child, prefix))
            copy[-1].tail = child.tail
    return copy


def _name(element):
    return element.tag.removeprefix(f"{{{SVG}}}")


def _allowed(element):
    """Attributes by name, in order; a value that refers to anything but a name inside the drawing is left out."""
    for key, value in sorted(element.attrib.items()):
        outside = "url(" in value.lower() and not _INNER.fullmatch(value.strip())
        if key in ATTRIBUTES and not outside:
            yield key, value


def _own(key, value, prefix):
    if key == "id":
        return f"{prefix}-{value}"
    return _INNER.sub(lambda found: f"url(#{prefix}-{found[1]})", value)


def _size(drawing):
    """A view box and no fixed height: the page scales the drawing to the line, keeping its proportions."""
    width, height = (re.match(r"[\d.]+", drawing.get(k, "")) for k in ("width", "height"))
    if drawing.get("viewBox") or not (width and height):
        return {"xmlns": SVG}
    return {"xmlns": SVG, "viewBox": f"0 0 {width[0]} {height[0]}"}


def size(shown):
    """(width, height) in pixels of a drawing that `inline` gave, by its view box; (0, 0) where it says none."""
    box = re.search(r'viewBox="([^"]+)"', shown)
    numbers = [float(x) for x in re.findall(r"-?[\d.]+", box[1])] if box else []
    return (numbers[2], numbers[3]) if len(numbers) == 4 else (0.0, 0.0)
