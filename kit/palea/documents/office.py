"""Pieces of WordprocessingML: runs of text, paragraphs, cells, and the styles of a document.

Elements are built directly, for a table of some thousand cells takes minutes through the library's own objects.
Source: ECMA-376, part 1, chapter 17 (order of the children of pPr, rPr and tcPr included).
"""

import re

from palea import look

LEFT_OUT = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")  # what XML 1.0 cannot hold
MARGIN_MM, TABLE_PT, SMALL_PT, TEXT_PT = 20, 8, 9, 10.5
A4_MM = (210, 297)
STYLES = {"Title": 20, "Subtitle": 12, "Heading 1": 14.5, "Heading 2": 12, "Heading 3": 10.5, "Heading 4": 10.5}
ORDER = ("pStyle", "keepNext", "pBdr", "spacing", "ind", "jc")


def element(kind, /, *children, **attributes):
    """An element of the main namespace with its attributes and children."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    made = OxmlElement(f"w:{kind}")
    for key, value in attributes.items():
        made.set(qn(f"w:{key}"), value)
    made.extend(children)
    return made


def text_run(text, *, bold=False, italic=False, mono=False, underline="", colour=""):
    """A run of text in its style."""
    told = [
        *([element("rFonts", ascii="Consolas", hAnsi="Consolas")] if mono else []),
        *([element("b")] if bold else []),
        *([element("i")] if italic else []),
        *([element("color", val=colour.lstrip("#"))] if colour else []),
        *([element("u", val=underline)] if underline else []),
    ]
    words = element("t")
    words.text = LEFT_OUT.sub("", " ".join(text.split("\n")))
    words.set("{http://www.w3.org/XML/1998/namespace}space", "preserve")
    return element("r", *([element("rPr", *told)] if told else []), words)


def paragraph_of(style, inner, *, keep=False):
    """A paragraph in a named style. keep : on the page of what follows."""
    told = element("pPr", element("pStyle", val=style.replace(" ", "")), *([element("keepNext")] if keep else []))
    return element("p", told, *inner)


def fields(paragraph):
    """The properties of a paragraph, as a list that keeps the order which the standard asks for."""
    return _Ordered(paragraph[0])


class _Ordered:
    def __init__(self, told):
        self.told = told

    def append(self, made):
        """Put a property in its place, once."""
        name = made.tag.rpartition("}")[2]
        there = [child.tag.rpartition("}")[2] for child in self.told]
        if name not in there:
            self.told.insert(sum(ORDER.index(n) < ORDER.index(name) for n in there), made)


def cell_of(inner, align):
    """A cell of a table with one paragraph."""
    told = element(
        "pPr", element("pStyle", val="TableText"), *([element("jc", val="right")] if align == "right" else [])
    )
    return element("tc", element("tcPr", element("tcW", type="auto", w="0")), element("p", told, *inner))


def style_sheet(file, language):
    """A4, our type and colours, a table style and page numbers, on a new document of the library."""
    from docx.enum.style import WD_STYLE_TYPE
    from docx.shared import Mm, Pt

    section = file.sections[0]
    section.page_width, section.page_height = (Mm(x) for x in A4_MM)
    for side in ("left_margin", "right_margin", "top_margin", "bottom_margin"):
        setattr(section, side, Mm(MARGIN_MM))
    for name, size in ({"Normal": TEXT_PT, "Caption": SMALL_PT} | STYLES).items():
        _typed(file.styles[name], font(), Pt(size))
    for name, size in (("Small", SMALL_PT), ("TableText", TABLE_PT)):
        made = file.styles.add_style(name, WD_STYLE_TYPE.PARAGRAPH)
        made.base_style = file.styles["Normal"]
        _typed(made, font(), Pt(size))
        made.paragraph_format.space_after = Pt(0 if name == "TableText" else 4)
    file.styles["Normal"].paragraph_format.space_after = Pt(6)
    file.styles.element.append(_table_style())
    for told in file.styles.element.iter("{*}lang"):
        for key in list(told.attrib):
            told.set(key, language)
    _page_numbers(section)


def font():
    """The first font of the stack that has a name of its own: a word processor takes one."""
    return re.findall(r'"([^"]+)"', look.FONT)[0]


def _typed(style, name, size):
    from docx.oxml.ns import qn
    from docx.shared import RGBColor

    style.font.name, style.font.size = name, size
    fonts = style.element.rPr.rFonts
    for key in [key for key in fonts.attrib if "heme" in key]:
        del fonts.attrib[key]
    fonts.set(qn("w:cs"), name)
    style.font.color.rgb = RGBColor.from_string(look.INK[1:])


def _table_style():
    """Thin lines between rows, a stronger one around the head and below."""
    strong, thin = (
        {"val": "single", "sz": "6", "color": look.INK[1:]},
        {"val": "single", "sz": "4", "color": look.LINE[1:]},
    )
    borders = element("tblBorders", element("top", **strong), element("bottom", **strong), element("insideH", **thin))
    margins = element("tblCellMar", element("left", w="40", type="dxa"), element("right", w="80", type="dxa"))
    head = element(
        "tblStylePr",
        element("rPr", element("b")),
        element("tcPr", element("tcBorders", element("bottom", **strong))),
        type="firstRow",
    )
    return element(
        "style",
        element("name", val="Palea table"),
        element("tblPr", borders, margins),
        head,
        type="table",
        styleId="PaleaTable",
    )


def _page_numbers(section):
    line = section.footer.paragraphs[0]
    line.alignment = 2
    for kind, text in (("begin", ""), ("", "PAGE"), ("end", "")):
        inner = element("fldChar", fldCharType=kind) if kind else element("instrText")
        if text:
            inner.text = text
        line._p.append(element("r", inner))  # noqa: SLF001 - the library offers no fields
