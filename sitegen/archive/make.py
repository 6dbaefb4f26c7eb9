"""Make the archive of a project: a bag that opens with nothing installed and can be proved.

The report in a bag is built from the very inputs in the bag, so that the bag proves
itself; private files are in a bag of their own. It is built twice, the second time by
another process under another hash seed, zone and locale, from the files on disk.

A page can't hold its own digest, so the site says where it stands: the bag's README and provenance.
"""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha512
from pathlib import Path

from sitegen import __version__
from sitegen.archive.provenance import (
    DEPENDENCIES,
    PROGRAM,
    PROVENANCE,
    Making,
    dependency_lock,
    provenance_json,
)
from sitegen.archive.scan import plain_paths, private_places
from sitegen.archive.words import check_page, private_readme, readme
from sitegen.checking import Progress, check_snapshot, open_previous, with_previous
from sitegen.checks.privacy import private_words
from sitegen.findings.problems import Finding, OutputFault, Stopped, WrongUse
from sitegen.pipeline import prepare, render
from sitegen.project.earlier import with_earlier
from sitegen.project.folder import Folder, InputFile, read_folder
from sitegen.project.revisions import Opened
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.settings import Settings, read_settings
from sitegen.project.survey import Survey
from sitegen.render.data.findings import findings_csv, findings_json
from sitegen.render.place.bag import Label, close_bag, info_bytes, refuse_unsafe, zip_bag
from sitegen.render.place.fixity import fixities_below, tree_digest
from sitegen.render.place.swap import clear_leftovers, put_in_place, refuse_bad_place, scratch_beside
from sitegen.render.site.paths import safe_name
from sitegen.report.assemble import Draft

PRIVATE = "private/"
PROJECT, PREVIOUS = "data/project/", "data/previous/"
NOT_STATED = "not stated"
_WIDTH = {"internal": 0, "client": 1, "public": 2}
_MAX_TOLD = 10
_OTHER_RUN = {"PYTHONHASHSEED": "20117", "TZ": "Pacific/Chatham", "LC_ALL": "C"}
"""The second build's surroundings, so that a dependence on any of them shows."""


@dataclass(frozen=True, slots=True)
class Archived:
    """What was written, and what a person must know about it.

    ``personal`` are the files of an internal bag that hold private words. ``seal`` is the
    SHA-512 of ``tagmanifest-sha512.txt``, to be kept in another place. ``cleared`` names what
    of an interrupted run was removed.
    """

    bag: Path
    private_bag: Path | None
    personal: tuple[str, ...]
    findings: tuple[Finding, ...]
    output_digest: str
    seal: str
    cleared: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Composed:
    """All that goes into the main bag, in memory, before anything is written."""

    survey: Survey
    draft: Draft
    findings: tuple[Finding, ...]
    words: tuple[str, ...]
    private: Folder
    previous: Opened | None
    issue: bool

    @property
    def settings(self) -> Settings:
        return self.survey.settings


def archive(
    folder: Path, out: Path, *, issue: bool = False, zipped: bool = False, progress: Progress | None = None
) -> Archived:
    """Write the archive of a project folder into the folder ``out``.

    There it is ``<project>-r<revision>``, as a folder or a zip file, and a second bag with
    ``-private`` in its name where the project has private files. Raises Stopped where
    findings stop it, WrongUse for a bad place, OutputFault where writing fails, where the
    two builds differ, or where private words would leave the house. In each case the
    project and the last good archive stay as they were.
    """
    say = progress or _silent
    say("read", 0, 1)
    snapshot = with_earlier(read_folder(folder), folder)
    bag, private_bag = _targets(snapshot, folder, out, ".zip" if zipped else "")
    stem = bag.name.removesuffix(".zip")
    composed = _compose(snapshot, folder, issue=issue, progress=say)
    cleared = clear_leftovers(bag)
    with scratch_beside(bag) as scratch:
        root = scratch / stem
        digests, personal = _fill(root, scratch, composed, say)
        seal = sha512((root / "tagmanifest-sha512.txt").read_bytes()).hexdigest()
        ready = [(_packed(root, composed.settings, zipped=zipped), bag)]
        if composed.private.files:
            second = scratch / f"{stem}-private"
            _fill_private(second, composed)
            ready.append((_packed(second, composed.settings, zipped=zipped), private_bag))
        for new, target in ready:
            put_in_place(new, target, PROVENANCE)
    kept_apart = private_bag if composed.private.files else None
    return Archived(bag, kept_apart, personal, composed.findings, digests[0], seal, cleared)


