"""What kind of picture a file is, told by its first bytes and never by its name, and whether it tells its place."""

from __future__ import annotations

import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO

from PIL import ExifTags, Image, ImageOps

MAX_PIXELS = 80_000_000
"""A picture of more pixels is refused: project default, no published source.

It is below the number from which Pillow warns (89 million).
"""

DAMAGED = (
    OSError, ValueError, SyntaxError, TypeError, KeyError, IndexError, EOFError, OverflowError, struct.error,
    ZeroDivisionError, Image.DecompressionBombError,
)  # fmt: skip
"""What opening a picture can raise where its bytes, or what its camera wrote into them, are not sound."""

_PNG = b"\x89PNG\r\n\x1a\n"
_JPEG = b"\xff\xd8\xff"
_READ = ("PNG", "JPEG", "WEBP")


def picture_kind(content: bytes | None) -> str:
    r"""Return ``png``, ``jpg`` or ``webp``; "" for anything else, a drawing with scripts included.

    >>> picture_kind(b"\xff\xd8\xff\xe0"), picture_kind(b"<svg>"), picture_kind(None)
    ('jpg', '', '')
    """
    if content is None:
        return ""
    if content.startswith(_PNG):
        return "png"
    if content.startswith(_JPEG):
        return "jpg"
    return "webp" if content[:4] == b"RIFF" and content[8:12] == b"WEBP" else ""


def picture_size(content: bytes) -> tuple[int, int]:
    r"""Return the width and height that a picture's header tells, in pixels; (0, 0) where it tells none.

    Nothing is decoded, so that a small file of huge dimensions costs nothing.

    >>> picture_size(b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + b"\0\0\0\x07\0\0\0\x05")
    (7, 5)
    """
    kind = picture_kind(content)
    if kind == "png":
        return _number(content[16:20]), _number(content[20:24])
    if kind == "jpg":
        return _jpeg_size(content)
    return _webp_size(content) if kind == "webp" else (0, 0)


def _number(part: bytes) -> int:
    return int.from_bytes(part, "big")


def _jpeg_size(content: bytes) -> tuple[int, int]:
    """Go from segment to segment to the frame's header (ITU-T T.81, B.2.2)."""
    at = 2
    while at + 9 <= len(content) and content[at] == 0xFF:
        code = content[at + 1]
        if code == 0xFF:  # a fill byte
            at += 1
        elif 0xC0 <= code <= 0xCF and code not in (0xC4, 0xC8, 0xCC):
            return _number(content[at + 7 : at + 9]), _number(content[at + 5 : at + 7])
        else:
            at += 2 + max(2, _number(content[at + 2 : at + 4]))
    return 0, 0


def _webp_size(content: bytes) -> tuple[int, int]:
    """Read the first chunk: extended, lossless or lossy (RFC 9649, 2.5 to 2.7)."""
    chunk, low = content[12:16], content[20:30]
    if chunk == b"VP8X":
        return int.from_bytes(low[4:7], "little") + 1, int.from_bytes(low[7:10], "little") + 1
    if chunk == b"VP8L":
        bits = int.from_bytes(low[1:5], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    return int.from_bytes(low[6:8], "little") & 0x3FFF, int.from_bytes(low[8:10], "little") & 0x3FFF


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the warnings of a damaged picture from the terminal: the check says what is wrong with it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def picture_opens(content: bytes) -> bool:
    r"""Tell whether a picture can be opened whole and turned as its camera says; it is decoded for that.

    >>> picture_opens(b"\xff\xd8\xff\xe0")
    False
    """
    width, height = picture_size(content)
    if not 0 < width * height <= MAX_PIXELS:
        return False
    try:
        with _quiet(), Image.open(BytesIO(content), formats=_READ) as opened:
            opened.draft(opened.mode, (max(1, width // 8), max(1, height // 8)))  # of a JPEG every eighth pixel will do
            ImageOps.exif_transpose(opened)
    except DAMAGED:
        return False
    return True


def has_position(content: bytes) -> bool:
    """Tell whether a picture's Exif data hold a latitude or longitude (GPS tags 2 and 4 of Exif 2.3).

    A file that is no picture, has too many pixels to be opened, or whose data can't be read, holds none.
    """
    width, height = picture_size(content)
    if not 0 < width * height <= MAX_PIXELS:
        return False
    try:
        with _quiet(), Image.open(BytesIO(content)) as opened:
            place = opened.getexif().get_ifd(ExifTags.IFD.GPSInfo)
    except DAMAGED:
        return False
    return ExifTags.GPS.GPSLatitude in place or ExifTags.GPS.GPSLongitude in place
