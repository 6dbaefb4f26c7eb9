"""Make a finished PDF compact: its many small objects go into compressed streams."""

from __future__ import annotations

from io import BytesIO

import pikepdf


def compacted(data: bytes) -> bytes:
    """Return the same document with object and cross-reference streams (ISO 32000-1, 7.5.7 and 7.5.8).

    Pages, structure, metadata and attachments stay as they are; PDF/A-3 (ISO 19005-3)
    allows such streams. The file identifier is made anew from the content alone, so that
    the same document gives the same bytes. Raises pikepdf.PdfError if `data` is no PDF.

    >>> empty = BytesIO()
    >>> pikepdf.new().save(empty)
    >>> pikepdf.open(BytesIO(compacted(empty.getvalue()))).trailer.Type
    pikepdf.Name("/XRef")
    """
    target = BytesIO()
    with pikepdf.open(BytesIO(data)) as document:
        document.save(
            target,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            fix_metadata_version=False,
            deterministic_id=True,
        )
    return target.getvalue()