def _targets(snapshot: Folder, folder: Path, out: Path, ending: str) -> tuple[Path, Path]:
    """Return the places of both bags; refuse what can be refused before any work is done."""
    settings, _ = read_settings(snapshot.content(SETTINGS_FILE) or b"")
    if settings is None:
        raise Stopped(check_snapshot(snapshot).findings)
    _refuse_wide_access(settings)
    refuse_unsafe(f"{PROJECT}{path}" for path in snapshot.files)
    stem = f"{safe_name(settings.project.id)}-r{settings.project.revision}"
    bag, private_bag = out / f"{stem}{ending}", out / f"{stem}-private{ending}"
    for target in (bag, private_bag):
        _refuse_bad_target(target, folder, zipped=bool(ending))
    return bag, private_bag


def _compose(snapshot: Folder, folder: Path, *, issue: bool, progress: Progress) -> _Composed:
    """Check the whole folder, then put together the report of its inputs without private files."""
    whole = check_snapshot(snapshot, progress)
    if whole.stopped or whole.survey is None:
        raise Stopped(whole.findings)
    opened = open_previous(whole, folder)
    previous = opened and Opened(_part(opened.folder, private=False), opened.tool)
    inputs = check_snapshot(_part(snapshot, private=False), progress)
    survey, made, findings = prepare(with_previous(inputs, previous, progress), issue=issue, progress=progress)
    private = _part(snapshot, private=True)
    return _Composed(survey, made, findings, private_words(snapshot), private, previous, issue)


def _part(snapshot: Folder, *, private: bool) -> Folder:
    files = {path: file for path, file in snapshot.files.items() if path.startswith(PRIVATE) is private}
    return Folder(files, (), () if private else snapshot.findings)


def _refuse_wide_access(settings: Settings) -> None:
    access, level = settings.archive.access, settings.publish.level
    if _WIDTH[access] > _WIDTH[level]:
        raise WrongUse(f"[archive] access ({access}) is wider than [publish] level ({level})")


def _refuse_bad_target(target: Path, folder: Path, *, zipped: bool) -> None:
    if not zipped or not target.is_file():
        refuse_bad_place(target, folder, PROVENANCE)
        return
    refuse_bad_place(target.parent / f"{target.name}.folder", folder, PROVENANCE)
    try:
        with zipfile.ZipFile(target) as pack:
            ours = any(name.endswith(f"/{PROVENANCE}") for name in pack.namelist())
    except (zipfile.BadZipFile, OSError):
        ours = False
    if not ours:
        raise WrongUse(f"{target} is not an archive of {PROGRAM}; name another place with --out")


def _fill(root: Path, scratch: Path, composed: _Composed, say: Progress) -> tuple[tuple[str, str], tuple[str, ...]]:
    """Write the main bag into ``root``; return the digests of both builds and the personal files."""
    data = root / "data"
    data.mkdir(parents=True)
    _write_inputs(root / PROJECT, "", composed.survey.folder)
    if composed.previous:
        _write_previous(root / PREVIOUS, composed.previous)
    render(composed.draft, composed.survey, data, say)
    digests = _built_twice(data, scratch / "again", composed, say)
    (data / "findings.json").write_bytes(findings_json(composed.findings))
    (data / "findings.csv").write_bytes(findings_csv(composed.findings))
    making = Making(composed.survey.folder, composed.settings, composed.survey.digest, digests, composed.issue)
    (root / PROVENANCE).write_bytes(provenance_json(making))
    (root / DEPENDENCIES).write_bytes(dependency_lock())
    say("scan", 0, 1)
    personal = private_places(root, composed.draft.bound, composed.words)
    _refuse_personal(personal, composed.settings)
    (root / "verify.html").write_bytes(check_page())
    (root / "README.txt").write_bytes(readme(_facts(composed, digests, personal)))
    labels = _labels(composed, composed.settings.archive.access)
    digest_label = Label("Output-Digest", digests[0])
    say("close", 0, 1)
    close_bag(root, [*labels, digest_label], composed.settings.project.report_date)
    return digests, personal


def _write_inputs(target: Path, leave_off: str, folder: Folder) -> None:
    for file in folder.files.values():
        path = target / file.path.removeprefix(leave_off)
        path.parent.mkdir(parents=True, exist_ok=True)
        _write(path, file)


def _write_previous(target: Path, opened: Opened) -> None:
    """Write the inputs of the previous revision, as a folder or with the tool that archived it."""
    if not opened.tool:
        _write_inputs(target, "", opened.folder)
        return
    _write_inputs(target / PROJECT, "", opened.folder)
    (target / "bag-info.txt").write_bytes(info_bytes([Label("Bag-Software-Agent", opened.tool)]))


