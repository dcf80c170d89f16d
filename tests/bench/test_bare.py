"""A bare copy of a picture: the same pixels, and nothing that its camera said. Read back by Pillow, a general library."""

import io

import pytest
from PIL import Image, ImageCms, PngImagePlugin

from palea.bench.bare import without_metadata
from palea.demo.broken.kept import _with_position
from palea.errors import PaleaError
from palea.tables import attachments


def pixels():
    picture = Image.new("RGB", (16, 9))
    picture.putdata([(x * 15, y * 28, 90) for y in range(9) for x in range(16)])
    return picture


def jpeg(turn=1):
    exif, out = Image.Exif(), io.BytesIO()
    exif[0x0112], exif[0x010F] = turn, "Invented maker"
    exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 18.0, 0.0), 3: "W", 4: (4.0, 58.0, 0.0)})
    exif.get_ifd(0x8769)[0xA430] = "Invented owner"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    pixels().save(out, "JPEG", exif=exif, comment=b"Kettle Gate", icc_profile=profile, progressive=True)
    return out.getvalue()


def png():
    said, out = PngImagePlugin.PngInfo(), io.BytesIO()
    said.add_text("Comment", "Kettle Gate")
    pixels().save(out, "PNG", pnginfo=said)
    return _with_position(out.getvalue())


@pytest.mark.parametrize("data", [jpeg(), jpeg(turn=6), png()])
def test_a_bare_copy_has_the_same_pixels_and_says_nothing(data):
    bare = without_metadata(data)
    before, after = (Image.open(io.BytesIO(some)) for some in (data, bare))
    assert before.tobytes() == after.tobytes()
    assert attachments.has_position(data)
    assert not attachments.has_position(bare)
    assert not attachments.has_owner(bare)
    assert b"Kettle Gate" not in bare
    assert b"Invented" not in bare


def test_what_hangs_behind_a_picture_is_left_out():
    """Some cameras put a film or a second picture behind it, with its own place."""
    bare = without_metadata(jpeg() + jpeg(turn=6) + b"GPSLatitude 54.18")
    assert bare == without_metadata(jpeg())


def test_how_it_is_turned_and_its_colours_stay():
    after = Image.open(io.BytesIO(without_metadata(jpeg(turn=6))))
    assert dict(after.getexif()) == {0x0112: 6}
    assert after.info["icc_profile"]


@pytest.mark.parametrize(("data", "says"), [
    (b"GIF89a", "Only a JPEG or PNG"), (b"\xff\xd8\xff\xe1 broken", "cannot be read"), (png()[:-20], "cannot be read|is broken"),
    (jpeg()[:200], "cannot be read|broken before"),
])
def test_what_cannot_be_made_bare_is_told(data, says):
    with pytest.raises(PaleaError, match=says):
        without_metadata(data)
