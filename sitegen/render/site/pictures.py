"""Photographs for publication: the picture alone, without what the camera wrote beside it."""

from __future__ import annotations

from io import BytesIO

from PIL import Image, ImageOps

from sitegen.findings.problems import OutputFault

JPEG_QUALITY = 90
_FORMATS = {"PNG": "PNG", "JPEG": "JPEG", "WEBP": "PNG"}


def without_metadata(file: str, content: bytes) -> bytes:
    """Return a picture's pixels in a file of their own: no position, camera, time or remark.

    It is turned as its camera says. Raises OutputFault where the file is no picture that can
    be written anew.
    """
    try:
        with Image.open(BytesIO(content)) as opened:
            kind = _FORMATS.get(opened.format or "")
            turned = ImageOps.exif_transpose(opened)
            pixels = Image.frombytes(turned.mode, turned.size, turned.tobytes())
            palette = turned.getpalette() if turned.mode == "P" else None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise OutputFault(f"{file} can't be published without its camera data: {error}") from error
    if kind is None:
        raise OutputFault(f"{file} can't be published: it is neither PNG, JPEG nor WebP")
    if palette is not None:
        pixels.putpalette(palette)
    out = BytesIO()
    pixels.save(out, kind, **({"quality": JPEG_QUALITY} if kind == "JPEG" else {}))
    return out.getvalue()


def has_metadata(content: bytes) -> bool:
    """Tell whether a picture carries data of its camera, a position or a remark."""
    try:
        with Image.open(BytesIO(content)) as opened:
            return bool(opened.getexif()) or any(
                name in opened.info for name in ("exif", "xmp", "comment", "XML:com.adobe.xmp")
            )
    except (OSError, ValueError, SyntaxError):
        return False