def _write(path: Path, file: InputFile) -> None:
    path.write_bytes(file.content)


def _built_twice(data: Path, again: Path, composed: _Composed, say: Progress) -> tuple[str, str]:
    """Build once more in another process; return both digests, which are the same.

    Raises OutputFault where the second build fails or differs.
    """
    say("again", 0, 1)
    command = [sys.executable, "-m", PROGRAM, "build", str(data / "project"), "--out", str(again)]
    command += ["--previous", str(data / "previous")] if composed.settings.project.previous else []
    run = subprocess.run(  # noqa: S603 - our own program with paths of our own making
        [*command, *(["--issue"] if composed.issue else [])],
        env=os.environ | _OTHER_RUN, capture_output=True, text=True, encoding="utf-8", errors="replace",
        check=False,
    )  # fmt: skip
    if run.returncode:
        raise OutputFault(f"the second build failed: {run.stderr.strip()[-500:]}")
    first, second = fixities_below(data / "site"), fixities_below(again / "site")
    if first != second:
        names = sorted(name for name in first.keys() | second.keys() if first.get(name) != second.get(name))
        raise OutputFault(f"two builds differ in {len(names)} file(s): {', '.join(names[:_MAX_TOLD])}")
    return tree_digest(first), tree_digest(second)


def _refuse_personal(personal: tuple[str, ...], settings: Settings) -> None:
    if personal and settings.archive.access != "internal":
        more = f" and {len(personal) - _MAX_TOLD} more" if len(personal) > _MAX_TOLD else ""
        raise OutputFault(
            f"words of {PRIVATE} stand in {len(personal)} file(s) of an archive for {settings.archive.access} "
            f"access: {', '.join(personal[:_MAX_TOLD])}{more}; take them out, or keep the archive internal"
        )


def _fill_private(root: Path, composed: _Composed) -> None:
    _write_inputs(root / "data" / "private", PRIVATE, composed.private)
    archive_part = composed.settings.archive
    making = Making(composed.private, composed.settings, composed.survey.digest, (), composed.issue)
    (root / PROVENANCE).write_bytes(provenance_json(making))
    (root / "README.txt").write_bytes(private_readme(_facts(composed, ("", ""), ())))
    close_bag(root, _labels(composed, archive_part.private_access), composed.settings.project.report_date)


def _packed(root: Path, settings: Settings, *, zipped: bool) -> Path:
    if not zipped:
        return root
    target = root.with_name(f"{root.name}.zip")
    zip_bag(root, target, settings.project.report_date, root.name)
    return target


def _facts(composed: _Composed, digests: tuple[str, str], personal: tuple[str, ...]) -> dict[str, object]:
    meta, part = composed.draft.bound.meta, composed.settings.archive
    return {
        "title": meta.title,
        "site": meta.site,
        "client": meta.client or NOT_STATED,
        "prepared_by": meta.prepared_by or NOT_STATED,
        "project_id": meta.project_id,
        "revision": meta.revision,
        "status": meta.status_word,
        "report_date": meta.report_date,
        "access": part.access,
        "private_access": part.private_access,
        "retention": part.retention or NOT_STATED,
        "review_on": part.review_on or NOT_STATED,
        "tool": f"{PROGRAM} {__version__}",
        "digests": digests,
        "content_digest": composed.survey.digest,
        "private_files": len(composed.private.files),
        "personal": len(personal),
        "personal_paths": plain_paths(personal, composed.words),
        "previous": composed.previous is not None,
        "volumes": composed.draft.bound.volumes,
    }


def _labels(composed: _Composed, access: str) -> list[Label]:
    meta, part = composed.draft.bound.meta, composed.settings.archive
    return [
        Label("Source-Organization", meta.prepared_by or NOT_STATED),
        Label("External-Identifier", f"{meta.project_id}, revision {meta.revision}"),
        Label("External-Description", f"{meta.title}; {meta.site}"),
        Label("Bagging-Date", meta.report_date),
        Label("Bag-Software-Agent", f"{PROGRAM} {__version__}"),
        Label("Project", meta.project_id),
        Label("Revision", str(meta.revision)),
        Label("Report-Status", meta.status_word),
        Label("Content-Digest", meta.digest),
        Label("Retention-Class", part.retention or NOT_STATED),
        Label("Retention-Review-Date", str(part.review_on or NOT_STATED)),
        Label("Access-Level", access),
    ]


_silent: Callable[[str, int, int], None] = lambda _step, _done, _whole: None  # noqa: E731
