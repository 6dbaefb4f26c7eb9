"""Finish a PDF: attach the data behind it, and pack its many small objects into compressed streams.

The tests hold every entry against what Typst writes for an attachment of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory

import pikepdf
from pikepdf import AttachedFileSpec, Name

_MEDIA_TYPES = {
    ".csv": "text/csv",
    ".json": "application/json",
    ".geojson": "application/geo+json",
    ".gpkg": "application/geopackage+sqlite3",
    ".md": "text/markdown",
    ".toml": "application/toml",
    ".txt": "text/plain",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".zip": "application/zip",
}
_DATA_TYPES = frozenset({".csv", ".json", ".geojson", ".gpkg", ".xlsx", ".zip"})


def finish(data: bytes, attachments: Mapping[str, bytes], day: date) -> bytes:
    """Return the same document with files attached, in object and cross-reference streams.

    Tables and geodata are attached as the data behind the document, others as supplements, all
    of them dated ``day`` (ISO 19005-3, 6.8, and ISO 32000-2, 14.13); the streams are those of
    ISO 32000-1, 7.5.7 and 7.5.8, which PDF/A-3 allows. Pages, structure and metadata stay as
    they are. The file identifier is made anew from the content alone, so that the same document
    gives the same bytes. Raises ValueError if an attachment's name is not a plain relative
    path, pikepdf.PdfError if `data` is no PDF.

    >>> from io import BytesIO
    >>> empty = BytesIO()
    >>> pikepdf.new().save(empty)
    >>> made = pikepdf.open(BytesIO(finish(empty.getvalue(), {"a.csv": b"x"}, date(2025, 11, 20))))
    >>> made.trailer.Type, made.attachments["a.csv"].relationship
    (pikepdf.Name("/XRef"), pikepdf.Name("/Data"))
    """
    # Through files, not memory: pikepdf would ask for the interpreter at every few bytes, and
    # wait for it each time while other threads are at work.
    with TemporaryDirectory() as folder:
        raw, target = Path(folder, "raw.pdf"), Path(folder, "finished.pdf")
        raw.write_bytes(data)
        with pikepdf.open(raw) as document:
            _attach(document, attachments, day)
            document.save(
                target,
                object_stream_mode=pikepdf.ObjectStreamMode.generate,
                fix_metadata_version=False,
                deterministic_id=True,
            )
        return target.read_bytes()


def _attach(document: pikepdf.Pdf, attachments: Mapping[str, bytes], day: date) -> None:
    """Attach files, each of them named by the document as belonging to the whole of it (``AF``)."""
    for name in sorted(attachments):
        document.attachments[name] = _specification(document, name, attachments[name], day)
    if attachments:
        document.Root.AF = pikepdf.Array([document.attachments[name].obj for name in sorted(attachments)])


def _specification(document: pikepdf.Pdf, name: str, content: bytes, day: date) -> AttachedFileSpec:
    plain = PurePosixPath(name)
    if plain.is_absolute() or ".." in plain.parts or not plain.parts:
        raise ValueError(f"attachment name {name!r} is not a plain relative path")
    kind = plain.suffix.lower()
    return AttachedFileSpec(
        document,
        content,
        description=name,
        filename=name,
        mime_type=_MEDIA_TYPES.get(kind, "application/octet-stream"),
        mod_date=f"D:{day:%Y%m%d}120000Z",
        relationship=Name.Data if kind in _DATA_TYPES else Name.Supplement,
    )
