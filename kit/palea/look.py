"""Colours, marks and sizes of figures and documents: the one place that holds them."""

# Okabe & Ito (2008), Color Universal Design: eight colours that colour-blind readers tell apart. Black comes last
# because it is the colour of text.
CATEGORIES = ("#0072B2", "#E69F00", "#009E73", "#D55E00", "#56B4E9", "#CC79A7", "#F0E442", "#000000")
DASHES = ((1, 0), (6, 2), (2, 2), (8, 2, 2, 2), (4, 4), (1, 2), (10, 3), (3, 1, 1, 1))
SHAPES = ("circle", "square", "triangle-up", "diamond", "cross", "triangle-down", "triangle-right", "triangle-left")

ESTIMATE = "#0072B2"
QUIET = "#6E6E6E"
LINE = "#D9D9D9"
BAND = "#E8EEF4"
INK = "#1A1A1A"
PAPER = "#FFFFFF"

# What a finding or a state is told by: a mark, a word and a colour that holds 4.5 : 1 on white.
MEANINGS = {
    "error": ("■", "Error", "#A3260B"),
    "warning": ("▲", "Warning", "#7A5200"),
    "gap": ("○", "Gap", "#4A4A4A"),
    "saved": ("✓", "Saved", "#00664B"),
}

FONT = 'system-ui, -apple-system, "Segoe UI", Roboto, "DejaVu Sans", sans-serif'
# Figures are laid out by the first of these, which comes with their writer: the same bytes on every machine, and at once.
# The others are as wide letter by letter.
CHART_FONT = '"Liberation Sans", Arial, Helvetica, sans-serif'
CHART_FONT_PX = 12
CHART_WIDTH_PX = 640
CHART_HEIGHT_PX = 300
