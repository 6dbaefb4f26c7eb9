"""The volumes of the printed report: which report each is set from, and their bytes.

Volume 1 is the report itself. The others have cover, status, running heads and outline of
their own from the same templates, and nothing attached. They are set one after the other, and Typst
forgets each before the next, so that no more than one is in memory.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial

from sitegen.render.data.downloads import PRINTED
from sitegen.render.print.finish import finish
from sitegen.render.print.lone import lone_texts
from sitegen.render.print.pdf import PrintSources, forget, print_sources, typeset
from sitegen.render.print.strings import strings
from sitegen.render.print.tree import document_tree
from sitegen.report.record.lone import MAPS
from sitegen.report.record.pages import Bound, Printable, Report, Volume


def volume_report(report: Printable, volume: Volume) -> Bound:
    """Return what print sets as a volume: its chapters, under the same status, revision and digest."""
    count = len(report.volumes) + 1
    meta = replace(report.meta, volume=f"{volume.number} of {count}")
    return Bound(meta, volume.chapters)


def printed_reports(report: Printable, below: str = "") -> dict[str, Printable]:
    """Return what each PDF of the site is set from, by its path; ``below`` is the way to the site."""
    first: dict[str, Printable] = {PRINTED: report}
    volumes = {volume.file: volume_report(report, volume) for volume in report.volumes}
    return {f"{below}{file}": one for file, one in (first | volumes).items()}


def printed_texts(report: Printable, below: str = "") -> dict[str, Callable[[], Iterable[str]]]:
    """Return what yields the texts of each PDF of the site, by its path: the report, its volumes, and its maps."""
    found: dict[str, Callable[[], Iterable[str]]] = {
        file: partial(_texts, one) for file, one in printed_reports(report, below).items()
    }
    return found | {f"{below}{MAPS}": partial(lone_texts, report.atlas, report.meta)}


def _texts(report: Printable) -> Iterator[str]:
    yield from strings(document_tree(report))


def volume_sources(report: Printable, volume: Volume) -> PrintSources:
    """Return what Typst reads for a volume."""
    return print_sources(volume_report(report, volume), {})


def set_volumes(report: Printable) -> dict[str, bytes]:
    """Return the finished PDF of each volume by its path below the site, set one after the other."""
    made: dict[str, bytes] = {}
    for volume in report.volumes:
        sources = volume_sources(report, volume)
        made[volume.file] = finish(typeset(sources), {}, sources.day)
        forget()
    return made


def with_hashes(report: Report, files: Mapping[str, bytes]) -> Report:
    """Return the report whose list of files has the SHA-256 of these as well: what is sealed then names them."""
    sums = {path: hashlib.sha256(content).hexdigest() for path, content in files.items()}
    return replace(report, hashes={**report.hashes, **sums})
