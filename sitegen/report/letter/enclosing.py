"""What goes with a letter: the files of a report that was built from the very content that the letter is about."""

from __future__ import annotations

from typing import NamedTuple

from sitegen.report.record.letters import Enclosed, EnclosedFile
from sitegen.report.record.pages import Block, Prose, Section
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.words import lexicon, prose, say
from sitegen.voice import thousands


class _Row(NamedTuple):
    name: str
    kind: str
    size: int
    sha256: str


def enclosed_blocks(enclosed: Enclosed | None, reason: str) -> Section:
    """Return the table of what is enclosed, or the sentence that nothing is; ``reason`` tells of a report left out."""
    title = say("letter.enclosed_title")
    if enclosed is None:
        return Section("enclosed", title, (_plain(reason or say("letter.enclosed_none")),))
    columns: list[Spec[_Row]] = [
        Spec("file", "File", kind="wide", cell=lambda one: one.name),
        Spec("format", "Format", cell=lambda one: one.kind),
        Spec("size", "Size", "bytes", "number", lambda one: thousands(f"{one.size:,}")),
        Spec("sha256", "SHA-256", kind="wide", cell=lambda one: one.sha256),
    ]
    whole = say("letter.site", count=thousands(f"{enclosed.pages:,}"))
    site = _Row(whole, say("letter.site_format"), enclosed.size, enclosed.digest)
    rows = [*map(_row, enclosed.files), site]
    made = table("enclosed", say("letter.enclosed_caption"), columns, rows, note=say("letter.enclosed_note"))
    blocks: tuple[Block, ...] = (_plain(say("letter.enclosed_lead", folder=enclosed.folder)), made)
    return Section("enclosed", title, blocks)


def _plain(text: str) -> Prose:
    return prose("plan.plain", text=text)


def _row(file: EnclosedFile) -> _Row:
    kinds = lexicon("letter")["format"]
    ending = file.path.rpartition(".")[2].lower()
    return _Row(file.path, kinds.get(ending, ending), file.size, file.sha256)
