"""Look through everything that was written for words that must not be published."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sitegen.render.print.strings import Words, search_files
from sitegen.render.site.pictures import has_metadata
from sitegen.render.volumes import printed_texts
from sitegen.report.record.pages import Report

_PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff")


def leaks(folder: Path, report: Report, words: Iterable[str], *, pictures: str | tuple[str, ...] = ()) -> list[str]:
    """Return what must not be in a folder's files, one line for each file and word, sorted.

    Words are looked for in names and contents of all files, as :mod:`sitegen.render.print.strings`
    reads them. Pictures below ``pictures`` must carry no data of a camera.
    """
    wanted = Words(words)
    found = (
        [f"{name}: {word!r}" for name, word in search_files(folder, wanted, printed_texts(report))] if wanted else []
    )
    if pictures:
        shown = (path for path in folder.rglob("*") if path.suffix.lower() in _PICTURES and path.is_file())
        names = {path.relative_to(folder).as_posix(): path for path in shown}
        found += [
            f"{name}: data of a camera"
            for name, path in names.items()
            if name.startswith(pictures) and has_metadata(path.read_bytes())
        ]
    return sorted(found)
