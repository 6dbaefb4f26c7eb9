"""What a person does who follows a message about a laboratory's file or its mapping file."""

from __future__ import annotations

import re
from collections.abc import Iterator

from builders import Change, content, example, removed
from remedies import Remedy, text_of

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder


def mapping_of(folder: Folder, finding: Finding) -> str:
    """Return the mapping file that a finding names, or the only one that speaks of the file that it names."""
    maps = [path for path in folder.files if path.endswith(".map.toml")]
    named_in_it = [path for path in maps if path in (finding.where.file, finding.subject) or path in finding.do]
    speaking = [path for path in maps if f'"{finding.where.file}"' in text_of(folder, path)]
    return (named_in_it or speaking)[0]


def under(section: str, *lines: str, folder: Folder, mapping: str) -> Change:
    """Write lines under a heading of a mapping file; the heading is added where it lacks it."""
    now = text_of(folder, mapping)
    now = now if f"[{section}]\n" in now else f"{now}\n[{section}]\n"
    return content(mapping, now.replace(f"[{section}]\n", "\n".join([f"[{section}]", *lines, ""]), 1).encode())


def told_under(section: str) -> Remedy:
    """Write the line that the message gives, such as ``key = "value"``, under a heading of the mapping file."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert f"under [{section}]" in finding.do, finding.do
        match = re.search(r'(\w+ = "[^"]+")', finding.do)
        assert match, finding.do
        yield under(section, match[1], folder=folder, mapping=mapping_of(folder, finding))

    return remedy


def replaced_moved(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Move the file that does not stand, and name it as the message says."""
    match = re.search(r"move (\S+) to records/ and write (replaces = \"(\S+)\") under \[source\] of (\S+);", finding.do)
    assert match, finding.do
    yield removed(match[1])
    yield content(match[3], folder.files[match[1]].content)
    yield under("source", match[2], folder=folder, mapping=match[4])


def confirmed(key: str) -> Remedy:
    """Write the role code of who compared."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert f"enter the role code of the person who did so as {key} under [confirmed]" in finding.do
        now = text_of(folder, finding.where.file)
        yield content(finding.where.file, now.replace(f'{key} = ""', f'{key} = "LR-1"', 1).encode())

    return remedy


def mapping_line(old: str, new: str) -> Remedy:
    """Write other words in a line of the mapping file that the finding names."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        path = mapping_of(folder, finding)
        now = text_of(folder, path)
        assert old in now, now
        yield content(path, now.replace(old, new, 1).encode())

    return remedy


def line_taken_out(words: str) -> Remedy:
    """Take a line out of the mapping file, as the message tells by its key."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        path = mapping_of(folder, finding)
        lines = text_of(folder, path).split("\n")
        kept = [line for line in lines if not line.startswith(words)]
        assert len(kept) == len(lines) - 1
        yield content(path, "\n".join(kept).encode())

    return remedy


def own_row_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Take the typed row out, since the file's holds."""
    assert "Remove it if the file is correct" in finding.do
    lines = text_of(folder, finding.where.file).splitlines(keepends=True)
    row = finding.where.row or 0
    yield content(finding.where.file, "".join([*lines[: row - 1], *lines[row:]]).encode())


def sent_again(path: str) -> Remedy:
    """Put the laboratory's corrected file in the place of the one that the finding names."""
    return lambda *_: [content(path, example().files[path].content)]
