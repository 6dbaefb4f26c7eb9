"""Messages about what happened in the field and in the laboratory, about systems, places, looks and review."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import defects as named
from builders import (
    Change,
    cell,
    cells,
    changed,
    content,
    every,
    example,
    load,
    removed,
    row_added,
    setting,
    settings_added,
    survey_findings,
    without_rows,
)
from defects_handling import picture
from remedies import in_its_row, looked_up, rows_at, sentence_removed, signed, text_of, told_setting
from situations import field_blank
from survey_in_feet import SOUTH_DAKOTA_FT, feet
from trials import Trial, decided

from sitegen.checks.dispositions import issue_blockers
from sitegen.checks.review import signatures_missing
from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder


def made(*changes: Change) -> Callable[[], Folder]:
    return lambda: changed(*changes)


def happened(code: str, *changes: Change, name: str = "") -> Trial:
    """Return a trial of a message about what happened: the disposition that the terminal offers closes it."""
    return Trial(name or f"event-{code}", code, made(*changes), decided)


def replaced(old: str, new: str, path: str = named.SETTINGS) -> Callable[[Folder, Finding], Iterator[Change]]:
    """Write other words for those of the line that the finding names, or of the file where it names none."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        lines = text_of(folder, path).split("\n")
        rows = range(len(lines)) if finding.where.row is None or finding.where.file != path else [finding.where.row - 1]
        at = next(row for row in rows if old in lines[row])
        lines[at] = lines[at].replace(old, new)
        yield content(path, "\n".join(lines).encode())

    return remedy


