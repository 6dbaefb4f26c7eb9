"""What kind of picture a file is, told by its first bytes and never by its name."""

from __future__ import annotations

_PNG = b"\x89PNG\r\n\x1a\n"
_JPEG = b"\xff\xd8\xff"


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
