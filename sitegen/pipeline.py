"""From a project folder to a report: load, check, compute, check results, draft, assemble, render.

Print is put together first and set in a thread while the pages are, for Typst takes longest and
leaves the interpreter free. What it carries is known only later, so data files are attached at the
end (:mod:`sitegen.render.print.finish`).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import copy_context
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sitegen.checking import TOOL, Checked, Progress, check, silent
from sitegen.checks.dispositions import issue_blockers
from sitegen.checks.naming import row_names
from sitegen.checks.privacy import private_words
from sitegen.checks.review import signatures_missing
from sitegen.compute.evaluate import evaluate
from sitegen.compute.rounds.split import Part
from sitegen.findings.problems import Finding, OutputFault, Stopped
from sitegen.plugins import Plugin, plugins
from sitegen.project.earlier import earlier_folders, mounted
from sitegen.project.load import load_folder
from sitegen.project.places import in_order
from sitegen.project.read.pictures import picture_kind
from sitegen.project.survey import Survey
from sitegen.project.theme import LOGO
from sitegen.project.voices import voice_of
from sitegen.project.zones import ZONE_DATA_VERSION
from sitegen.render.data.downloads import PRINTED, attachments, download_files, tell_size, with_sizes
from sitegen.render.place.fixity import fixities_below, tree_digest
from sitegen.render.place.swap import MARK, clear_leftovers, refuse_bad_place, swap_in
from sitegen.render.print.finish import finish
from sitegen.render.print.lone import set_maps
from sitegen.render.print.pdf import print_sources, typeset
from sitegen.render.proof.readback import require_same_data, require_same_maps, require_same_print
from sitegen.render.proof.scan import leaks
from sitegen.render.site.linkcheck import check_links
from sitegen.render.site.paths import page_url, scan_file
from sitegen.render.site.pictures import without_metadata
from sitegen.render.volumes import set_volumes, volume_sources, with_hashes
from sitegen.report.assemble import Draft, assemble, draft
from sitegen.report.record.lone import MAPS
from sitegen.report.record.pages import Ref, Report
from sitegen.report.write.publish import allowed_classes, guarded_texts, publishable
from sitegen.voice import speaking

_ON_SIGNATURES = ("signoff-missing", "signoff-stale")
"""Findings on signatures that an issue tells role by role."""


PICTURES = ("photos/", LOGO)
"""Where the folder's pictures stand on the site."""


@dataclass(frozen=True, slots=True)
class Built:
    """A finished build: where it lies, of what, what was found, and what of an interrupted run was removed."""

    out: Path
    start_page: Path
    pdf: Path
    report: Report
    survey: Survey
    findings: tuple[Finding, ...]
    cleared: tuple[str, ...] = ()


def build(
    folder: Path,
    out: Path,
    *,
    issue: bool = False,
    previous: Path | None = None,
    progress: Progress | None = None,
) -> Built:
    """Build the report of a project folder into ``out``.

    ``previous`` says where the previous revision lies, if not where the settings say.

    Raises Stopped where findings stop it (with ``issue``: where any finding holds it),
    WrongUse for a bad place or plug-in, OutputFault where writing fails. In each case the folder and
    the last good output stay as they were.
    """
    plugins()  # one that can't be loaded is told before anything is read
    refuse_bad_place(out, folder)
    survey, made, findings = prepare(check(folder, progress, previous), issue=issue, progress=progress)
    cleared = clear_leftovers(out)
    with swap_in(out) as aside:
        report = render(made, survey, aside, progress or silent)
    pdf = out / "site" / PRINTED
    return Built(out, out / "site/index.html", pdf, report, survey, findings, cleared)


