"""Write the report as a PDF: PDF/A-3a and PDF/UA-1 in one file, through Typst.

The templates in ``templates/print`` are static; the report reaches them as one JSON
file, so that text of the record stays text. Typst sees a folder that holds only the
templates and that data, and the fonts of installed packages; nothing depends on the
clock or on where the folder lies: the same report, photographs and attachments give
the same bytes. What is attached comes in once the document has been set, so that the data
files may be made meanwhile.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from importlib import resources
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import typst
from PIL import Image, ImageOps

from sitegen import glyphs
from sitegen.render.print.finish import finish
from sitegen.render.print.markdown import Node
from sitegen.render.print.sheets import flat
from sitegen.render.print.strings import strings
from sitegen.render.print.tree import Picture, document_tree
from sitegen.report.record.pages import Block, Chapter, Photo, Printable, Section

STANDARDS: tuple[Literal["a-3a"], Literal["ua-1"]] = ("a-3a", "ua-1")
"""The standards that Typst is asked to keep; it refuses to write what breaks its checks of them."""

_KEPT_FOR = 10
"""Compiles for which Typst keeps a result that none of them uses (seen in typst 0.15)."""

LOGO = "logo.png"
PHOTO_SIDE_PX = 1600
PHOTO_QUALITY = 85


def write_pdf(
    report: Printable, path: Path, files: Mapping[str, bytes], attachments: Mapping[str, bytes] | None = None
) -> None:
    """Write the printed report to `path`.

    A character that no font of the report can draw is printed as U+FFFD (�), and a
    note after the contents lists each such character and where it stands; see
    `missing_glyphs`. A photograph that is absent from `files` or can't be read is
    replaced by a sentence that says so; the others are scaled to at most 1600 pixels
    and lose their embedded camera and position data. The data behind a figure
    (``Figure.table``) are printed with it where they are short.

    Parameters
    ----------
    report
        Its ``meta`` and ``chapters`` are printed.
    path
        The file to write; its folder must exist.
    files
        Photographs by the path that ``Photo.file`` gives.
    attachments
        Files to embed, by name: tables and geodata as the data behind the report,
        others as supplements.

    Raises
    ------
    ValueError
        If the paper is unknown, the report date is not an ISO date, or an
        attachment's name is not a plain relative path.
    typst.TypstError
        If a drawing is not valid SVG.
    """
    sources = print_sources(report, files)
    path.write_bytes(finish(typeset(sources), attachments or {}, sources.day))


@dataclass(frozen=True, slots=True)
class PrintSources:
    """What Typst reads: files by name, and the day that the document bears."""

    files: Mapping[str, bytes]
    day: date


def print_sources(report: Printable, files: Mapping[str, bytes]) -> PrintSources:
    """Return what `typeset` sets, for the arguments of `write_pdf` and with its errors."""
    photos = _prepared_photos(report, files)
    pictures = {file: Picture(f"photo-{i}.jpg", photos[file][1]) for i, file in enumerate(photos)}
    logo = _prepared_logo(files.get(report.meta.look.logo_at))
    tree = document_tree(report, pictures, with_logo=bool(logo))
    chars = frozenset("".join(strings(tree)))
    tree["upright"] = "".join(sorted(glyphs.upright_only() & chars))
    tree["missing"] = []
    if not glyphs.is_plain(chars):
        tree["missing"] = [(glyphs.describe(char), where) for char, where in find_missing(tree)]
        tree = printable_tree(tree)
    sources = print_templates() | {
        "data.json": json.dumps(tree, ensure_ascii=False).encode(),
        **{pictures[file].name: data for file, (data, _) in photos.items()},
        **({LOGO: logo} if logo else {}),
    }
    return PrintSources(sources, date.fromisoformat(report.meta.report_date))


def typeset(sources: PrintSources) -> bytes:
    """Return the PDF with nothing attached yet, for `finished` to complete.

    Other threads run meanwhile: nearly all of it is outside the interpreter.
    """
    return compile_sources(sources.files, sources.day)


def forget() -> None:
    """Let Typst drop what it has worked out: it keeps that until ten compiles have not asked for it."""
    for _ in range(_KEPT_FOR + 1):
        typst.compile(b"", font_paths=_fonts(), ignore_system_fonts=True)


def missing_glyphs(report: Printable) -> tuple[tuple[str, str], ...]:
    """Return each character that print can't draw, with the place where it first stands.

    The places are the cover or a heading and, for tables and figures, a caption.
    Characters that other texts share are listed once, in order of code point.
    """
    return find_missing(document_tree(report))


def find_missing(tree: Node) -> tuple[tuple[str, str], ...]:
    """Return the characters of a print tree that print can't draw, with their places."""
    found: dict[str, str] = {}
    for where, chars in _placed_characters(tree):
        for char in chars:
            found.setdefault(char, where)
    return tuple(sorted(found.items()))


