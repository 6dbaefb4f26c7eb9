"""Prove an archive: whole, unchanged, and what its own inputs give when built anew.

A bag that another program made has no inputs to build from: its fixity alone is checked.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from filecmp import cmp
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory

from sitegen.archive.fixity import check_fixity
from sitegen.archive.others import check_other
from sitegen.archive.provenance import MARK, PROGRAM, PROVENANCE, Told, read_provenance, versions
from sitegen.archive.reading import Bag, Fault, Overfull, opened_bag
from sitegen.archive.words import verdict_lines
from sitegen.checking import Progress
from sitegen.findings.problems import OutputFault, Stopped
from sitegen.pipeline import Built, build
from sitegen.project import limits
from sitegen.project.schema import SETTINGS_FILE
from sitegen.render.data.findings import findings_csv, findings_json
from sitegen.render.place.bag import zip_bag
from sitegen.render.place.fixity import Fixity, fixities_below

PROJECT, PREVIOUS = "data/project/", "data/previous/"
_HEAD_BYTES = 1 << 16
_AGENT = re.compile(rf"^Bag-Software-Agent: *{PROGRAM}\b".encode(), re.MULTILINE)
_DATE = re.compile(rb"^Bagging-Date: *(\d{4}-\d\d-\d\d)\r?$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check of an archive came to.

    ``files`` were read to their ends. ``other`` says of a bag that another program made what
    was gone by, "BagIt 1.0, sha256"; it is "" for an archive of ours. ``rebuilt`` is None where
    no rebuild was tried, else the number of files that were compared. ``versions`` lists
    (name, in the archive, here) where they differ: then a difference after a rebuild says
    nothing about the archive.
    """

    files: int
    faults: tuple[Fault, ...]
    rebuilt: int | None = None
    differences: tuple[Fault, ...] = ()
    versions: tuple[tuple[str, str, str], ...] = ()
    notes: tuple[str, ...] = ()
    other: str = ""

    @property
    def holds(self) -> bool:
        """Whether everything that was looked at is as it should be."""
        return not self.faults and not self.differences

    def lines(self) -> list[str]:
        """Say the verdict in plain lines."""
        return verdict_lines({name: getattr(self, name) for name in self.__slots__})


def verify(path: Path, *, rebuild: bool = True, progress: Progress | None = None) -> Verdict:
    """Check the archive at ``path``, a folder or a zip file.

    Raises WrongUse where nothing is there, OutputFault where there is no room to unpack it. Nothing
    in the archive is changed, and nothing of it is run.
    """
    say = progress or _silent
    say("fixity", 0, 1)
    with opened_bag(path) as bag:
        try:
            return _own(bag, path, progress, rebuild=rebuild) if bag.faults or _is_own(bag) else _other(bag)
        except Overfull as error:
            return Verdict(0, (Fault("form", path.name, str(error)),))


def _is_own(bag: Bag) -> bool:
    """Return whether a bag says that this program made it; a damaged one may say so in one place alone."""
    info, record = bag.head("bag-info.txt", _HEAD_BYTES), bag.head(PROVENANCE, _HEAD_BYTES)
    return bool(_AGENT.search(info)) or MARK.encode() in record


def _other(bag: Bag) -> Verdict:
    checked = check_other(bag)
    return Verdict(checked.files, checked.faults, notes=checked.notes, other=checked.standard)


def _own(bag: Bag, path: Path, progress: Progress | None, *, rebuild: bool) -> Verdict:
    checked = check_fixity(bag)
    verdict = Verdict(len(checked.fixities), checked.faults)
    if checked.faults:
        return verdict
    if path.is_file():
        verdict = replace(verdict, notes=_as_packed(bag, path))
    if f"{PROJECT}{SETTINGS_FILE}" not in bag.names:
        return replace(verdict, notes=(*verdict.notes, "it holds no project to build anew"))
    return _proved(verdict, bag, checked.fixities, progress) if rebuild else verdict