def prepare(
    checked: Checked, *, issue: bool = False, progress: Progress | None = None
) -> tuple[Survey, Draft, tuple[Finding, ...]]:
    """Return the survey, its report as far as it is printed, and the findings, all in memory.

    Raises Stopped where findings stop it (with ``issue``: where any finding holds it).
    """
    survey, evaluation = checked.survey, checked.evaluation
    if survey is None or evaluation is None or checked.stopped:
        raise Stopped(checked.findings, names=row_names(survey, checked.findings))
    with speaking(voice_of(survey.folder)):
        if issue:
            _require_issuable(survey, checked.findings)
        (progress or silent)("draft", 0, 1)
        shown = tuple(_published(part) for part in checked.parts)
        made = draft(
            publishable(survey),
            shown[-1].evaluation,
            checked.findings,
            issue=issue,
            difference=checked.difference,
            rounds=shown,
        )
    return survey, made, checked.findings


def _published(part: Part) -> Part:
    """Return a round as far as the output may show it."""
    shown = publishable(part.survey)
    return part if shown is part.survey else Part(part.campaign, shown, evaluate(shown, whole=part.evaluation))


def compose(checked: Checked, *, issue: bool = False) -> tuple[Survey, Report, tuple[Finding, ...]]:
    """Return the survey, its whole report and the findings, all in memory; raises what `prepare` raises."""
    survey, made, findings = prepare(checked, issue=issue)
    with speaking(voice_of(survey.folder)):
        return survey, assemble(made), findings


def render(made: Draft, survey: Survey, out: Path, say: Progress) -> Report:
    """Put the whole report together, write every file of it below the empty folder ``out``, and return it."""
    with speaking(voice_of(survey.folder)):
        return _rendered(made, survey, out, say)


def _rendered(made: Draft, survey: Survey, out: Path, say: Progress) -> Report:
    pictures = {name: picture(survey, file) for name, file in pictured(made).items()} | scanned(made, survey)
    site = out / "site"
    site.mkdir()
    # Typesetting leaves the interpreter free, so the rest is put together, written and checked
    # beside it, and what only the pages need (mkdocs, folium) is loaded then.
    with _one_aside() as aside:
        volumes = aside.submit(copy_context().run, set_volumes, made.bound)
        sources = print_sources(made.bound, pictures)
        printed = aside.submit(copy_context().run, typeset, sources)
        say("assemble", 0, 1)
        report = with_hashes(assemble(made), volumes.result())
        say("data", 0, 1)
        data = download_files(report)
        attached = attachments(data)
        whole = aside.submit(copy_context().run, lambda: finish(printed.result(), attached, sources.day))
        maps = aside.submit(copy_context().run, set_maps, report)
        report = with_sizes(report, data | volumes.result())
        _write_pages(report, survey, site, pictures | data | volumes.result(), say)
        say("print", 0, 1)
        (site / PRINTED).write_bytes(whole.result())
        tell_size(site, PRINTED)
        for name, content in maps.result().items():
            (site / name).write_bytes(content)
    require_same_print(site / PRINTED, sources, attached)
    if report.atlas.maps:
        require_same_maps(site / MAPS, report.atlas)
    for volume in report.volumes:
        require_same_print(site / volume.file, volume_sources(report, volume), {})
    _require_nothing_private(survey, report, site, say)
    (out / MARK).write_bytes(_record(report, site))
    return report


def pictured(made: Draft) -> dict[str, str]:
    """Return each picture's file in the folder by its path on the site: photographs and the project's logo."""
    look = made.bound.meta.look
    return {**made.photos, **({look.logo_at: look.logo} if look.logo else {})}


def scanned(made: Draft, survey: Survey) -> dict[str, bytes]:
    """Return the scans that the report shows, by their path on the site; those that are pictures as any other."""
    return {scan_file(name): _scan(survey, name) for name in made.scans}


def _scan(survey: Survey, file: str) -> bytes:
    content = survey.folder.files[file].content
    return picture(survey, file) if picture_kind(content) else content


@contextmanager
def _one_aside() -> Iterator[Executor]:
    """Give a thread for work beside this one's; after a fault, what it has not begun is dropped.

    A task needs a copy of the context, for the voice is part of it.
    """
    with ThreadPoolExecutor(max_workers=1) as executor:
        try:
            yield executor
        except BaseException:
            executor.shutdown(wait=False, cancel_futures=True)
            raise


