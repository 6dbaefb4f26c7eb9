"""Words and size in a PNG picture: what a reader's program tells of it, with no clock in it."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping

from sitegen.units import INCH

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_HEAD = len(_SIGNATURE) + 25
"""Where the header of a PNG ends: 8 bytes of signature, then the chunk IHDR of 25 (ISO/IEC 15948, 5 and 11.2.2)."""


def with_texts(data: bytes, dpi: int, texts: Mapping[str, str]) -> bytes:
    """Return a PNG with its dots to the inch (pHYs) and texts in UTF-8 (iTXt) after its header.

    Chunks are those of ISO/IEC 15948 (PNG), 11.3. Raises ValueError where ``data`` is no PNG.
    """
    if not data.startswith(_SIGNATURE) or data[12:16] != b"IHDR":
        raise ValueError("no PNG picture")
    per_metre = round(dpi / INCH.value)
    chunks = [_chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1))]
    chunks += [_chunk(b"iTXt", key.encode("latin-1") + b"\0\0\0\0\0" + words.encode()) for key, words in texts.items()]
    return data[:_HEAD] + b"".join(chunks) + data[_HEAD:]


def text_of(data: bytes, key: str) -> str:
    """Return a text that :func:`with_texts` put into a PNG, "" where there is none or the file is none."""
    at = _HEAD
    while data.startswith(_SIGNATURE) and data[at + 4 : at + 8] in (b"pHYs", b"iTXt"):
        (length,) = struct.unpack(">I", data[at : at + 4])
        content = data[at + 8 : at + 8 + length]
        if content.startswith(key.encode("latin-1") + b"\0\0\0\0\0"):
            return content[len(key) + 5 :].decode("utf-8", "replace")
        at += 12 + length
    return ""


def size_px(data: bytes) -> tuple[int, int]:
    """Return width and height of a PNG in pixels, as its header says."""
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