def _proved(verdict: Verdict, bag: Bag, fixities: Mapping[str, Fixity], progress: Progress | None) -> Verdict:
    try:
        told = read_provenance(bag.read(PROVENANCE, limits.RECORD_BYTES))
    except (KeyError, OSError, ValueError) as error:
        return replace(verdict, faults=(Fault("form", PROVENANCE, str(error)),))
    compared, differences = _rebuild(bag, told, fixities, progress)
    return replace(verdict, rebuilt=compared, differences=differences, versions=_other_versions(told.versions))


def _rebuild(
    bag: Bag, told: Told, fixities: Mapping[str, Fixity], progress: Progress | None
) -> tuple[int, tuple[Fault, ...]]:
    """Build from the bag's inputs in a folder of its own; return files compared and differences."""
    with _scratch() as scratch:
        folder, out = scratch / "project", scratch / "report"
        previous = scratch / "previous"
        _unpack(bag, PROJECT, folder)
        _unpack(bag, PREVIOUS, previous)
        try:
            built = build(folder, out, issue=told.issue, previous=previous, progress=progress)
        except Stopped as stopped:
            reasons = "; ".join(finding.line() for finding in stopped.findings[:3])
            return 0, (Fault("rebuilt", PROJECT, f"it can't be built anew: {stopped} ({reasons})"),)
        except OutputFault as error:
            return 0, (Fault("rebuilt", PROJECT, f"it can't be built anew: {error}"),)
        made = _made(built)
    kept = {name: fixity for name, fixity in fixities.items() if name in made or name.startswith("data/site/")}
    names = sorted(made.keys() | kept.keys())
    faults = (_difference(name, made.get(name), kept.get(name)) for name in names)
    return len(names), tuple(fault for fault in faults if fault)


def _made(built: Built) -> dict[str, Fixity]:
    """Return the fixity of all that a rebuild gives, by its path in a bag."""
    (built.out / "findings.json").write_bytes(findings_json(built.findings))
    (built.out / "findings.csv").write_bytes(findings_csv(built.findings))
    return {f"data/{name}": fixity for name, fixity in fixities_below(built.out).items()}


def _difference(name: str, made: Fixity | None, kept: Fixity | None) -> Fault | None:
    if made == kept:
        return None
    if kept is None:
        return Fault("rebuilt", name, "the inputs give this file, and the archive lacks it")
    if made is None:
        return Fault("rebuilt", name, "the archive has this file, and the inputs do not give it")
    return Fault("rebuilt", name, "the inputs give other content")


@contextmanager
def _scratch() -> Iterator[Path]:
    """Yield an empty folder, removed at the end. Raises OutputFault where the file system refuses it."""
    try:
        with TemporaryDirectory(prefix="sitegen-verify-") as name:
            yield Path(name)
    except OSError as error:
        reason = error.strerror or error
        raise OutputFault(f"no room to unpack the archive: {reason}; TMPDIR names another place") from error


def _unpack(bag: Bag, start: str, target: Path) -> None:
    """Write the files below ``start`` into a new folder; their names were found safe before."""
    for name in bag.names:
        if name.startswith(start):
            path = target / PurePosixPath(name.removeprefix(start))
            path.parent.mkdir(parents=True, exist_ok=True)
            with bag.open(name) as stream, path.open("wb") as unpacked:
                shutil.copyfileobj(stream, unpacked)


def _other_versions(told: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    here = versions()
    names = sorted(told.keys() | here.keys())
    pairs = ((name, told.get(name, "none"), here.get(name, "none")) for name in names)
    return tuple((name, then, now) for name, then, now in pairs if then != now)


def _as_packed(bag: Bag, path: Path) -> tuple[str, ...]:
    """Tell where a zip file as such is not what would be written, though the bag in it is whole."""
    told = _DATE.search(bag.read("bag-info.txt", limits.INFO_BYTES))
    try:
        day = date.fromisoformat(told[1].decode("ascii")) if told else date.min
    except ValueError:
        day = date.min
    with _scratch() as scratch:
        root, again = scratch / "bag", scratch / "again.zip"
        _unpack(bag, "", root)
        zip_bag(root, again, day, bag.name)
        if cmp(path, again, shallow=False):
            return ()
    return ("the zip file was packed anew or its wrapping changed; the bag in it is whole",)


def _silent(step: str, done: int, whole: int) -> None:
    """Say nothing."""
