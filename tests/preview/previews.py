"""Previews to look at in memory: a maker without threads, and the site that mkdocs writes of the same folder."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sitegen.checking import check
from sitegen.pipeline import assemble, own_map_files, own_stylesheet, picture, pictured, prepare, scanned
from sitegen.preview.board import Board
from sitegen.preview.run import Maker
from sitegen.render.data.downloads import PRINTED, download_files
from sitegen.render.site.site import write_site
from sitegen.report.record.lone import MAPS


def maker_of(folder: Path) -> Maker:
    """Return a maker that has made a folder once, and does more only when told."""
    maker = Maker(folder, Board())
    update(maker)
    return maker


def update(maker: Maker) -> None:
    """Have a maker do what its threads do after a change."""
    maker.look()
    maker.make_whole()


def on_show(maker: Maker, path: str) -> bytes:
    """Return what a preview has at a path."""
    pages = maker.board.shown.pages
    assert pages is not None
    content = pages.get(path)
    assert content is not None, path
    return content


def edit(path: Path, change: Callable[[str], str]) -> None:
    """Change a file's text; a change that changes nothing would prove nothing."""
    before = path.read_text("utf-8")
    after = change(before)
    assert after != before
    path.write_text(after, "utf-8")


def written(folder: Path, out: Path) -> dict[str, bytes]:
    """Return the site of a folder as a build writes it, print and data left out, by way of mkdocs and the disk."""
    survey, made, _ = prepare(check(folder))
    report = assemble(made)
    files = dict.fromkeys((PRINTED, *download_files(report)), b"")
    files |= {volume.file: b"" for volume in report.volumes} | ({MAPS: b""} if report.atlas.maps else {})
    files |= {name: picture(survey, file) for name, file in pictured(made).items()} | scanned(made, survey)
    files |= own_map_files(report, survey) | own_stylesheet(report, survey)
    out.mkdir()
    write_site(report, out, files)
    found = {path.relative_to(out).as_posix(): path for path in out.rglob("*") if path.is_file()}
    return {name: path.read_bytes() for name, path in found.items() if not name.startswith("downloads/")}


def differing(maker: Maker, site: dict[str, bytes]) -> list[str]:
    """Return the paths at which a preview has something else than a site, or has a page that the site lacks."""
    pages = maker.board.shown.pages
    assert pages is not None
    strange = [url for url in pages.urls if url not in site]
    return sorted([name for name, content in site.items() if pages.get(name) != content] + strange)
