"""A picture without what its camera wrote beside it: no place, no owner, no maker's notes; each pixel as it was.

Only whole segments are left out, nothing is compressed anew. How the picture is to be turned and its colours stay.
"""

import struct
import warnings
import zlib
from io import BytesIO

from palea.errors import PaleaError

ORIENTATION = 0x0112  # the only Exif tag that is kept (Exif 2.3, 4.6.4 A)
JPEG, PNG = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
SCAN, END, COMMENT = 0xDA, 0xD9, 0xFE  # markers of a JPEG: pixels follow, the picture ends, a text (ITU-T T.81, B.1.1.3)
IN_PIXELS = (0x00, *range(0xD0, 0xD8))  # after 0xFF among pixels: a 0xFF itself, and where decoding may begin again
KEPT = (b"JFIF\0", b"Adobe", b"ICC_PROFILE\0")  # what segments begin with that say how pixels are to be shown
SAYING = (b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"tIME")  # chunks of a PNG that say something (PNG third edition, 11.3)


def without_metadata(data):
    """The bytes of a JPEG or PNG without its metadata; the pixels are the same. PaleaError for any other file."""
    if data.startswith(JPEG):
        return _jpeg(data)
    if data.startswith(PNG):
        return _png(data)
    msg = "Only a JPEG or PNG can be made bare. Save the picture as one of these first."
    raise PaleaError(msg)


def _jpeg(data):
    """Up to the end of the picture: some cameras put a film or a second picture, with its place, behind it."""
    out, at = [data[:2], _turned(data)], 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # padding
            at += 1
            continue
        end = at + 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
        end = _pixels_end(data, end) if marker == SCAN else end
        if _is_kept(marker, data[at + 4 : end]):
            out.append(data[at:end])
        if data[end : end + 2] == bytes([0xFF, END]):
            return b"".join([*out, data[end : end + 2]])
        at = end
    msg = "This JPEG is broken, so it cannot be made bare."
    raise PaleaError(msg)


def _pixels_end(data, at):
    """Where the pixels of a scan end: at the next marker that is none of their own."""
    while 0 <= (at := data.find(b"\xff", at)) < len(data) - 1:
        if data[at + 1] not in IN_PIXELS and data[at + 1] != 0xFF:
            return at
        at += 1 if data[at + 1] == 0xFF else 2
    return len(data)


def _is_kept(marker, content):
    says = 0xE0 <= marker <= 0xEF or marker == COMMENT
    return not says or content.startswith(KEPT)


def _turned(data):
    """An Exif segment that says nothing but how the picture is turned; b"" where it stands upright."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(data)) as picture:
                turn = picture.getexif().get(ORIENTATION, 1)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        msg = "This picture cannot be read, so it cannot be made bare."
        raise PaleaError(msg) from None
    if turn == 1:
        return b""
    exif = Image.Exif()
    exif[ORIENTATION] = turn
    content = exif.tobytes()
    return b"\xff\xe1" + struct.pack(">H", len(content) + 2) + content


def _png(data):
    out, at = [PNG], len(PNG)
    while at + 12 <= len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        end = at + 12 + length
        chunk = data[at:end]
        if len(chunk) < 12 + length or zlib.crc32(chunk[4:-4]) != struct.unpack(">I", chunk[-4:])[0]:
            break
        if kind not in SAYING:
            out.append(chunk)
        if kind == b"IEND":
            return b"".join(out)
        at = end
    msg = "This PNG is broken, so it cannot be made bare."
    raise PaleaError(msg)
