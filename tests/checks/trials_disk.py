"""Messages that need a folder on disk: files that are no files, links, and a revision before this one."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import defects as named
from builders import Change, cell, changed, example, read_folder, setting, write

from sitegen.checking import check
from sitegen.findings.problems import Finding
from sitegen.project.folder import MAX_FILE_BYTES


@dataclass(frozen=True)
class DiskTrial:
    """What is done to the example's folder below a place, what follows the message, and where it is told."""

    name: str
    code: str
    spoil: Callable[[Path], None]
    follow: Callable[[Path, Finding], None]
    told: Callable[[Path], Iterable[Finding]] = lambda root: read_folder(root / "survey").findings
    changes: tuple[Change, ...] = ()

    def written(self, place: Path) -> Path:
        """Write the folder, and what is wrong with it."""
        write(changed(*self.changes), place / "survey")
        self.spoil(place)
        return place


def file_in(root: Path, finding: Finding) -> Path:
    return root / "survey" / finding.where.file


def copied_there(root: Path, finding: Finding) -> None:
    """Put the file, or a copy of it, in its place."""
    assert re.search("replace it with (the file|a copy)", finding.do), finding.do
    file_in(root, finding).unlink()
    file_in(root, finding).write_bytes(example().files[finding.where.file].content)


def renamed(root: Path, finding: Finding) -> None:
    assert finding.do == "rename it"
    (path,) = [path for path in (root / "survey/records").iterdir() if b"\xff" in os.fsencode(path.name)]
    path.rename(path.with_name("a.txt"))


def kept_elsewhere(root: Path, finding: Finding) -> None:
    assert "keep it outside the project folder" in finding.do
    file_in(root, finding).rename(root / "elsewhere.bin")


def piped(root: Path) -> None:
    (root / "survey" / named.WEATHER).unlink()
    os.mkfifo(root / "survey" / named.WEATHER)


def linked(root: Path) -> None:
    (root / "survey" / named.WEATHER).rename(root / "weather.csv")
    (root / "survey" / named.WEATHER).symlink_to(root / "weather.csv")


def without_letters(root: Path) -> None:
    Path(os.fsdecode(os.fsencode(root / "survey/records") + b"/a\xff.txt")).write_bytes(b"x")


def large(root: Path) -> None:
    with (root / "survey/records/scan.tif").open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)


def first_beside(root: Path) -> None:
    write(example(), root / "first")


def round_beside(root: Path) -> None:
    """Write an earlier round of the example as the first: other samplers, other laboratory samples."""
    write(example(), root / "first")
    for path in sorted((root / "first").rglob("*.csv")):
        text = path.read_bytes()
        path.write_bytes(re.sub(rb"\b04417-", b"05528-", re.sub(rb"\b0047(\d{3})\b", rb"0058\1", text)))


def setting_line(root: Path, old: str, new: str) -> None:
    path = root / "survey/project.toml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def date_written(root: Path, finding: Finding) -> None:
    assert "as report_date in project.toml" in finding.do
    setting_line(root, "report_date = 2025-12-12", "report_date = 2026-01-09")


def previous_taken_out(root: Path, finding: Finding) -> None:
    assert "remove it" in finding.do
    setting_line(root, 'previous = "../first"\n', "")


def reason_written(root: Path, finding: Finding) -> None:
    """Add the row with the key that is expected."""
    match = re.search(r"a row of (\S+) with the key (\S+)$", finding.expected)
    assert match, finding.expected
    path = root / "survey" / match[1]
    path.parent.mkdir(exist_ok=True)
    header = path.read_text("utf-8") if path.exists() else "revision,key,reason\n"
    path.write_text(f"{header}2,{match[2]},surveyed again\n", "utf-8")


def checked(root: Path) -> tuple[Finding, ...]:
    return check(root / "survey").findings


def earlier_taken_out(root: Path, finding: Finding) -> None:
    assert "remove it" in finding.do
    path = root / "survey/project.toml"
    path.write_text(re.sub(r"earlier = .*\n", "", path.read_text("utf-8")), "utf-8")


EARLIER = setting("revision = 1", 'revision = 1\nearlier = ["../first"]')
SECOND = setting("revision = 1", 'revision = 2\nprevious = "../first"')
LATER = setting("report_date = 2025-12-12", "report_date = 2026-01-09")
MOVED = cell(named.LOCATIONS, "SG-05", "easting", "470098.33")
DISK = (
    DiskTrial("pipe", "file-unreadable", piped, copied_there),
    DiskTrial("name-not-utf-8", "file-unreadable", without_letters, renamed),
    DiskTrial("link", "link-out-of-folder", linked, copied_there),
    DiskTrial("large", "file-too-large", large, kept_elsewhere),
    DiskTrial("no-first", "previous-unreadable", lambda _: None, previous_taken_out, checked, (SECOND, LATER)),
    DiskTrial("no-earlier", "earlier-unreadable", lambda _: None, earlier_taken_out, checked, (EARLIER,)),
    DiskTrial("other-round", "previous-is-another-round", round_beside, previous_taken_out, checked, (SECOND, LATER)),
    DiskTrial("same-date", "report-date-unchanged", first_beside, date_written, checked, (SECOND,)),
    DiskTrial("moved", "change-without-reason", first_beside, reason_written, checked, (SECOND, LATER, MOVED)),
)