def _placed_characters(tree: Node) -> Iterator[tuple[str, frozenset[str]]]:
    yield "cover", _unprintable_in(tree["meta"])
    yield "revision history", _unprintable_in(tree["history"])
    for sheet in tree["sheets"]:
        heading = ""
        for node in flat(sheet["nodes"]):
            if node["kind"] == "heading":
                heading = node["text"]
            where = f"{heading}: {node['caption']}" if "caption" in node else heading
            yield where, _unprintable_in(node) | glyphs.loose_marks(node.get("svg", ""))


def _unprintable_in(value: object) -> frozenset[str]:
    return frozenset[str]().union(*map(glyphs.undrawable, strings(value)))


def printable_tree(value: Any, key: str = "") -> Any:  # noqa: ANN401 - a tree of plain data
    """Return a tree with every string made printable; drawings (``svg``) are text here as well."""
    if isinstance(value, str):
        loose = glyphs.loose_marks(value) if key == "svg" else ()
        return glyphs.printable(value.translate({ord(char): glyphs.REPLACEMENT for char in loose}))
    if isinstance(value, Mapping):
        return {name: printable_tree(item, name) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [printable_tree(item) for item in value]
    return value


def _prepared_photos(report: Printable, files: Mapping[str, bytes]) -> dict[str, tuple[bytes, float]]:
    wanted = (photo.file for chapter in report.chapters for photo in _photos(chapter))
    made = {file: _prepare_photo(files[file]) for file in dict.fromkeys(wanted) if file in files}
    return {file: photo for file, photo in made.items() if photo}


def _prepared_logo(data: bytes | None) -> bytes | None:
    """Return the logo on white without metadata, since print is; None where there is none or it can't be read."""
    if data is None:
        return None
    target = BytesIO()
    try:
        with Image.open(BytesIO(data)) as opened:
            image = ImageOps.exif_transpose(opened).convert("RGBA")
            paper = Image.new("RGBA", image.size, "white")
            Image.alpha_composite(paper, image).convert("RGB").save(target, format="PNG")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    return target.getvalue()


def _photos(block: Chapter | Block) -> Iterator[Photo]:
    if isinstance(block, Photo):
        yield block
    elif isinstance(block, Chapter | Section):
        for child in block.blocks:
            yield from _photos(child)


def _prepare_photo(data: bytes) -> tuple[bytes, float] | None:
    """Return a photograph upright, of modest size and without metadata, and its width over height.

    Returns None if the picture can't be read.
    """
    target = BytesIO()
    try:
        with Image.open(BytesIO(data)) as opened:
            image = ImageOps.exif_transpose(opened).convert("RGB")
            image.thumbnail((PHOTO_SIDE_PX, PHOTO_SIDE_PX))
            image.info.clear()
            image.save(target, format="JPEG", quality=PHOTO_QUALITY)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    return target.getvalue(), image.width / image.height


@cache
def _fonts() -> typst.Fonts:
    """Return Typst's own fonts and matplotlib's, never what a machine happens to have installed."""
    folder = str(glyphs.font_folder())
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[folder])


@cache
def print_templates() -> dict[str, bytes]:
    """Return the templates of print by name."""
    folder = resources.files("sitegen") / "templates" / "print"
    return {item.name: item.read_bytes() for item in folder.iterdir() if item.name.endswith(".typ")}


def compile_sources(sources: Mapping[str, bytes], day: date, main: str = "main.typ", ppi: int = 0) -> bytes:
    """Typeset the sources, beginning with ``main``, in a folder of their own, which is all that Typst may read.

    With ``ppi`` their one page comes as a PNG of so many pixels to the inch.
    """
    with TemporaryDirectory() as name:
        folder = Path(name)
        for file, data in sources.items():
            (folder / file).write_bytes(data)
        how: dict[str, Any] = {"format": "png", "ppi": ppi} if ppi else {"pdf_standards": list(STANDARDS)}
        made: bytes = typst.compile(
            folder / main,
            root=folder,
            font_paths=_fonts(),
            ignore_system_fonts=True,
            timestamp=datetime.combine(day, time(12), UTC),
            **how,
        )
        return made
