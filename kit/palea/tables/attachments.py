"""Files that are attached to rows of a package: are they there, are they the same, where were they taken.

Nothing here opens more of a file than it needs, and nothing in a file is run. A picture is only asked for its header and
its metadata.
"""

import hashlib
import warnings
from dataclasses import dataclass

from palea.errors import UnsafePackage

LARGEST = 512 * 1024 * 1024  # bytes; above this a file is not read to look at it
GPS, MORE = 0x8825, 0x8769  # tags of the Exif blocks that hold a position and further data (Exif 2.3, 4.6.3)
LATITUDE, LONGITUDE = 2, 4  # tags inside the first
OWNER, BODY, LENS = 0xA430, 0xA431, 0xA435  # tags inside the second: owner's name, serial numbers (Exif 2.3, 4.6.5)
SAID_IN_XMP = (b"aux:OwnerName", b"SerialNumber")


@dataclass(frozen=True)
class File:
    """What is known of one attached file.

    there : it lies in the package and can be read.  sha256 : hash of its bytes, "" where it cannot be read.
    position : whether it carries the place where it was taken.  owner : whether it names the owner of the camera, or the
    serial number by which he is found.  fault : why it cannot be read, "" else.
    """

    path: str
    there: bool
    sha256: str = ""
    position: bool = False
    owner: bool = False
    fault: str = ""


def look(package, path):
    """A File about the path of a package, never an exception: what cannot be read says why."""
    try:
        where = package.file(path)
    except UnsafePackage as error:
        return File(path, there=False, fault=str(error))
    if not where.is_file():
        return File(path, there=False, fault="it is not there")
    try:
        if where.stat().st_size > LARGEST:
            return File(path, there=True, fault=f"it is larger than {LARGEST // 1024 // 1024} MiB")
        data = where.read_bytes()
    except OSError as error:
        return File(path, there=False, fault=error.strerror or "it cannot be read")
    sha256 = hashlib.sha256(data).hexdigest()
    return File(path, there=True, sha256=sha256, position=has_position(data), owner=has_owner(data))


def has_position(data):
    """Whether a picture carries a position: latitude and longitude in its Exif block, or GPS words in its XMP text.

    data : bytes of the file. What is no picture carries none that we know of.
    Source: Exif 2.3 (CIPA DC-008), 4.6.6; XMP, exif schema.
    """
    if b"GPSLatitude" in data and b"GPSLongitude" in data:
        return True
    return bool({LATITUDE, LONGITUDE} & set(exif(data, GPS)))


def has_owner(data):
    """Whether a picture names the owner of its camera, or carries a serial number of camera or lens, in Exif or XMP.

    data : bytes of the file. What a maker hides in notes of its own kind is not read.
    Source: Exif 2.3 (CIPA DC-008), 4.6.5; XMP, exifEX and aux schemas.
    """
    if any(word in data for word in SAID_IN_XMP):
        return True
    said = exif(data, MORE)
    return any(str(said.get(tag, "")).strip(" \0") for tag in (OWNER, BODY, LENS))


def exif(data, block):
    """One block of the Exif data of a picture by tag; {} where there is none, or no picture."""
    from io import BytesIO

    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a huge picture only has its header read here
            with Image.open(BytesIO(data)) as picture:
                return dict(picture.getexif().get_ifd(block))
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return {}