def _write_pages(report: Report, survey: Survey, site: Path, files: Mapping[str, bytes], say: Progress) -> None:
    """Write the pages and ``files``, and read them again; the PDF is still to come."""
    from sitegen.render.site.site import write_site

    say("map", 0, 1)
    files = {**files, **own_map_files(report, survey), **own_stylesheet(report, survey), PRINTED: b""}
    files |= {MAPS: b""} if report.atlas.maps else {}
    write_site(report, site, files, lambda done, whole: say("pages", done, whole))
    say("links", 0, 1)
    _require_sound_links(site)
    say("readback", 0, 1)
    require_same_data(site, report)


def own_map_files(report: Report, survey: Survey) -> dict[str, bytes]:
    """Return the files of the web map by their path on the site."""
    from sitegen.render.map.webmap import map_files

    under = picture(survey, report.map.background.file) if report.map.background else b""
    return map_files(report.map, report.meta, lambda name: f"../{page_url(Ref('location', name))}", under)


def own_stylesheet(report: Report, survey: Survey) -> dict[str, bytes]:
    """Return the project's own stylesheet by its path on the site; nothing where it has none."""
    from sitegen.render.site.html import STYLESHEET

    own = report.meta.look.stylesheet
    return {STYLESHEET: survey.folder.files[own].content} if own else {}


def picture(survey: Survey, file: str) -> bytes:
    """Return a picture of the folder, without what the camera wrote where that may not be shown."""
    content = survey.folder.files[file].content
    keeps = "photo_metadata" in allowed_classes(survey.settings.publish)
    return content if keeps else without_metadata(file, content)


def _guarded(survey: Survey) -> Iterator[str]:
    """Yield the texts that no file of the output may hold, those of earlier surveys beside the folder included."""
    yield from guarded_texts(survey)
    for _, mount, folder in earlier_folders(survey):
        there, _ = load_folder(folder)
        if there is not None:
            yield from guarded_texts(mounted(there, mount, survey))


def _require_nothing_private(survey: Survey, report: Report, site: Path, say: Progress) -> None:
    """Raise OutputFault where a file that leaves the house holds what must stay inside."""
    if survey.settings.publish.level == "internal":
        return
    say("scan", 0, 1)
    found = leaks(site, report, (*private_words(survey.folder), *_guarded(survey)), pictures=PICTURES)
    if found:
        raise OutputFault(f"{len(found)} private text(s) in the output: {'; '.join(found[:5])}")


def _require_sound_links(site: Path) -> None:
    broken = check_links(site)
    if broken:
        raise OutputFault(f"{len(broken)} link(s) lead nowhere: {'; '.join(broken[:5])}")


def _require_issuable(survey: Survey, findings: tuple[Finding, ...]) -> None:
    """Raise Stopped where findings hold the issue, or a role that must sign has not signed this content."""
    missing = tuple(signatures_missing(survey))
    told = {subject for finding in missing for subject in (finding.subject, finding.subject.partition("+")[0])}
    others = (f for f in issue_blockers(findings, survey) if f.code not in _ON_SIGNATURES or f.subject not in told)
    blockers = in_order((*others, *missing))
    if blockers:
        reason = f"{len(blockers)} finding(s) keep the report from being issued"
        raise Stopped(blockers, reason, row_names(survey, blockers))


def _record(report: Report, site: Path) -> bytes:
    """Return the build record: what was built, from what, by what, and the digest of what came out."""
    written = fixities_below(site)
    record: Mapping[str, Any] = {
        "project": report.meta.project_id,
        "revision": report.meta.revision,
        "status": report.meta.status_word,
        "content_digest": report.meta.digest,
        "tool": TOOL,
        "time_zone_data": ZONE_DATA_VERSION,
        "pages": len(report.pages),
        "files": len(written),
        "bytes": sum(fixity.size for fixity in written.values()),
        "output_digest": tree_digest(written),
    }
    if extended := plugins():
        record = {**record, "plugins": [_plugin_record(plugin) for plugin in extended]}
    return (json.dumps(record, indent=1) + "\n").encode()


def _plugin_record(plugin: Plugin) -> dict[str, str]:
    return {"group": plugin.group, "name": plugin.name, "package": plugin.package, "version": plugin.version}
