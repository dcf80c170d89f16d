"""Attached pictures: shown with their captions, with nothing in them but the picture, and only where they may be."""

import io

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from palea.documents.page import Note, Photograph, Picture, said, walk
from palea.errors import PaleaError
from palea.record import pictures
from palea.record.story import Story
from palea.tables.attachments import has_position


def photograph(**more):
    made = io.BytesIO()
    Image.new("RGB", (40, 20), "green").save(made, "JPEG", **more)
    return made.getvalue()


def placed():
    """A picture that says where it was taken (Exif 2.3, 4.6.6) and that it lies on its side."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 30.0, 0.0), 3: "E", 4: (1.0, 15.0, 0.0)})
    return photograph(exif=exif)


def test_nothing_but_the_picture_comes_along():
    assert has_position(placed())
    data, media_type = pictures.bare(placed())
    assert not has_position(data)
    assert media_type == "image/jpeg"
    with Image.open(io.BytesIO(data)) as shown:
        assert len(shown.getexif()) == 0
        assert shown.size == (20, 40)  # turned upright, since it no longer says how it lies


def test_words_inside_a_drawing_of_pixels_are_left_out():
    made, words = io.BytesIO(), PngInfo()
    words.add_text("Comment", "53.1 N 2.6 E")
    Image.new("RGB", (3, 3)).save(made, "PNG", pnginfo=words)
    data, media_type = pictures.bare(made.getvalue())
    assert b"53.1" in made.getvalue()
    assert b"53.1" not in data
    assert media_type == "image/png"


def test_a_large_picture_is_made_smaller_and_two_runs_agree():
    made = io.BytesIO()
    Image.new("RGB", (4000, 1000)).save(made, "PNG")
    first, second = (pictures.bare(made.getvalue())[0] for _ in range(2))
    assert first == second
    with Image.open(io.BytesIO(first)) as shown:
        assert shown.size == (1600, 400)


@pytest.mark.parametrize("data", [b"", b"no picture", placed()[:200], b"\x89PNG\r\n\x1a\n" + bytes(40)])
def test_what_is_no_picture_is_refused(data):
    with pytest.raises(PaleaError, match="cannot be opened"):
        pictures.bare(data)


def test_the_demo_shows_its_drawings_and_its_photograph(package):
    part = pictures.part(Story(package))
    kinds = {thing.anchor: type(thing) for thing in part.children if isinstance(thing, Picture | Photograph)}
    assert kinds == {"attachments-F1-map": Picture, "attachments-F2-map": Picture, "attachments-F-CC-T09": Photograph}
    photo = next(thing for thing in part.children if isinstance(thing, Photograph))
    assert "Scale bar: 1 mm." in said(photo.caption)
    assert "files/cc-t09-cut.png" in said(photo.caption)


def test_one_that_may_not_be_shared_is_only_counted(package):
    hidden = package.having("attachments", [{"attachment_id": "F-CC-T09", "may_share": False}])
    part = pictures.part(Story(hidden))
    assert not [thing for thing in walk(part.children) if isinstance(thing, Photograph)]
    assert "1 attached file not shown" in said(part.children[-1].runs)


def test_one_that_is_not_the_attached_file_is_not_shown(package):
    changed = package.having("attachments", [{"attachment_id": "F-CC-T09", "sha256": "0" * 64}])
    (note,) = [thing for thing in pictures.part(Story(changed)).children if isinstance(thing, Note)]
    assert "its hash is another one" in said(note.children[0].runs)
    gone = package.having("attachments", [{"attachment_id": "F-CC-T09", "path": "files/gone.png"}])
    (note,) = [thing for thing in pictures.part(Story(gone)).children if isinstance(thing, Note)]
    assert "F-CC-T09 is not shown" in note.title
