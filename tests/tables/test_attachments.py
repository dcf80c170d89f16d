"""Attached files: there or not, the same or not, and whether a picture says where it was taken."""

import hashlib
import io

import pytest
from PIL import Image

from palea.checks import attached
from palea.demo.broken.kept import _with_position
from palea.demo.drawings import cut_pellets
from palea.stamp import Stamp
from palea.tables import attachments, saving
from palea.tables.beginning import new_package

STAMP = Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")


def jpeg(*, position):
    """A small photograph, with a position in its Exif block or without one, written by Pillow."""
    picture, exif = Image.new("RGB", (8, 8)), Image.Exif()
    exif[0x010F] = "Invented maker"
    if position:
        exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 18.0, 0.0), 3: "W", 4: (4.0, 58.0, 0.0)})
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


@pytest.mark.parametrize(("data", "says"), [
    (jpeg(position=True), True), (jpeg(position=False), False), (cut_pellets(), False), (_with_position(cut_pellets()), True),
    (b"plain text", False), (b"", False), (b"\xff\xd8\xff\xe1 broken", False),
    (b"<x:xmpmeta exif:GPSLatitude='54,18N' exif:GPSLongitude='4,58W'/>", True),
])
def test_a_position_is_seen(data, says):
    """Exif as Pillow, a general picture library, writes and reads it."""
    assert attachments.has_position(data) is says


def of_owner(tag):
    """A photograph that carries one tag of its Exif block, written by Pillow."""
    picture, exif = Image.new("RGB", (8, 8)), Image.Exif()
    exif.get_ifd(0x8769)[tag] = "Invented owner"
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


@pytest.mark.parametrize(("data", "says"), [
    (of_owner(0xA430), True), (of_owner(0xA431), True), (of_owner(0xA435), True), (of_owner(0x9003), False),
    (jpeg(position=True), False), (b"<x:xmpmeta aux:OwnerName='A'/>", True), (b"", False),
])
def test_whose_camera_it_was_is_seen(data, says):
    """Exif as Pillow, a general picture library, writes and reads it."""
    assert attachments.has_owner(data) is says


@pytest.fixture
def with_file(tmp_path):
    package = new_package(tmp_path / "p", "Files", STAMP)
    data = jpeg(position=True)
    row = {"attachment_id": "F1", "path": "files/a.jpg", "media_type": "image/jpeg", "shows": "A pod", "may_share": True,
           "sha256": hashlib.sha256(data).hexdigest()}
    return saving.save(package.having("attachments", [row]), STAMP, "entry", files={"files/a.jpg": data})


def test_a_file_that_is_as_it_was_is_no_finding(with_file):
    assert list(attached.findings(with_file)) == []


def test_a_picture_that_may_be_shared_and_says_where_is_found(with_file):
    (found,) = attached.positions(with_file)
    assert (found.rule, found.severity, found.row) == ("sharing.file-says-where", "error", 2)


def test_a_picture_that_may_be_shared_and_says_whose_camera_it_was_is_found(tmp_path):
    package, data = new_package(tmp_path / "p", "Files", STAMP), of_owner(0xA430)
    row = {"attachment_id": "F1", "path": "files/a.jpg", "media_type": "image/jpeg", "shows": "A pod", "may_share": True,
           "sha256": hashlib.sha256(data).hexdigest()}
    package = saving.save(package.having("attachments", [row]), STAMP, "entry", files={"files/a.jpg": data})
    (found,) = attached.positions(package)
    assert (found.rule, found.severity) == ("sharing.file-says-who", "error")


def test_a_picture_that_stays_here_may_say_where(with_file):
    kept = with_file.having("attachments", [{"attachment_id": "F1", "may_share": False}])
    assert list(attached.positions(kept)) == []


def test_a_changed_file_is_found(with_file):
    (with_file.folder / "files/a.jpg").write_bytes(jpeg(position=False))
    (found,) = attached.findings(with_file)
    assert (found.rule, found.field) == ("record.file-changed", "sha256")


def test_a_missing_file_is_found(with_file):
    (with_file.folder / "files/a.jpg").unlink()
    (found,) = attached.findings(with_file)
    assert found.rule == "record.file-not-there"
    assert "not there" in found.message


def test_a_path_out_of_the_package_is_refused_and_not_read(with_file):
    outside = with_file.having("attachments", [{"attachment_id": "F1", "path": "files/a/../../../secret"}])
    found = list(attached.findings(outside))
    assert [f.rule for f in found] == ["record.file-not-there"]
