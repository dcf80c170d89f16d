"""Drawings of the invented demo: pictures worked out here, the same bytes on every machine, marked as invented."""

from struct import pack
from zlib import adler32, crc32

WIDE, HIGH = 240, 120  # pixels of the cut pellets
PX_PER_MM = 40
PALETTE = ((250, 249, 246), (178, 160, 134), (120, 86, 50), (40, 40, 40))  # paper, coat, seed, ink
PAPER, COAT, SEED, INK = range(4)
LETTERS = {  # rows of five, top to bottom
    "I": "11111 00100 00100 00100 11111", "N": "10001 11001 10101 10011 10001", "V": "10001 10001 10001 01010 00100",
    "E": "11111 10000 11110 10000 11111", "T": "11111 00100 00100 00100 00100", "D": "11110 10001 10001 10001 11110",
}


def cut_pellets():
    """Three pellets cut open, with one seed, two seeds and none, and a bar of 1 mm: a PNG as bytes."""
    rows = [[PAPER] * WIDE for _ in range(HIGH)]
    for across, seeds in ((45, [(0, 0)]), (120, [(-9, 0), (9, 2)]), (195, [])):
        _ellipse(rows, across, 48, 26, 25, COAT)
        for dx, dy in seeds:
            _ellipse(rows, across + dx, 48 + dy, 6, 15, SEED)
    for x in range(PX_PER_MM):
        for y in range(3):
            rows[100 + y][20 + x] = INK
    _written(rows, "INVENTED", 150, 98)
    return _png(rows)


def _ellipse(rows, across, down, wide, high, ink):
    for y in range(HIGH):
        for x in range(WIDE):
            if ((x - across) / wide) ** 2 + ((y - down) / high) ** 2 <= 1:
                rows[y][x] = ink


def _written(rows, word, left, top):
    for place, letter in enumerate(word):
        for y, line in enumerate(LETTERS[letter].split()):
            for x, dot in enumerate(line):
                if dot == "1":
                    rows[top + y][left + 7 * place + x] = INK


def _png(rows):
    """Palette picture of 8 bits a pixel. The data is stored uncompressed: compressors differ between machines.

    Source: Portable Network Graphics, ISO/IEC 15948:2004; stored blocks: RFC 1951, 3.2.4.
    """
    raw = b"".join(b"\0" + bytes(row) for row in rows)
    stored = pack("<BHH", 1, len(raw), len(raw) ^ 0xFFFF) + raw  # one last block: fewer than 65536 bytes
    parts = {
        b"IHDR": pack(">IIBBBBB", WIDE, HIGH, 8, 3, 0, 0, 0),
        b"PLTE": bytes(value for colour in PALETTE for value in colour),
        b"tEXt": b"Comment\0Invented drawing of the demo; nothing was photographed.",
        b"IDAT": b"\x78\x01" + stored + pack(">I", adler32(raw)),
        b"IEND": b"",
    }
    chunks = (pack(">I", len(data)) + kind + data + pack(">I", crc32(kind + data)) for kind, data in parts.items())
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


def pod():
    """A pod with its seed beside it, with a bar of 2 mm: an SVG as bytes."""
    return POD.encode("utf-8")


POD = """<svg xmlns="http://www.w3.org/2000/svg" width="240" height="140" viewBox="0 0 240 140">
<title>Invented drawing: one pod and the seed out of it</title>
<rect width="240" height="140" fill="#faf9f6"/>
<path d="M30 70 C40 30 105 28 118 66 C108 108 46 112 30 70 Z" fill="#d8c9a0" stroke="#5a4a2a" stroke-width="1.5"/>
<path d="M118 66 L130 60" stroke="#5a4a2a" stroke-width="1.5"/>
<ellipse cx="74" cy="70" rx="22" ry="14" fill="none" stroke="#5a4a2a" stroke-width="1" stroke-dasharray="3 2"/>
<ellipse cx="182" cy="70" rx="22" ry="14" fill="#8a9a4a" stroke="#4a5426" stroke-width="1.5"/>
<line x1="20" y1="126" x2="60" y2="126" stroke="#282828" stroke-width="3"/>
<text x="66" y="130" font-family="sans-serif" font-size="11" fill="#282828">2 mm, invented drawing</text>
</svg>
"""
