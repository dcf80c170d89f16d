"""Attached files: copied in with hash and caption, never twice, and what a picture says of its place is told at once."""

import hashlib
import io

import pytest
from PIL import Image

from palea.bench import attach
from palea.derived.attached import attachments_of
from palea.errors import EntryError, PaleaError

ABOUT = {"about": "lots:AV-T01-1", "shows": "Ten pods cut open"}


def picture(place=False, taken="", colour="red"):
    """A small JPEG, with or without a position and a moment in its metadata."""
    exif = Image.Exif()
    if place:
        exif[attach.attachments.GPS] = {1: "N", 2: (50.0, 30.0, 0.0), 3: "E", 4: (12.0, 0.0, 0.0)}
    if taken:
        exif[attach.attachments.MORE] = {attach.TAKEN: taken}
    made = io.BytesIO()
    Image.new("RGB", (8, 8), colour).save(made, "JPEG", exif=exif)
    return made.getvalue()


@pytest.fixture
def photo(tmp_path):
    """A photograph with a name that not every system takes."""
    path = tmp_path / "Hülsen (2).JPG"
    path.write_bytes(picture(taken="2025:03:01 10:20:30"))
    return path


def test_a_file_is_copied_in_with_hash_kind_size_and_caption(small, photo, stamp):
    proposed = attach.propose(small, photo, **ABOUT, scale_bar_mm=1, licence="CC-BY-4.0", taken_by="sorrel", may_share=True)
    after = attach.save(proposed, stamp)
    row = after["attachments"].iloc[0].dropna().to_dict()
    assert row == {
        "attachment_id": "AV-T01-1-a1", "path": "files/hulsen-2.jpg", "sha256": hashlib.sha256(photo.read_bytes()).hexdigest(),
        "media_type": "image/jpeg", "taken_at": "2025-03-01T10:20", "taken_by": "sorrel", "shows": "Ten pods cut open",
        "scale_bar_mm": 1.0, "about_table": "lots", "about_id": "AV-T01-1", "licence": "CC-BY-4.0", "may_share": True,
    }  # fmt: skip
    assert after.file("files/hulsen-2.jpg").read_bytes() == photo.read_bytes()
    assert after.journal()[-1]["table"] == "attachments"
    found = attachments_of(after, "lots", "AV-T01-1")
    assert [(f.path, f.caption, f.there, f.fault, f.may_share) for f in found] == [
        ("files/hulsen-2.jpg", "Ten pods cut open. Scale bar 1 mm.", True, "", True)
    ]
    assert attachments_of(after, "lots", "AV-T01-2") == ()


def test_nothing_is_written_before_it_is_saved_or_where_it_cannot_be(small, photo, stamp):
    proposed = attach.propose(small, photo, **ABOUT, taken_by="nobody")
    assert not (small.folder / "files").exists()
    with pytest.raises(EntryError, match="nobody"):
        attach.save(proposed, stamp)
    assert not (small.folder / "files").exists()


def test_the_same_content_is_not_stored_twice(small, photo, stamp, tmp_path):
    once = attach.save(attach.propose(small, photo, **ABOUT), stamp)
    again = tmp_path / "other name.jpg"
    again.write_bytes(photo.read_bytes())
    with pytest.raises(PaleaError, match="attached to lots:AV-T01-1 already, as AV-T01-1-a1"):
        attach.propose(once, again, **ABOUT)
    proposed = attach.propose(once, again, about="lots:AV-T01-2", shows="The same pods")
    assert "not stored twice" in proposed.told[0]
    after = attach.save(proposed, stamp)
    assert after["attachments"]["path"].tolist() == ["files/hulsen-2.jpg"] * 2
    assert [p.name for p in (after.folder / "files").iterdir()] == ["hulsen-2.jpg"]


def test_another_file_of_the_same_name_gets_a_name_of_its_own(small, photo, stamp):
    once = attach.save(attach.propose(small, photo, **ABOUT), stamp)
    photo.write_bytes(picture(colour="blue"))
    assert attach.propose(once, photo, **ABOUT).row["path"] == "files/hulsen-2-2.jpg"


def test_a_position_in_the_picture_is_told_at_once(small, tmp_path, stamp):
    path = tmp_path / "field.jpg"
    path.write_bytes(picture(place=True))
    proposed = attach.propose(small, path, **ABOUT)
    assert "where it was taken" in proposed.told[0]
    assert attachments_of(attach.save(proposed, stamp), "lots", "AV-T01-1")[0].position
    path.write_bytes(picture(place=False))
    assert attach.propose(small, path, **ABOUT).told == ()


def test_a_file_that_was_changed_or_lost_says_so(small, photo, stamp):
    after = attach.save(attach.propose(small, photo, **ABOUT), stamp)
    after.file("files/hulsen-2.jpg").write_bytes(b"other")
    assert "another one" in attachments_of(after, "lots", "AV-T01-1")[0].fault
    after.file("files/hulsen-2.jpg").unlink()
    found = attachments_of(after, "lots", "AV-T01-1")[0]
    assert (found.there, found.fault) == (False, "it is not there")


@pytest.mark.parametrize(
    ("about", "says"),
    [("AV-T01-1", "names no row"), ("lots:AV-9", "no .*AV-9"), ("lotz:AV-1", "lots"), ("lots:av-t01", "Near: AV-T01-1")],
)
def test_a_row_that_is_not_there_is_named(small, photo, about, says):
    with pytest.raises(PaleaError, match=says):
        attach.propose(small, photo, about=about, shows="x")


def test_a_file_that_is_not_there_or_empty_or_shows_nothing(small, photo, tmp_path):
    with pytest.raises(PaleaError, match="cannot be read"):
        attach.propose(small, tmp_path / "none.jpg", **ABOUT)
    (tmp_path / "empty.jpg").write_bytes(b"")
    with pytest.raises(PaleaError, match="empty"):
        attach.propose(small, tmp_path / "empty.jpg", **ABOUT)
    with pytest.raises(PaleaError, match="--shows"):
        attach.propose(small, photo, about="lots:AV-T01-1", shows=" ")


@pytest.mark.parametrize(
    ("name", "plain"),
    [("Köder – 2.JPG", "koder-2.jpg"), ("../../etc/passwd", "passwd"), ("CON", "con-file"), ("..", "file"),
     ("a b.tar.gz", "a-b-tar.gz"), ("=cmd().csv", "cmd.csv"), ("日本.png", "file.png")],
)  # fmt: skip
def test_names_are_made_plain(name, plain):
    assert attach.plain_name(name) == plain


def test_the_first_bytes_tell_the_kind_and_not_the_name():
    assert attach.kind_of(picture(), "x.png") == "image/jpeg"
    assert attach.kind_of(b"RIFF0000WEBPVP8 ", "x") == "image/webp"
    assert attach.kind_of(b"\x00\x01", "x.unknown") == "application/octet-stream"
