"""Followed to the letter, a message works: what it tells to do is done, and its finding is gone.

``REMEDIES`` has, for a code, what a person does who follows its ``do``, with no more knowledge than the
message and the papers behind the record, which is the unchanged example: a time "looked up in the field
sheet" is the example's, in the cell that the finding names. ``CASES`` has the defects that
ask for something else. ``DECIDED`` are codes of events that no file
can undo: their finding stays, and the row of dispositions that the terminal offers closes it.
``NOT_YET`` names codes that nobody has tried, with the reason, ``WITHOUT_DEFECT`` those that wait for a defect
that gives them: to try one, add it to ``MORE`` and its remedy to ``REMEDIES``.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import defects as named
from builders import (
    KEYS,
    Change,
    cell,
    cell_at,
    cells,
    changed,
    content,
    every,
    example,
    key_of,
    load,
    new_findings,
    removed,
    row_added,
    rows_of,
    settings_added,
    survey_findings,
    table,
)
from defects import Defect, one
from longcases import mostly_long
from situations import LOST, field_blank
from test_defects import DEFECTS

from sitegen.checks.catalogue import Check, catalogue
from sitegen.checks.dispositions import dispositions, open_findings
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLES

Remedy = Callable[[Folder, Finding], Iterable[Change]]


# --- what a message tells to do, in general --------------------------------------------------


def rows_at(folder: Folder, path: str) -> list[dict[str, str]]:
    return rows_of(folder.files[path].content)[1]


def looked_up(_: Folder, finding: Finding) -> Iterator[Change]:
    """Write what the papers say into the cell that the finding names."""
    where = finding.where
    assert where.row is not None
    assert where.column is not None
    value = rows_at(example(), where.file)[where.row - 2].get(where.column, "")
    yield cell_at(where.file, where.row, where.column, value)


def line_corrected(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the line that the finding names as the papers have it."""
    path, row = finding.where.file, finding.where.row
    assert row is not None
    lines = folder.files[path].content.decode().split("\n")
    lines[row - 1] = example().files[path].content.decode().split("\n")[row - 1]
    yield content(path, "\n".join(lines).encode())


def told(pattern: str, part: str = "do") -> Remedy:
    """Write the value that the message itself gives into the cell that the finding names."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        match = re.search(pattern, getattr(finding, part))
        assert match, f"{finding.do!r} gives no value"
        assert finding.where.row is not None
        assert finding.where.column is not None
        yield cell_at(finding.where.file, finding.where.row, finding.where.column, match[1])

    return remedy


def written(value: str) -> Remedy:
    """Write a value into the cell that the finding names; "" clears it."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        assert finding.where.row is not None
        assert finding.where.column is not None
        yield cell_at(finding.where.file, finding.where.row, finding.where.column, value)

    return remedy


def in_its_row(**values: str) -> Remedy:
    """Write values into the row that the finding names."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        assert finding.where.row is not None
        for column, value in values.items():
            yield cell_at(finding.where.file, finding.where.row, column, value)

    return remedy


def row_removed(_: Folder, finding: Finding) -> Iterator[Change]:
    row = finding.where.row
    assert row is not None
    yield table(finding.where.file, lambda rows: [*rows[: row - 2], *rows[row - 1 :]])


def file_added(_: Folder, finding: Finding) -> Iterator[Change]:
    """Put the file there that the finding names."""
    yield content(finding.where.file, example().files[finding.where.file].content)


def moved_to_records(folder: Folder, finding: Finding) -> Iterator[Change]:
    path = finding.where.file
    yield removed(path)
    yield content(f"records/{Path(path).name}", folder.files[path].content)


def setting_written(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the setting that the finding names into its part of project.toml, as the papers have it."""
    part, _, key = (finding.where.column or "").rpartition(".")
    (line,) = [line for line in text_of(example(), named.SETTINGS).split("\n") if line.startswith(f"{key} =")]
    now = text_of(folder, named.SETTINGS)
    yield content(named.SETTINGS, now.replace(f"[{part}]\n", f"[{part}]\n{line}\n", 1).encode())


