"""Hostile pictures: too large, bombs, broken, or of another kind than their names tell."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable, Iterator
from functools import partial

from builders import cell, content, setting, settings_added
from hostile_case import Answer, Hostile, Maker, Place, edited, heavy, late
from PIL import Image

PHOTO = "photos/x.png"
LISTED = (
    b"file,location_id,taken_at,direction,caption,alt_text,publish\n"
    b"photos/x.png,SG-01,2025-10-23T10:53,N,Words,Words,yes\n"
)
PLAIN = cell("field/deployments.csv", "0047102", "comment", "")
"""The one cell whose words keep the small survey from the client."""
BACKGROUND = (
    '[map.background]\nfile = "photos/x.png"\nwest = -99.4\nsouth = 43.0\neast = -99.3\nnorth = 43.1\nlicence = "x"'
)


def png(width: int, height: int, *chunks: tuple[bytes, bytes], rows: bytes | None = None) -> bytes:
    """Return a PNG of 1 bit per pixel; ``chunks`` stand before its pixels, ``rows`` are these as they are packed."""
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    pixels = zlib.compress(bytes((1 + (width + 7) // 8) * height)) if rows is None else rows
    return b"\x89PNG\r\n\x1a\n" + b"".join(map(_chunk, ((b"IHDR", head), *chunks, (b"IDAT", pixels), (b"IEND", b""))))


def _chunk(one: tuple[bytes, bytes]) -> bytes:
    name, data = one
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def _drawn(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    noise = bytes((at * at * 7 + at // 3) % 251 for at in range(64 * 48 * 3))
    Image.frombytes("RGB", (64, 48), noise).save(out, kind, **options)
    return out.getvalue()


def _exif(body: bytes) -> bytes:
    """Return a JPEG with these bytes as what its camera wrote."""
    plain = _drawn("JPEG")
    data = b"Exif\x00\x00" + body
    return plain[:2] + b"\xff\xe1" + struct.pack(">H", len(data) + 2) + data + plain[2:]


def _ifd(*entries: tuple[int, int, int, int]) -> bytes:
    """Return TIFF data of one directory: tag, type, count and value of each entry."""
    rows = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    return b"II*\x00\x08\x00\x00\x00" + struct.pack("<H", len(entries)) + rows + b"\x00\x00\x00\x00"


def _animated() -> bytes:
    frames = [Image.new("RGB", (64, 48), colour) for colour in ("red", "green", "blue")]
    out = io.BytesIO()
    frames[0].save(out, "WEBP", save_all=True, append_images=frames[1:])
    return out.getvalue()


def _animated_png() -> bytes:
    frames = [Image.new("RGB", (64, 48), colour) for colour in ("red", "green", "blue")]
    out = io.BytesIO()
    frames[0].save(out, "PNG", save_all=True, append_images=frames[1:])
    return out.getvalue()


def _flipped(whole: bytes, every: int) -> bytes:
    spoilt = bytearray(whole)
    for at in range(60, len(spoilt), every):
        spoilt[at] ^= 0x55
    return bytes(spoilt)


def _four_colours() -> bytes:
    out = io.BytesIO()
    Image.new("CMYK", (64, 48), (9, 99, 0, 0)).save(out, "JPEG")
    return out.getvalue()


BOMB_BYTES = 100 << 20
Picture = Callable[[], bytes]
TOO_LARGE: dict[str, Picture] = {
    "30,000 by 30,000 pixels": partial(png, 30_000, 30_000, rows=zlib.compress(bytes(1000))),
    "2,000,000,000 by 2,000,000,000 pixels": partial(png, 2_000_000_000, 2_000_000_000, rows=b""),
    "80,000,001 pixels in one row": partial(png, 80_000_001, 1, rows=b""),
}
BROKEN: dict[str, Picture] = {
    "a JPEG cut in half": lambda: _drawn("JPEG")[:600],
    "a JPEG of its first bytes": lambda: b"\xff\xd8\xff\xe0",
    "a PNG cut in half": lambda: _drawn("PNG")[:900],
    "a PNG of its first bytes": lambda: b"\x89PNG\r\n\x1a\n",
    "a WebP cut in half": lambda: _drawn("WEBP")[:300],
    "a PNG with wrong checksums": lambda: _flipped(_drawn("PNG"), 700),
    "a WebP with other bytes": lambda: _flipped(_drawn("WEBP", lossless=True), 40),
    "an SVG": lambda: b"<svg xmlns='http://www.w3.org/2000/svg'><script>window.ran=1</script></svg>",
    "a page": lambda: b"<!doctype html><script>window.ran=1</script>",
    "a GIF": lambda: _drawn("GIF"),
    "a TIFF": lambda: _drawn("TIFF"),
    "nothing": lambda: b"",
    "no width": partial(png, 0, 5),
    "pixels that unfold to less": partial(png, 500, 500, rows=zlib.compress(bytes(10))),
    "pixels that are no stream": partial(png, 500, 500, rows=b"\xff" * 500),
    "a text that unfolds to 100 MB": lambda: png(5, 5, (b"zTXt", b"k\x00\x00" + zlib.compress(bytes(BOMB_BYTES), 9))),
    "a JPEG whose segments have no length": lambda: b"\xff\xd8" + b"\xff\xe1\x00\x00" * 20_000,
    "a JPEG of fill bytes": lambda: b"\xff\xd8" + b"\xff" * 3_000_000,
}
ODD: dict[str, Picture] = {
    "a colour profile that unfolds to 100 MB": lambda: png(
        5, 5, (b"iCCP", b"k\x00\x00" + zlib.compress(bytes(BOMB_BYTES), 9))
    ),
    "an international text that unfolds to 100 MB": lambda: png(
        5, 5, (b"iTXt", b"k\x00\x01\x00\x00\x00" + zlib.compress(bytes(BOMB_BYTES), 9))
    ),
    "pixels that unfold to 100 MB more": lambda: png(5, 5, rows=zlib.compress(bytes(BOMB_BYTES), 9)),
    "20,000 chunks": lambda: png(5, 5, *[(b"tEXt", b"k\x00v")] * 20_000),
    "camera data without an end": lambda: _exif(_ifd((0x8825, 4, 1, 8))),
    "camera data that point at themselves": lambda: _exif(
        _ifd((0x8769, 4, 1, 8), (0x8825, 4, 1, 8), (0xA005, 4, 1, 8))
    ),
    "camera data of 4 GB": lambda: _exif(_ifd((0x010F, 2, 0xFFFFFFFF, 8))),
    "camera data of an unknown type": lambda: _exif(_ifd((0x8825, 99, 1, 8), (0x0112, 99, 9, 9))),
    "camera data outside": lambda: _exif(_ifd((0x8825, 4, 1, 0xFFFFFFF0))),
    "camera data that are noise": lambda: _exif(b"\xff" * 5_000),
    "a turn that there is not": lambda: _exif(_ifd((0x0112, 3, 1, 999))),
    "a turn in words": lambda: _exif(_ifd((0x0112, 2, 4, 0x61616161))),
    "an animated WebP": _animated,
    "an animated PNG": _animated_png,
    "a JPEG in four colours": _four_colours,
    "a JPEG in steps": lambda: _drawn("JPEG", progressive=True),
    "words after its end": lambda: _drawn("PNG") + b"<script>window.ran=1</script>" * 1000,
    "1 by 60,000 pixels": partial(png, 1, 60_000),
}


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    for what, picture in (TOO_LARGE | BROKEN).items():
        yield Hostile("pictures", f"{what}, for the client", _photo(picture, "client"), places=(Place(PHOTO),))
    for what, picture in ODD.items():
        answer = Answer.BUILT if what in BUILT else Answer.BOUNDED
        yield Hostile("pictures", f"{what}, for the client", _photo(picture, "client"), answer)
        yield Hostile("pictures", f"{what}, inside the team", _photo(picture, "internal"), Answer.BOUNDED)
    for what, picture in (TOO_LARGE | BROKEN).items():
        yield Hostile("pictures", f"{what}, under the map", _under_the_map(picture), places=(Place(PHOTO),))
    large = partial(png, 8_000, 9_999)
    yield heavy(Hostile("pictures", "79,992,000 pixels", _photo(large, "client"), Answer.BOUNDED))


BUILT = (
    "camera data that point at themselves",
    "a turn in words",
    "an animated WebP",
    "a JPEG in four colours",
    "camera data of 4 GB",
)


def _photo(picture: Picture, level: str) -> Maker:
    stated = setting('level = "internal"', f'level = "{level}"')
    return edited(stated, PLAIN, content("field/photos.csv", LISTED), late(PHOTO, picture), small=True)


def _under_the_map(picture: Picture) -> Maker:
    return edited(settings_added(BACKGROUND), late(PHOTO, picture), small=True)
