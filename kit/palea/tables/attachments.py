"""Files that are attached to rows of a package: are they there, are they the same, where were they taken.

Nothing here opens more of a file than it needs, and nothing in a file is run. A picture is only asked for its header and
its metadata.
"""

import hashlib
import warnings
from dataclasses import dataclass

from palea.errors import UnsafePackage

LARGEST = 512 * 1024 * 1024  # bytes; above this a file is not read to look at it
GPS = 0x8825  # tag of the Exif block that holds a position (Exif 2.3, 4.6.3)
LATITUDE, LONGITUDE = 2, 4  # tags inside it


@dataclass(frozen=True)
class File:
    """What is known of one attached file.

    there : it lies in the package and can be read.  sha256 : hash of its bytes, "" where it cannot be read.
    position : whether it carries the place where it was taken.  fault : why it cannot be read, "" else.
    """

    path: str
    there: bool
    sha256: str = ""
    position: bool = False
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
    return File(path, there=True, sha256=hashlib.sha256(data).hexdigest(), position=has_position(data))


def has_position(data):
    """Whether a picture carries a position: latitude and longitude in its Exif block, or GPS words in its XMP text.

    data : bytes of the file. What is no picture carries none that we know of.
    Source: Exif 2.3 (CIPA DC-008), 4.6.6; XMP, exif schema.
    """
    if b"GPSLatitude" in data and b"GPSLongitude" in data:
        return True
    from io import BytesIO

    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a huge picture only has its header read here
            with Image.open(BytesIO(data)) as picture:
                place = picture.getexif().get_ifd(GPS)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False
    return bool({LATITUDE, LONGITUDE} & set(place))