def line_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    row = finding.where.row
    assert row is not None
    lines = text_of(folder, finding.where.file).split("\n")
    yield content(finding.where.file, "\n".join([*lines[: row - 1], *lines[row:]]).encode())


def text_of(folder: Folder, path: str) -> str:
    return folder.files[path].content.decode()


def as_recorded(path: str, key: str, *columns: str) -> Remedy:
    """Write what the papers say into named cells of the row with a key."""

    def remedy(_: Folder, __: Finding) -> Iterator[Change]:
        (row,) = [row for row in rows_at(example(), path) if key_of(path, row) == key]
        yield cells(path, key, **{column: row[column] for column in columns})

    return remedy


def row_looked_up(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write what the papers say into every cell of the row that the finding names."""
    row = rows_at(example(), finding.where.file)[(finding.where.row or 0) - 2]
    yield from in_its_row(**row)(folder, finding)


def of_its_subject(path: str, column: str, value: str) -> Remedy:
    """Write a value into the row of a table that has the finding's subject as its key."""
    return lambda _, finding: [cell(path, finding.subject.partition("+")[0], column, value)]


def words_replaced(words: str) -> Remedy:
    """Write other words for those that the finding quotes."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        row = finding.where.row
        assert row is not None
        quoted = finding.found.split("'")[1]
        lines = text_of(folder, finding.where.file).split("\n")
        near = "\n".join(lines[row - 1 :])
        pattern = r"\s+".join(map(re.escape, quoted.split()))
        assert re.search(pattern, near), f"{quoted!r} does not stand at {finding.where}"
        lines[row - 1 :] = re.sub(pattern, lambda _: words, near, count=1).split("\n")
        yield content(finding.where.file, "\n".join(lines).encode())

    return remedy


def sentence_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Take the paragraph out in which the finding stands."""
    row = finding.where.row
    assert row is not None
    lines = text_of(folder, finding.where.file).split("\n")
    end = next((at for at in range(row - 1, len(lines)) if not lines[at]), len(lines))
    yield content(finding.where.file, "\n".join([*lines[: row - 1], *lines[end:]]).encode())


def sentence_added(section: str, words: str) -> Remedy:
    path = f"text/{section}.md"
    return lambda folder, _: [content(path, f"{text_of(folder, path)}\n{words}\n".encode())]


def compound_concluded(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Add a sentence with the compound and the point that the finding names."""
    match = re.search(r"names (.+) together with (\S+)", finding.found)
    assert match, finding.found
    yield from sentence_added("conclusions", f"{match[1]} at {match[2]} lies above its level.")(folder, finding)


# --- what single messages tell ----------------------------------------------------------------


def header_row(words: bytes) -> Remedy:
    return lambda _, finding: [content(finding.where.file, words)]


def saved_as_utf8(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield content(finding.where.file, folder.files[finding.where.file].content.decode("latin-1").encode())


def column_renamed(folder: Folder, finding: Finding) -> Iterator[Change]:
    match = re.search(r"rename it to (\w+)", finding.do)
    assert match, finding.do
    path = finding.where.file
    yield content(path, text_of(folder, path).replace(finding.where.column or "", match[1], 1).encode())


def copied_into_the_folder(_: Folder, finding: Finding) -> Iterator[Change]:
    inside = "records/" + finding.found.rpartition("/")[2]
    yield content(inside, b"a scan")
    yield from written(inside)(example(), finding)


def moved_and_its_path_written(folder: Folder, finding: Finding) -> Iterator[Change]:
    inside = "records/" + finding.found.rpartition("/")[2]
    yield removed(finding.found)
    yield content(inside, folder.files[finding.found].content)
    yield from written(inside)(folder, finding)


def point_zeros_dropped(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield from written(finding.found.strip("'").replace(",", ""))(folder, finding)


def columns_swapped(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Put easting and northing the other way round: in the row named, or everywhere."""
    swap = lambda row: {"easting": row["northing"], "northing": row["easting"]}  # noqa: E731
    planned = lambda row: {"plan_easting": row["plan_northing"], "plan_northing": row["plan_easting"]}  # noqa: E731
    if finding.subject == "all":
        yield every(named.LOCATIONS, lambda row: swap(row) | planned(row))
    else:
        row = rows_at(folder, named.LOCATIONS)[(finding.where.row or 0) - 2]
        yield cells(named.LOCATIONS, finding.subject, **swap(row))


def last_feature_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    data = json.loads(folder.files[finding.where.file].content)
    yield content(finding.where.file, json.dumps(data | {"features": data["features"][:-1]}).encode())


def setting_told(pattern: str) -> Remedy:
    """Write the value that the message gives in place of the one that the setting has."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        match = re.search(pattern, finding.do)
        assert match, finding.do
        lines = text_of(folder, named.SETTINGS).split("\n")
        row = finding.where.row
        assert row is not None
        key = lines[row - 1].partition(" =")[0]
        lines[row - 1] = f'{key} = "{match[1]}"'
        yield content(named.SETTINGS, "\n".join(lines).encode())

    return remedy


def class_names_corrected(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the class that the message gives, and no word for what is no class."""
    match = re.search(r"write (\w+)", finding.do)
    assert match, finding.do
    now = text_of(folder, named.SETTINGS)
    yield content(named.SETTINGS, now.replace('["field comments", "cost figures"]', f'["{match[1]}"]').encode())


def deviation_added(_: Folder, finding: Finding) -> Iterator[Change]:
    """Add the row that the message describes: it names its file, its columns and, in what is expected, the point."""
    match = re.search(r"that names (\S+)", finding.expected)
    assert match, finding.expected
    assert "deviations.csv" in finding.do
    assert "affected_ids" in finding.do
    yield row_added(
        named.DEVIATIONS, deviation_id="DV-99", date="2025-11-06", plan_ref="plan 4", what="as noted", why="as noted",
        effect="may be low", affected_ids=match[1], agreed_by_role="PM-1", agreed_on="2025-11-07",
    )  # fmt: skip


def ticket_named(folder: Folder, finding: Finding) -> Iterator[Change]:
    ticket = rows_at(folder, named.CLEARANCE)[0]
    yield cell(named.CLEARANCE, ticket["ticket"], "location_ids", f"{ticket['location_ids']};{finding.subject}")


def signed(folder: Folder, _: Finding) -> Iterator[Change]:
    digest = load(folder).digest
    for role in ("PM-1", "LR-1"):
        yield row_added(
            named.SIGNOFF,
            revision="1",
            role=role,
            statement="read",
            signed_at="2025-12-12T10:00",
            content_digest=digest,
        )


def signed_again(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield from in_its_row(content_digest=load(folder).digest, signed_at="2025-12-12T10:00")(folder, finding)


def reason_added(_: Folder, finding: Finding) -> Iterator[Change]:
    assert "review/changes.csv" in finding.do
    yield row_added("review/changes.csv", revision="2", key="results:*", reason="mended")


def rows_added_again(path: str, *columns: str) -> Remedy:
    """Add the rows that the laboratory or the station sent: those of the papers that the table lacks."""

    def remedy(folder: Folder, _: Finding) -> Iterator[Change]:
        there = {tuple(row[name] for name in columns or KEYS[path]) for row in rows_at(folder, path)}
        lost = [r for r in rows_at(example(), path) if tuple(r[name] for name in columns or KEYS[path]) not in there]
        assert lost
        yield table(path, lambda rows: [*rows, *lost])

    return remedy


def weather_in_order(folder: Folder, finding: Finding) -> Iterator[Change]:
    yield from rows_added_again(named.WEATHER)(folder, finding)
    yield table(named.WEATHER, lambda rows: sorted(rows, key=lambda row: row["at"]))


def disposition_filled_in(_: Folder, finding: Finding) -> Iterator[Change]:
    yield from in_its_row(disposition="accepted", reason="looked into", by_role="LR-1")(example(), finding)


def replaced_in_text(old: str, new: str) -> Remedy:
    """Write plain words for words that the finding describes without quoting them."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        now = text_of(folder, finding.where.file)
        assert old in now.split("\n")[(finding.where.row or 0) - 1]
        yield content(finding.where.file, now.replace(old, new).encode())

    return remedy


MORE: tuple[Defect, ...] = (
    one("id-turned-number", "stop", named.SAMPLERS, 61, cell(named.SAMPLERS, "0047160", "sampler_id", "4.716E+04")),
    one("id-characters", "note", named.LOCATIONS, 25, cell(named.LOCATIONS, "SG-24", "location_id", "SG\u201324")),
    one("cas-turned-date", "stop", named.ANALYTES, 2, cell(named.ANALYTES, "pce", "cas", "2018-04-27")),
    one("cell-too-long", "stop", named.COMMENTS, 4, cell(named.COMMENTS, "C-3", "text", "words " * 4_000)),
    one("point-nowhere", "stop", named.LOCATIONS, 25, cell(named.LOCATIONS, "SG-24", "easting", "47007399")),
    one("table-empty", "hold", named.CUSTODY, None, table(named.CUSTODY, lambda _: [])),
    one("table-without-rows", "flag", named.WEATHER, None, table(named.WEATHER, lambda _: [])),
    one("theme-missing", "stop", named.SETTINGS, None, settings_added('[theme]\nstylesheet = "theme/own.css"')),
)
"""Slips that are no defects with findings of their own alone, and whose messages are followed all the same."""


def theme_taken_out(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert "take it out of [theme]" in finding.do
    yield content(named.SETTINGS, text_of(folder, named.SETTINGS).partition("[theme]")[0].encode())


REMEDIES: dict[str, Remedy] = {
    "id-turned-number": looked_up,
    "id-characters": looked_up,
    "cas-turned-date": looked_up,
    "cell-too-long": written("words"),
    "point-nowhere": looked_up,
    "table-empty": file_added,
    "table-without-rows": file_added,
    "theme-missing": theme_taken_out,
    # files
    "file-missing": file_added,
    "file-absent": file_added,
    "file-unknown": moved_to_records,
    "lab-table-unread": moved_to_records,
    "settings-unreadable": line_corrected,
    "setting-missing": setting_written,
    "setting-invalid": line_corrected,
    "setting-unknown": line_removed,
    "csv-unreadable": line_corrected,
    "delimiter-wrong": header_row(b"revision,key,reason\n"),
    "row-length": line_corrected,
    "header-twice": header_row(b"revision,key,reason\n"),
    "header-blank": header_row(b"revision,key,reason\n"),
    "encoding-wrong": saved_as_utf8,
    "column-missing": header_row(b"revision,statement,role\n"),
    "column-unknown": column_renamed,
    "cell-blank": looked_up,
    "number-unreadable": point_zeros_dropped,
    "date-unreadable": looked_up,
    "word-unknown": looked_up,
    "scan-missing": looked_up,
    "path-unsafe": copied_into_the_folder,
    "path-private": moved_and_its_path_written,
    "photo-missing": row_removed,
    "photo-unlisted": moved_to_records,
    "photo-too-large": file_added,
    "photo-unreadable": file_added,
    "photo-without-words": written("A hole beside a wall."),
    # identity
    "duplicate-key": row_removed,
    "unknown-id": told(r"look it up: (\S+) differs"),
    "cas-unreadable": looked_up,
    "cas-dashes": told(r"write (\S+):"),
    "cas-check-digit": looked_up,
    "cas-twice": looked_up,
    "cas-of-another": told(r"(\S+) for", "expected"),
    "molar-mass-off": told(r"(\S+) g/mol", "expected"),
    "ids-alike": row_removed,
    "label-twice": looked_up,
    "trip-blank-placed": of_its_subject(named.SAMPLERS, "kind", "sample"),
    "spare-placed": of_its_subject(named.SAMPLERS, "kind", "sample"),
    "duplicate-of-duplicate": looked_up,
    "duplicate-elsewhere": looked_up,
    "duplicate-half-said": of_its_subject(named.SAMPLERS, "kind", "field_duplicate"),
    "outcome-disagrees": of_its_subject(named.SAMPLERS, "outcome", "lost"),
    "lost-and-retrieved": of_its_subject(named.DEPLOYMENTS, "retrieved_at", ""),
    "result-for-lost": looked_up,
    "result-for-buried": as_recorded(named.DEPLOYMENTS, "0047103", "retrieved_at"),
    "result-for-unplaced": looked_up,
    "type-disagrees": told("^(.+), as samplers.csv has it", "expected"),
    "sample-without-sampler": looked_up,
    "sampler-unaccounted": written("returned_unused"),
    "placed-without-sampler": written("not_done"),
    "placed-though-not-done": told("the status (.+)", "expected"),
    "custody-subject-unknown": looked_up,
    "second-primary": as_recorded(named.DEPLOYMENTS, "0047103", "location_id"),
    "replacement-invalid": written(LOST),
    "field-blank-role": written(""),
    "field-blank-unplaced": lambda *_: [change for change in field_blank() if change.path == named.DEPLOYMENTS],
    "sampler-in-no-bag": written("RB-1"),
    # place
    "crs-unknown": line_corrected,
    "crs-not-projected": line_corrected,
    "points-outside-all": setting_told(r"crs should be (\S+)"),
    "axes-swapped": columns_swapped,
    "point-outside": in_its_row(off_site="yes"),
    "coordinates-disagree": in_its_row(longitude="", latitude=""),
    "longitude-sign": told(r"write (\S+) if"),
    "coordinates-missing": as_recorded(named.LOCATIONS, "SG-08", "easting", "northing"),
    "position-not-surveyed": as_recorded(named.LOCATIONS, "SG-08", "easting", "northing"),
    "position-inaccurate": looked_up,
    "plan-count-differs": line_corrected,
    "points-too-close": as_recorded(named.LOCATIONS, "SG-52", "easting", "northing"),
    "move-disagrees": looked_up,
    "surface-disagrees": looked_up,
    "building-unknown": told(r"write (\S+)"),
    "feature-doubtful": last_feature_removed,
    "feature-unusable": last_feature_removed,
    # time
    "time-unreadable": looked_up,
    "time-does-not-exist": looked_up,
    "time-occurs-twice": written("2024-11-03T01:30-05:00"),
    "offset-disagrees": looked_up,
    "zone-unknown": looked_up,
    "retrieved-before-placed": looked_up,
    "shipped-before-prepared": looked_up,
    "placed-before-received": as_recorded(named.SHIPMENTS, "SH-O1", "received_at"),
    "sealed-before-retrieved": looked_up,
    "packed-before-sealed": as_recorded(named.SHIPMENTS, "SH-R1", "packed_at"),
    "received-before-packed": looked_up,
    "analysed-before-received": looked_up,
    "laboratory-before-retrieval": looked_up,
    "clearance-reversed": in_its_row(valid_to="2025-11-02T08:00"),
    "later-than-report": looked_up,
    "time-at-night": told(r"write (\S+) if"),
    # field
    "depth-disagrees": in_its_row(depth_m=""),
    "depth-units-mixed": in_its_row(depth_m="", depth_ft="3.05"),
    "depth-missing": looked_up,
    "condition-missing": looked_up,
    "deviation-unrecorded": deviation_added,
    "deviation-incomplete": written("no result at the corner"),
    "clearance-not-valid": looked_up,
    "clearance-missing": ticket_named,
    "photo-time-off": looked_up,
    # custody
    "custody-overlap": as_recorded(named.CUSTODY, "E-0026", "at"),
    "custody-disagrees": looked_up,
    "seal-missing": looked_up,
    "seal-not-read": rows_added_again(named.CUSTODY),
    "seal-twice": looked_up,
    "sampler-in-two-bags": looked_up,
    "bag-count-differs": told(r"^(\d+)", "expected"),
    "shipment-count-differs": told(r"^(\d+)", "expected"),
    "shipment-not-received": looked_up,
    "shipment-short": looked_up,
    "shipment-direction": looked_up,
    "trip-blank-kind": looked_up,
    "trip-blank-missing": looked_up,
    "trip-blank-twice": looked_up,
    "form-not-scanned": looked_up,
    # laboratory
    "value-missing": looked_up,
    "value-for-nondetect": written(""),
    "limit-missing": looked_up,
    "detection-without-limit": looked_up,
    "mdl-above-rl": looked_up,
    "text-disagrees": as_recorded(named.RESULTS, "04417-002+pce", "result_text", "value", "detected", "rl"),
    "number-impossible": as_recorded(named.RESULTS, "04417-002+pce", "value", "result_text"),
    "soil-result-per-volume": looked_up,
    "unit-missing": looked_up,
    "units-mixed": looked_up,
    "mass-units-mixed": looked_up,
    "qualifier-unknown": written("J"),
    "validation-unexplained": written("Low recovery."),
    "j-missing": in_its_row(validation_qualifier="J", validation_reason="between the limits"),
    "e-missing": looked_up,
    "e-without-cause": looked_up,
    "compound-missing": rows_added_again(named.RESULTS),
    "results-missing": rows_added_again(named.RESULTS),
    "run-twice-reportable": written("no"),
    "run-none-reportable": as_recorded(named.LAB, "04417-019", "reportable"),
    "batch-missing": looked_up,
    "surrogate-missing": rows_added_again(named.QC, "lab_sample_id", "qc_type", "name"),
    "accreditation-not-valid": line_corrected,
    "method-not-listed": looked_up,
    "unit-slip": as_recorded(named.RESULTS, "04417-030+benzene", "value", "result_text"),
    "value-outlier": row_looked_up,
    # screening and weather
    "level-undated": looked_up,
    "level-old": looked_up,
    "attenuation-unsourced": looked_up,
    "rate-incomplete": looked_up,
    "exceedance-not-concluded": compound_concluded,
    "weather-short": weather_in_order,
    "weather-gap": weather_in_order,
    "weather-implausible": looked_up,
    "pressure-kinds-mixed": looked_up,
    "weather-far": looked_up,
    # narrative and review
    "section-missing": file_added,
    "token-unknown": lambda folder, finding: words_replaced(finding.do.removeprefix("write "))(folder, finding),
    "number-typed": words_replaced("of the usual depth"),
    "over-claim": words_replaced("has no detection above the reporting limits at its points"),
    "template-text": words_replaced("The pit was dry."),
    "settings-template-text": line_corrected,
    "point-unknown-in-text": lambda folder, finding: words_replaced(finding.do.split()[1].strip(","))(folder, finding),
    "claim-differs": sentence_removed,
    "objective-not-concluded": sentence_added("conclusions", "There is no estimate of moisture: none was measured."),
    "comment-must-fix": in_its_row(response="It is mended.", responded_by="PM-1", state="accepted"),
    "comment-open": in_its_row(response="It is so.", responded_by="PM-1", state="answered"),
    "comment-without-answer": looked_up,
    "comment-target-unknown": told(r"write (\S+)"),
    "reviewer-is-author": looked_up,
    "signoff-missing": signed,
    "signoff-stale": signed_again,
    "signer-did-field-work": in_its_row(role="LR-1"),
    "revision-unexplained": lambda *_: [
        row_added("review/changes.csv", revision="2", key="results:*", reason="mended")
    ],
    "disposition-unmatched": row_removed,
    "disposition-incomplete": disposition_filled_in,
    # output
    "character-not-printable": lambda folder, finding: (
        replaced_in_text("\u6c34", "water")(folder, finding)
        if finding.where.column is None
        else written("Bag was wet.")(folder, finding)
    ),
    "personal-data": written("Ask the gate keeper."),
    "withhold-misspelt": class_names_corrected,
    "public-label": written("P-08"),
}
"""What a person does who follows the message of a code."""

CASES: dict[str, Remedy] = {
    "shipped-before-all-prepared": looked_up,
    "replaced-before-the-lost-ones-last-record": in_its_row(placed_at="2025-10-28T09:05"),
    "replaced-neither-retrieved-nor-lost": lambda *_: [
        cell(named.DEPLOYMENTS, LOST, "condition", "not_recovered"),
        cell(named.SAMPLERS, LOST, "outcome", "lost"),
    ],
    "point-moved/move-disagrees": as_recorded(named.LOCATIONS, "SG-08", "northing"),
    "rate-zero": looked_up,
    "text-of-another-limit": looked_up,
    "text-of-a-detection": looked_up,
    "token-open": words_replaced("Of {{ count.locations.planned }} points."),
    "personal-in-text": replaced_in_text("555-0199-2200", "the gate"),
}
"""Defects whose message tells something else than others of their code, by name, or by name and code."""

DECIDED = {
    "sampler-types-mixed", "near-utility", "times-rounded", "hold-time-exceeded", "exposure-off-median",
    "exposure-out-of-plan", "glass-damaged", "soil-in-sampler", "sampler-disturbed", "sleeve-missing", "hole-open",
    "comment-watch-word", "depth-off-plan", "custody-gap", "hand-over-unsigned", "handed-to-another", "seal-differs",
    "seal-not-whole", "bag-overfull", "trip-blank-opened", "seal-late", "not-individually-bagged", "point-moved",
    "blank-affected-mostly", "local-low", "outward-form-missing", "detected-below-mdl", "batch-without-blank",
    "batch-without-control", "surrogate-out", "control-out", "calibration-check-out", "internal-standard-out",
    "duplicates-few", "above-screening-level", "rate-out-of-range",
}  # fmt: skip
"""Flags and holds about what happened: whatever their message asks to be said, a disposition closes them."""

NOT_YET = {
    "photo-position": "a note that asks for care, and for nothing in a file",
    "level-not-comparable": "a note that asks for nothing",
    "level-without-rate": "a note: adding a rate needs a source of its own",
}
"""Codes with a defect whose message nobody has followed here, and why."""

WITHOUT_DEFECT = frozenset(
    (
        "above-calibration", "background-edges", "background-missing", "cap-damaged", "cell-format-speaks",
        "cell-without-value", "cells-hidden", "change-without-reason", "completeness-low",
        "compound-contradicts", "compound-unmapped", "control-total-differs", "crs-not-metric", "custody-none",
        "deliverable-changed", "deliverable-missing", "deliverable-unsealed", "duplicate-differs",
        "field-blank-detection", "file-too-large", "file-unreadable", "flag-undecided", "foot-disagrees",
        "foot-undeclared", "holder-changed", "hole-refused", "hole-temporary", "id-reads-as-date",
        "id-reads-as-number", "id-typed-as-date", "id-typed-as-number", "id-zeros-lost", "lab-sample-unlisted",
        "level-claimed", "limits-differ", "link-out-of-folder", "mapped-column-missing", "mapping-invalid",
        "mapping-unreadable", "mapping-unused", "method-blank-detection", "no-reportable-run",
        "previous-unreadable", "private-unreadable", "qualifier-unmapped", "report-date-unchanged",
        "result-blank", "result-contradicts", "retrieval-missing", "row-kind-unmapped", "rows-passed-over",
        "sampler-differs", "sampler-lost", "samplers-in-place", "sheet-unclear", "signature-missing",
        "table-too-large", "text-too-long", "theme-logo", "theme-page", "theme-style", "trip-blank-detection",
        "unit-undeclared", "water-in-sampler", "workbook-unreadable",
    )
)  # fmt: skip
"""Codes that no defect of these files gives, so that their messages wait to be tried."""


def decided(_: Folder, finding: Finding) -> Iterator[Change]:
    """Add the row that the terminal offers: the finding's key, with a decision."""
    words = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1", "on": "2025-12-11"}
    yield row_added(named.DECISIONS, finding_key=finding.key, **words)


TRIED: list[tuple[Defect, str]] = [
    (defect, code)
    for defect in (*DEFECTS, *MORE)
    for code in dict.fromkeys(expected[0] for expected in defect.expected)
    if code not in NOT_YET and not (code in DECIDED and code != defect.expected[0][0])
    if defect.name != "comment-ground"
]


def remedy_of(defect: Defect, code: str) -> Remedy:
    own = CASES.get(f"{defect.name}/{code}") or CASES.get(defect.name)
    return own or (decided if code in DECIDED else REMEDIES[code])


def stops(findings: Iterable[Finding]) -> set[str]:
    return {finding.key for finding in findings if finding.severity is Severity.STOP}


@pytest.mark.parametrize(("defect", "code"), mostly_long(TRIED, 12), ids=lambda it: getattr(it, "name", it))
def test_what_a_message_tells_to_do_takes_its_finding_away(defect: Defect, code: str) -> None:
    """Done to the letter, it leaves no finding of that key open, and brings no stop that was not there."""
    folder = changed(*defect.changes)
    before = new_findings(folder)
    finding = next(found for found in before if found.code == code)
    after_folder = changed(*remedy_of(defect, code)(folder, finding), folder=folder)
    after = survey_findings(after_folder)
    if code in DECIDED:
        after_open = open_findings(after, dispositions(load(after_folder), after))
        assert finding.key in {found.key for found in after}, "what happened stays on record"
        assert finding.key not in {found.key for found in after_open}
    else:
        assert finding.key not in {found.key for found in after}, finding.line()
    assert stops(after) <= stops(before) - {finding.key}
    assert says_where(finding), finding.line()


def test_every_code_is_tried_or_says_why_not() -> None:
    """A new check must be put into one of the lists, and none stands in two."""
    tried = {code for _, code in TRIED}
    lists = (tried, NOT_YET.keys(), WITHOUT_DEFECT)
    assert sorted(set().union(*lists)) == sorted(catalogue())
    assert sum(map(len, lists)) == len(catalogue())
    assert not REMEDIES.keys() & DECIDED
    assert (REMEDIES.keys() | DECIDED) <= tried
    assert len(tried) > 200


WRITES = re.compile(r"\b(?:fill in|write|set|clear|blank|name|add (?:a|its) rows?)\b")
"""Words by which a message tells to write something."""

PLACES = (
    *(column for spec in TABLES for column in spec.column_names),
    *(Path(spec.path).name for spec in TABLES),
    *("features.geojson", "project.toml", "records/", "photos/", "text/", "[files", "crs", "lab."),
)
"""What a message may name to say where: columns, files and folders of the format, parts of the settings."""


def says_where(finding: Finding) -> bool:
    """Tell whether a message that tells to write something stands in a cell or names a place of the format."""
    if not WRITES.search(finding.do):
        return True
    words = re.findall(r"[\w./\[\]-]+", finding.do)
    named_in_it = any(word.strip(".,;:") in PLACES or word.startswith(PLACES[-7:]) for word in words)
    return finding.where.column is not None or named_in_it or finding.where.row is not None


def test_a_message_without_a_place_would_be_seen() -> None:
    """What is told to be filled in, of a whole file, names what."""
    told_badly = Finding("some-code", Severity.HOLD, "s", Where("lab/results.csv"), "this", "that", "fill in both")
    assert not says_where(told_badly)
    assert says_where(replace(told_badly, do="fill in effect and agreed_by_role"))
    assert says_where(replace(told_badly, where=Where("lab/results.csv", 2, "value")))


@pytest.mark.parametrize("check", catalogue().values(), ids=lambda check: check.code)
def test_a_message_is_one_line(check: Check) -> None:
    """It has no two blanks in a row, no line end, and no word of a slot that was not filled."""
    assert check.do == " ".join(check.do.split())
    assert "{" not in check.do
