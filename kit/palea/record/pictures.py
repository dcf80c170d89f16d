"""Attached pictures as figures with their captions: drawings as they are, photographs without anything but the picture."""

import hashlib
import io
import warnings

from palea.documents import drawing
from palea.documents.page import Code, Note, Paragraph, Part, Photograph, Picture
from palea.errors import PaleaError
from palea.record.story import anchor
from palea.words.prose import counted, stop

LARGEST = 32 * 1024**2  # bytes of a file that is opened
LONGEST = 1600  # pixels of the longer side that are kept
DRAWING, PIXELS = "image/svg+xml", ("image/png", "image/jpeg", "image/tiff", "image/webp")
QUALITY = 85


def part(story):
    """The Part with pictures that may be shared, or None where there is none."""
    rows = story.rows("attachments")
    shown = [row for row in rows if row["may_share"] and row["media_type"] in (DRAWING, *PIXELS)]
    rest = len(rows) - len(shown)
    blocks = [block for row in shown for block in _picture(story, row)]
    if rest:
        blocks.append(
            Paragraph(f"{counted(rest, 'attached file')} not shown: no picture, or it may not be shared.", small=True)
        )
    return Part("Attached pictures", tuple(blocks), "pictures") if blocks else None


def _picture(story, row):
    key = row["attachment_id"]
    shows = row["shows"] or f"Attached file {key}"
    scale = f" Scale bar: {row['scale_bar_mm']:g} mm." if row["scale_bar_mm"] else ""
    who = f" {story.person(row['taken_by'])}, {row['taken_at'] or 'no date'}." if row["taken_by"] else ""
    terms = f" {row['licence']}." if row["licence"] else ""
    caption = (f"{stop(shows)}{scale}{who}{terms} ", Code(row["path"] or key))
    try:
        data = _bytes(story, row)
        if row["media_type"] == DRAWING:
            text = data.decode("utf-8")
            drawing.inline(text, "trial", shows)
            yield Picture(text, shows, caption, anchor("attachments", key))
        else:
            pixels, media_type = bare(data)
            yield Photograph(pixels, media_type, shows, caption, anchor("attachments", key))
    except (PaleaError, OSError, UnicodeDecodeError) as fault:
        yield Note("caution", (Paragraph(stop(str(fault))),), f"the picture {key} is not shown")


def _bytes(story, row):
    """The bytes of an attached file. PaleaError where it is too large, or not the file whose hash was kept."""
    path = story.package.file(row["path"])
    if path.stat().st_size > LARGEST:
        msg = f"{row['path']} is larger than {LARGEST // 1024**2} MiB. Attach a smaller copy."
        raise PaleaError(msg)
    data = path.read_bytes()
    if row["sha256"] and hashlib.sha256(data).hexdigest() != row["sha256"]:
        msg = f"{row['path']} is not the file that was attached: its hash is another one. Attach the changed file anew."
        raise PaleaError(msg)
    return data


def bare(data):
    """(bytes, media type) of a picture that holds its pixels alone, turned upright, its longer side 1600 pixels at most.

    Raises PaleaError for what is no picture, or one too large to be opened.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data)) as given:
                kind = "PNG" if given.format == "PNG" else "JPEG"
                upright = ImageOps.exif_transpose(given).convert("RGBA" if kind == "PNG" else "RGB")
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        Image.DecompressionBombWarning,
        OSError,
        ValueError,
        SyntaxError,
    ) as fault:
        msg = f"The attached picture cannot be opened ({fault}). Attach it as PNG or JPEG."
        raise PaleaError(msg) from None
    upright.thumbnail((LONGEST, LONGEST))
    plain = Image.frombytes(upright.mode, upright.size, upright.tobytes())  # nothing but pixels comes along
    made = io.BytesIO()
    plain.save(made, kind, **({"quality": QUALITY} if kind == "JPEG" else {}))
    return made.getvalue(), f"image/{kind.lower()}"