def foot_told(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the foot that the message gives in place of the one that stands there."""
    match = re.search(r'(foot = "\w+")', f"{finding.expected} {finding.do}")
    assert match, finding.line()
    yield content(named.SETTINGS, re.sub(r'foot = "\w*"', match[1], text_of(folder, named.SETTINGS)).encode())


def copied_back(path: str, new: bytes) -> Callable[[Folder, Finding], Iterator[Change]]:
    return lambda _, finding: [content(finding.where.file if finding.where.file == path else path, new)]


def rule_taken_out(folder: Folder, finding: Finding) -> Iterator[Change]:
    lines = text_of(folder, finding.where.file).split("\n")
    assert finding.where.row is not None
    yield content(
        finding.where.file, "\n".join([*lines[: finding.where.row - 1], *lines[finding.where.row :]]).encode()
    )


def title_written(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write a title in the first line."""
    yield content(finding.where.file, b"# About this office\n\n" + folder.files[finding.where.file].content)


def disposition_told(_: Folder, finding: Finding) -> Iterator[Change]:
    """Add the row with the key that is expected."""
    match = re.search(r"a row in (\S+) with the key (\S+)$", finding.expected)
    assert match, finding.expected
    words = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1", "on": "2025-12-11"}
    yield row_added(match[1], finding_key=match[2], **words)


def keeping_from_issue(folder: Folder) -> tuple[Finding, ...]:
    return issue_blockers(survey_findings(folder), load(folder))


def unsigned(folder: Folder) -> tuple[Finding, ...]:
    return tuple(signatures_missing(load(folder)))


def hand_over_entered(_: Folder, finding: Finding) -> Iterator[Change]:
    """Enter the hand-over, in the minute before the next role acts."""
    assert finding.do.startswith("enter the transfer in custody.csv, or "), finding.do
    yield Change(
        named.CUSTODY,
        lambda old: old + b"E-9001,bag,RB-1,accepted,2025-11-05T16:08,America/Chicago,FS-1,,,ink,,,,,\n",
    )


def as_csv(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Save it as CSV in UTF-8 with commas."""
    assert "csv in utf-8 with commas" in finding.do.lower()
    text = folder.files[finding.where.file].content.decode("latin-1").replace(";", ",")
    yield content(finding.where.file, text.encode())


def retrieval_looked_up(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert "fill in retrieved_at" in finding.do
    row = rows_at(example(), named.DEPLOYMENTS)[(finding.where.row or 0) - 2]
    yield from in_its_row(retrieved_at=row["retrieved_at"], bag_id=row["bag_id"], condition=row["condition"])(
        folder, finding
    )


GONE = cells(named.DEPLOYMENTS, "0047103", retrieved_at="", bag_id="", condition="")
NOT_ANALYSED = tuple(
    without_rows(path, lambda row: row["lab_sample_id"] == "04417-002") for path in (named.LAB, named.RESULTS, named.QC)
)
STAYING = setting("exposure_days_max = 14", "exposure_days_max = 50")
THEME = (
    '[theme]\nlogo = "theme/logo.png"\nlogo_alt = "Invented Office"\nstylesheet = "theme/look.css"\n'
    'pages = ["theme/about.md"]'
)
CSS, PAGE = b"h1 { color: red; }\n", b"# About this office\n\nInvented people.\n"
LOGO = picture(position=False, kind="PNG")


def themed(logo: bytes = LOGO, css: bytes = CSS, page: bytes = PAGE, words: str = THEME) -> Callable[[], Folder]:
    files = {"theme/logo.png": logo, "theme/look.css": css, "theme/about.md": page}
    return made(settings_added(words), *(content(path, new) for path, new in files.items()))


def background(file: str = "records/drone.png", west: float = -99.4, content_of: bytes = LOGO) -> Callable[[], Folder]:
    line = (
        f'background = {{ file = "{file}", west = {west}, south = 43.0, east = -99.3, north = 43.1, licence = "CC0" }}'
    )
    return made(settings_added(f"[map]\n{line}"), content("records/drone.png", content_of))


EVENTS = (
    *(
        happened(code)
        for code in (
            "above-calibration", "cap-damaged", "duplicate-differs", "hole-refused", "method-blank-detection",
            "sampler-lost", "trip-blank-detection", "completeness-low", "holder-changed",
        )
    ),
    happened("water-in-sampler", cell(named.DEPLOYMENTS, "0047103", "condition", "water_inside")),
    happened("field-blank-detection", *field_blank(pce="500")),
    happened("samplers-in-place", GONE, STAYING, *NOT_ANALYSED),
    happened("custody-none", cells(named.DEPLOYMENTS, "0047103", bag_id="", retrieved_by="")),
    Trial("hand-over-entered", "holder-changed", example, hand_over_entered),
    Trial("hole-temporary", "hole-temporary", example, lambda *_: [
        every(named.DEPLOYMENTS, lambda row: {"hole_restored": "yes"} if row["hole_restored"] == "temporary" else {}),
    ]),
    Trial("retrieval-missing", "retrieval-missing", made(GONE, *NOT_ANALYSED), retrieval_looked_up),
    Trial("level-claimed", "level-claimed", made(removed(named.RATES)), sentence_removed),
    Trial("map-in-feet", "crs-not-metric", made(*feet("us_survey", SOUTH_DAKOTA_FT)), told_setting),
    Trial("no-foot", "foot-undeclared", made(*feet("")), foot_told),
    Trial("other-foot", "foot-disagrees", made(*feet("international")), foot_told),
    Trial("no-background", "background-missing", background("records/other.png"),
          replaced("records/other.png", "records/drone.png")),
    Trial("background-no-picture", "background-missing", background(content_of=b"<svg/>"),
          copied_back("records/drone.png", LOGO)),
    Trial("background-edges", "background-edges", background(west=-99.2), replaced("west = -99.2", "west = -99.4")),
    Trial("logo-no-picture", "theme-logo", themed(logo=b"<svg/>"), copied_back("theme/logo.png", LOGO)),
    Trial("logo-without-words", "theme-logo", themed(words=THEME.replace("Invented Office", " ")),
          replaced('logo_alt = " "', 'logo_alt = "Invented Office"')),
    Trial("style-that-loads", "theme-style", themed(css=CSS + b".bar { background: url(a.png) }\n"), rule_taken_out),
    Trial("page-without-title", "theme-page", themed(page=b"No title.\n"), title_written),
    Trial("flag-undecided", "flag-undecided", example, disposition_told, keeping_from_issue),
    Trial("people-unread", "private-unreadable", made(content("private/contacts.csv", b"role;name\nkeeper;\xe9\n")),
          as_csv),
    Trial("id-as-date", "id-reads-as-date", made(cell(named.BAGS, "RB-1", "bag_id", "2-Mar")), looked_up),
    Trial("id-as-number", "id-reads-as-number", made(cell(named.COMMENTS, "C-3", "comment_id", "12E5")), looked_up),
    Trial("text-long", "text-too-long", made(content("text/setting.md", b"# Setting\n\n" + b"x" * 3_000_000)),
          lambda *_: [content("text/setting.md", example().files["text/setting.md"].content)]),
    Trial("nobody-signed", "signature-missing", example, signed, unsigned),
)  # fmt: skip
