"""How a zip lies on the disk: one reading of it only.

A zip says what it holds twice, in a list at its end and before each file. Where the two differ, or where files overlap,
two programs unpack two different things; what was verified here would not be what somebody else sees.
"""

import struct

from palea.tables.paths import printable

LOCAL = struct.Struct("<4s5H3L2H")  # local file header (PKWARE APPNOTE 6.3.10, 4.3.7)
SIGNATURE = b"PK\x03\x04"
PASSWORD, SIZES_FOLLOW, UTF8 = 0x1, 0x8, 0x800  # bits of the general purpose flags (4.4.4)
LONGEST_AFTER = 24  # bytes of the sizes that follow a file (4.3.9), with signature and for large files
LARGE = 0xFFFFFFFF  # stands for a size that lies in a further field (4.5.3)


def check(archive, path, refuse):
    """Call `refuse(path, half a sentence)` for the first thing that can be read in two ways; nothing is unpacked.

    archive : an open zipfile.ZipFile.  path : its file.
    """
    with path.open("rb") as source:
        spans = sorted(_span(source, entry, path, refuse) for entry in archive.infolist())
    reached, room, before = 0, 0, ""
    for start, end, name, more in [*spans, (archive.start_dir, archive.start_dir, "its list of contents", 0)]:
        if start < reached:
            refuse(path, f"holds “{printable(before)}” and “{printable(name)}” in the same bytes")
        if start > reached + room:
            refuse(path, f"holds {start - reached} bytes before “{printable(name)}” that its list of contents does not name")
        reached, room, before = end, more, name


def _span(source, entry, path, refuse):
    """(first byte, byte after the last, name, bytes that may follow) of an entry, once both descriptions say the same."""
    source.seek(entry.header_offset)
    head = source.read(LOCAL.size)
    if len(head) < LOCAL.size or head[:4] != SIGNATURE:
        refuse(path, f"lists “{printable(entry.filename)}” where there is no file")
    _, _, flags, method, _, _, crc, packed, size, name_length, extra_length = LOCAL.unpack(head)
    name = source.read(name_length).decode("utf-8" if flags & UTF8 else "cp437", "replace")
    same = name == entry.orig_filename and method == entry.compress_type and not (flags ^ entry.flag_bits) & PASSWORD
    known = not flags & SIZES_FOLLOW and LARGE not in (packed, size)
    if not same or (known and (crc, packed, size) != (entry.CRC, entry.compress_size, entry.file_size)):
        refuse(path, f"says of “{printable(entry.filename)}” two different things, in its list of contents and before the file")
    start = entry.header_offset
    end = start + LOCAL.size + name_length + extra_length + entry.compress_size
    return start, end, entry.filename, LONGEST_AFTER if flags & SIZES_FOLLOW else 0
